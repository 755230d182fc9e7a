"""What a workbook says of itself: of whom, when, of what, in what unit, and of which state of the book."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

CONVENTION: Final = "A difference is + where metal is missing."


@dataclass(frozen=True)
class Heading:
    """Plant, period and metal; the unit and currency of the figures; whether the period is closed; the book's state.

    ``record`` and ``chain`` are the book's last record and the running hash up to it, in hexadecimal; ``seal`` is the
    last close's line, as it is printed.
    """

    plant: str
    period: str
    metal: str
    unit: str
    currency: str
    closed: bool
    record: int
    chain: str
    seal: str | None = None

    @property
    def title(self) -> str:
        """Return what it is, of when, and whether that can still change."""
        return f"Month-end pack, {self.period}, {'closed' if self.closed else 'not closed'}"

    @property
    def measured(self) -> str:
        """Return metal and unit: ``gold, in g``."""
        return f"{self.metal}, in {self.unit}"

    @property
    def book(self) -> str:
        """Return which state of the book it was made from."""
        return f"as of record {self.record:,}, chain {self.chain[:16]}"
