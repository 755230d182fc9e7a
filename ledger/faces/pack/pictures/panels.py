"""Small multiples: two panels a row, each with its own scales and its figures beside the marks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from ledger.faces.pack.pictures.canvas import (
    INK,
    RULE,
    SMALL,
    SOFT,
    WIDTH,
    Sheet,
    fitted,
    round_steps,
    spread_out,
    step_text,
    ticked,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_ACROSS: Final = 2
_GAP, _HEAD, _FOOT, _TICKS, _LINE = 0.25, 0.3, 0.42, 0.5, 0.165


@dataclass(frozen=True)
class Panel:
    """One panel's place, in inches: ``names`` is the space at its right for labels, ``head`` above."""

    left: float
    top: float
    names: float
    plot: float
    head: float

    @property
    def width(self) -> float:
        """Of the space for marks."""
        return (WIDTH - _GAP) / _ACROSS - _TICKS - self.names

    def axes(self, sheet: Sheet, title: str, x: tuple[float, float], y: tuple[float, float]) -> Axes:
        """Return axes under a title, both scales with round numbers."""
        sheet.text(self.left, self.top + 0.1, fitted(title, (WIDTH - _GAP) / _ACROSS - 0.1), bold=True)
        axes = sheet.axes(self.left + _TICKS, self.top + self.head, self.width, self.plot)
        axes.set_xlim(*x)
        axes.set_ylim(*y)
        steps = round_steps(*x, about=3)
        ticked(axes, steps, [step_text(step) for step in steps])
        for step in round_steps(*y, about=4):
            sheet.text(self.left + _TICKS - 0.07, self.down(step, y), step_text(step), align="right", size=SMALL,
                       tone=SOFT)  # fmt: skip
        axes.plot(x, [y[0], y[0]], color=RULE, linewidth=0.8, clip_on=False)
        return axes

    def down(self, value: float, y: tuple[float, float]) -> float:
        """Return how far below the sheet's upper edge a figure stands."""
        return self.top + self.head + self.plot * (y[1] - value) / (y[1] - y[0])

    def label(self, sheet: Sheet, marks: Sequence[tuple[float, float, str]], x: tuple[float, float],
              y: tuple[float, float]) -> None:  # fmt: skip
        """Write names at the right of the panel, apart from one another, each with a thin line to its mark."""
        from matplotlib.lines import Line2D

        right = self.left + _TICKS + self.width
        wanted = [self.down(value, y) for _, value, _ in marks]
        places = spread_out(wanted, _LINE, self.top + self.head, self.top + self.head + self.plot)
        for place, at, (across, _, text) in zip(places, wanted, marks, strict=True):
            sheet.text(right + 0.16, place, fitted(text, self.names - 0.16, SMALL), size=SMALL)
            mark = self.left + _TICKS + self.width * (across - x[0]) / (x[1] - x[0])
            ends = [(mark, at), (right + 0.04, place), (right + 0.13, place)]
            line = Line2D([p / WIDTH for p, _ in ends], [1 - p / sheet.height for _, p in ends], color=RULE,
                          linewidth=0.6, zorder=0)  # fmt: skip
            sheet.figure.add_artist(line)


def panels(count: int, top: float, names: float, plot: float, head: float = _HEAD) -> tuple[list[Panel], float]:
    """Return the panels, and the height of the sheet below which they end."""
    step = head + plot + _FOOT
    across = (WIDTH + _GAP) / _ACROSS
    found = [Panel(i % _ACROSS * across, top + i // _ACROSS * step, names, plot, head) for i in range(count)]
    return found, top + -(-count // _ACROSS) * step


def zero_line(axes: Axes) -> None:
    """Draw the line of nothing."""
    axes.axhline(0, color=INK, linewidth=0.7)


def ends_of(values: Sequence[float], room: float = 0.08) -> tuple[float, float]:
    """Return the ends of a scale that takes in all values, with some room."""
    low, high = min(values), max(values)
    more = (high - low) * room or abs(high) * room or 1.0
    return low - more, high + more


