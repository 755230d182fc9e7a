"""An inquiry: the book that is asked, the metal, and the span of time; what every answer of this room reads from.

Answers are documents: masses plain decimal grams as text, statistics numbers or null, times as tickets write them,
people by their codes. A difference is positive where metal is missing.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from ledger.book.holdings import PlantFacts, plant_facts
from ledger.book.setups import Setups
from ledger.plant.setup import Setup
from ledger.quantities.mass import decimal_text, grams_text

Document = dict[str, Any]

#: Places after the point of an amount of money.
CENTS = 2


@dataclass(frozen=True)
class Inquiry:
    """One open book, asked in one metal of it (or gross)."""

    connection: sqlite3.Connection
    facts: PlantFacts
    setups: Setups
    metal: str

    @staticmethod
    def of(connection: sqlite3.Connection, metal: str | None = None) -> Inquiry:
        """Return an inquiry in a metal, the plant's first where none is given."""
        facts = plant_facts(connection)
        return Inquiry(connection, facts, Setups.read(connection), metal or facts.metals[0])

    @property
    def metals(self) -> tuple[str, ...]:
        """The book's order: gross, then the booked metals."""
        return ("gross", *self.facts.metals)

    @property
    def index(self) -> int:
        """Where the metal stands in amounts."""
        return self.metals.index(self.metal)

    @property
    def setup(self) -> Setup:
        """The set-up that holds last."""
        return self.setups.latest

    def text(self, instant: int) -> str:
        """Return an instant as tickets write it."""
        return self.setups.calendar.text(instant)

    def last_instant(self) -> int:
        """Return the date of the latest-dated ticket; 0 for an empty book."""
        (latest,) = self.connection.execute("SELECT max(instant) FROM ticket").fetchone()
        return latest or 0

    def span(self, period: str | None) -> tuple[int, int]:
        """Return first and last instant of a period, or of all tickets; raises SetupRefused for a code of none."""
        if period is None:
            (first,) = self.connection.execute("SELECT min(instant) FROM ticket").fetchone()
            return first or 0, self.last_instant()
        start, end = self.setups.calendar.bounds(period)
        return start, end - 1

    def price(self, metal: str, instant: int) -> Fraction | None:
        """Return the money of a nanogram on a day, by the latest fixing; None for gross or without one."""
        fixing = self.setup.price(metal, self.setups.calendar.day(instant))
        return fixing.per_ng if fixing else None

    def value(self, amounts: Sequence[int], instant: int) -> Fraction | None:
        """Return the money of a content, all booked metals; None where a metal that is there has no price."""
        total = Fraction(0)
        for metal, ng in zip(self.facts.metals, amounts[1:], strict=True):
            if ng:
                per_ng = self.price(metal, instant)
                if per_ng is None:
                    return None
                total += ng * per_ng
        return total

    def grams(self, amounts: Sequence[int]) -> Document:
        """Return amounts by metal, gross first, in grams."""
        return {metal: grams_text(ng) for metal, ng in zip(self.metals, amounts, strict=True)}


def money_text(amount: Fraction | None) -> str | None:
    """Return money with two places after the point, rounded half-even once; None where there is no price."""
    return None if amount is None else decimal_text(amount, CENTS)


def summed(rows: Iterable[Sequence[int]], size: int) -> list[int]:
    """Return the sum of amounts, of none nothing."""
    total = [0] * size
    for row in rows:
        total = [a + b for a, b in zip(total, row, strict=True)]
    return total


def share(part: int, whole: int) -> float | None:
    """Return part over whole as a number; None of nothing."""
    return round(part / whole, 9) if whole else None
