"""Figures as people read them: a schedule's cell in the pack's unit, and the sum of a column, worked out exactly."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import fsum
from typing import Final

from ledger.faces.pack.schedule import Cell, Column, Schedule
from ledger.faces.printing import mass, ng_of
from ledger.faces.statement import money_text, ng_from_float
from ledger.quantities.mass import decimal_text

#: A figure that is not there because nothing is judged, or σ is 0.
NOTHING: Final = "–"

#: Below this a number is printed by its significant digits: a probability is not nothing.
_SMALL: Final = 0.005

_WORDS: Final = frozenset(("text", "when"))


def is_figure(column: Column) -> bool:
    """Return whether a column holds figures, which stand to the right."""
    return column.kind not in _WORDS


@dataclass(frozen=True)
class Printed:
    """Prints the figures of one pack: masses in ``unit``, money in ``currency``."""

    unit: str
    currency: str

    def mass(self, grams: Cell) -> str:
        """Return a mass in grams, exact text or a statistic, in the unit, without its name."""
        return mass(ng_from_float(grams) if isinstance(grams, (int, float)) else ng_of(grams or "0"), self.unit)

    def with_unit(self, grams: Cell) -> str:
        """Return a mass with its unit's name."""
        return f"{self.mass(grams)} {self.unit}"

    def money(self, amount: str | Fraction | None) -> str:
        """Return an amount with its currency; empty where there is no price."""
        if amount is None:
            return ""
        text = decimal_text(amount, 2) if isinstance(amount, Fraction) else amount
        return f"{money_text(text)} {self.currency}"

    def head(self, column: Column) -> str:
        """Return what stands over a column, with its unit."""
        unit = {"mass": self.unit, "money": self.currency}.get(column.kind)
        return f"{column.head},\u00a0{unit}" if unit else column.head

    def cell(self, column: Column, cell: Cell) -> str:
        """Return a cell as it is printed."""
        if cell is None:
            return ""
        if column.kind == "mass":
            return self.mass(cell)
        if column.kind == "money":
            return money_text(str(cell))
        if column.kind == "when":
            return str(cell).replace("T", " ")
        return _number(column, cell) if isinstance(cell, (int, float)) else str(cell)

    def sum(self, schedule: Schedule, column: Column) -> Cell:
        """Return the sum of a column over its rows, as a cell of it: exact for masses, money and counts."""
        cells = [row.get(column.key) for row in schedule.rows]
        texts = [cell for cell in cells if isinstance(cell, str)]
        if texts:
            return f"{sum(map(Decimal, texts)):f}"
        numbers = [cell for cell in cells if isinstance(cell, (int, float))]
        return sum(numbers) if column.kind == "count" else fsum(numbers)


def _number(column: Column, cell: float) -> str:
    if column.kind == "count":
        return f"{cell:,}"
    if column.kind == "share":
        return per_cent(cell)
    return f"{cell:.2g}" if 0 < abs(cell) < _SMALL else f"{round(cell, 2) + 0.0:,.2f}"


def per_cent(share: float) -> str:
    """Return a share with two digits after the point, so that a small one is not nothing."""
    return f"{round(100 * share, 2) + 0.0:,.2f} %"


def odds(share: float) -> str:
    """Return a probability in whole per cent, and never as certain or impossible."""
    if share >= 0.995:
        return "> 99 %"
    return "< 1 %" if share < 0.01 else f"{share:.0%}".replace("%", " %")
