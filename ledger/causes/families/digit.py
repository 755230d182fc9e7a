"""One digit of a recorded mass is wrong."""

from __future__ import annotations

from collections.abc import Iterator

from ledger.causes.keyed import keyed_as, texts_with_one_digit
from ledger.causes.proposals import Proposal, View


def propose(view: View) -> Iterator[Proposal]:
    """Yield each reading with each of its digits replaced."""
    for read in view.reads:
        others = list(texts_with_one_digit(read.text))
        for other in others:
            yield from keyed_as(view, "digit", read, other, view.rates["digit"] / len(others), "one digit is wrong")
