"""Rows of a chart: a name at the left, marks in the middle on one scale, figures at the right."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from ledger.faces.pack.pictures.canvas import INK, SMALL, SOFT, TEXT, WIDTH, Sheet, fitted, width_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_GAP: Final = 0.12


@dataclass(frozen=True)
class Rows:
    """Where rows stand on a sheet, in inches: ``top`` of the first, their ``step``, widths of names and of figures."""

    top: float
    count: int
    step: float
    names: float
    figures: Sequence[float]

    @property
    def height(self) -> float:
        """Of all rows."""
        return self.count * self.step

    @property
    def bottom(self) -> float:
        """Below the last row."""
        return self.top + self.height

    @property
    def left(self) -> float:
        """Where the marks begin."""
        return self.names + _GAP * bool(self.names)

    @property
    def width(self) -> float:
        """Of the space for marks."""
        return WIDTH - self.left - sum(self.figures) - _GAP * bool(self.figures)

    def middle(self, row: int) -> float:
        """Return the middle of a row, from the top."""
        return self.top + (row + 0.5) * self.step

    def axes(self, sheet: Sheet, low: float, high: float) -> Axes:
        """Return axes whose y is the row, 0 at the top, and x from low to high."""
        axes = sheet.axes(self.left, self.top, self.width, self.height)
        axes.set_ylim(self.count - 0.5, -0.5)
        axes.set_xlim(low, high)
        return axes

    def name(self, sheet: Sheet, row: int, text: str, *, bold: bool = False) -> None:
        """Write a row's name."""
        sheet.text(self.names, self.middle(row), fitted(text, self.names), align="right", bold=bold)

    def figure(self, sheet: Sheet, row: int, column: int, text: str, *, bold: bool = False, tone: str = INK) -> None:
        """Write a figure of a row, set to the right of its column."""
        sheet.text(self._right(column), self.middle(row), text, align="right", bold=bold, tone=tone)

    def head(self, sheet: Sheet, column: int, text: str) -> None:
        """Write what a column of figures is, above it."""
        sheet.text(self._right(column), self.top - 0.12, text, align="right", size=SMALL, tone=SOFT)

    def _right(self, column: int) -> float:
        return WIDTH - sum(self.figures[column + 1 :])


def widest(texts: Sequence[str], least: float = 0.0, size: float = TEXT) -> float:
    """Return the width that a column of figures takes, with a gap before it."""
    return max([least, *(width_of(text, size) + _GAP for text in texts)])
