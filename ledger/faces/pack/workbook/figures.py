"""Figures in cells: a schedule's text or float as a number in the unit of the pack, and the format that shows it.

A cell holds the double next to the exact figure, so in grams every nanogram up to a million grams; its format shows
the digits that the page prints.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from ledger.faces.pack.printed import Printed, is_figure
from ledger.faces.pack.schedule import Cell, Column, Schedule
from ledger.faces.printing import PLACES
from ledger.quantities.mass import NG_PER_UNIT

_PLACES: Final = {"number": 2, "money": 2, "share": 4, "count": 0}
#: Digits after the point that a figure is carried with, where it is no mass.
_CARRIED: Final = {"number": 6, "money": 2, "share": 9, "count": 0}
#: A statistic was itself worked out from figures that carry no more digits than this part of them.
_PART: Final = Fraction(1, 10**6)
#: Below this a number is shown by its significant digits, and from this on without an exponent.
_SMALL: Final = Fraction(1, 100)
_LEAST: Final = Fraction(1, 10_000)


@dataclass(frozen=True)
class Figures:
    """Reads and shows the figures of one pack: masses in ``unit``, money in ``currency``."""

    unit: str
    currency: str

    @property
    def printed(self) -> Printed:
        """The same figures as the page prints them."""
        return Printed(self.unit, self.currency)

    def head(self, column: Column) -> str:
        """Return what stands over a column, with its unit, as on the page; the blank is plain, to look it up by."""
        return self.printed.head(column).replace("\u00a0", " ")

    def of(self, column: Column, cell: Cell) -> Fraction | None:
        """Return the number that a cell holds, a mass in the unit; None for an empty cell, words, and no number."""
        if cell is None or not is_figure(column) or (isinstance(cell, float) and not math.isfinite(cell)):
            return None
        exact = Fraction(cell)
        return exact * NG_PER_UNIT["g"] / NG_PER_UNIT[self.unit] if column.kind == "mass" else exact

    def sum(self, schedule: Schedule, column: Column) -> Fraction:
        """Return the sum of a column's figures, the one that the page prints."""
        return self.of(column, self.printed.sum(schedule, column)) or Fraction()

    def words(self, column: Column, cell: Cell) -> str:
        """Return a cell as the page prints it; what is no number at all as the word for it."""
        odd = isinstance(cell, float) and not math.isfinite(cell)
        return str(cell) if odd else self.printed.cell(column, cell)

    def format(self, column: Column, figure: Fraction) -> str:
        """Return the number format for a figure: thousands apart, and never "-0.000"."""
        if column.kind == "count":
            return "#,##0"
        if column.kind == "number" and 0 < abs(figure) < _SMALL:
            return "0.0E+00" if abs(figure) < _LEAST else f"0.{'0' * (1 - math.floor(math.log10(abs(figure))))}"
        places = PLACES[self.unit] if column.kind == "mass" else _PLACES[column.kind]
        percent = " %" if column.kind == "share" else ""
        shown = places - len(percent)
        digits, nothing = f"#,##0.{'0' * shown}".rstrip("."), f"{0:.{shown}f}{percent}"
        least = f"{0.5 / 10**places:.{places + 1}f}"
        return f'[>={least}]{digits}{percent};[<=-{least}]-{digits}{percent};"{nothing}"'

    def same(self, column: Column, figure: Fraction, other: Fraction) -> bool:
        """Return whether two figures are one, as far as the digits go that they are carried with."""
        part = Fraction(1, 10**12) if column.kind == "mass" else _PART
        return abs(figure - other) <= Fraction(2, 10 ** self.carried(column)) + part * abs(figure)

    def carried(self, column: Column) -> int:
        """Return the digits after the point that a figure is carried with: those of a nanogram for a mass."""
        return len(str(NG_PER_UNIT[self.unit] - 1)) if column.kind == "mass" else _CARRIED[column.kind]
