"""The line that ends every page on which suspicion could fall on somebody."""

from __future__ import annotations

from typing import Final

from ledger.faces.printing import say_text

CAUTION: Final = (
    "Arithmetic on records, no finding about any person. Before anyone is asked, inform counsel and insurer: notice "
    "periods may be running."
)


def say_caution() -> None:
    """Print the caution."""
    say_text(CAUTION)
