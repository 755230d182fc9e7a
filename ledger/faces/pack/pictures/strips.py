"""Strips: one row an area or instrument, all on one scale of time and one in σ, with what is far out cut and marked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

from ledger.faces.pack.pictures.canvas import ALARM, DARK, FILL, INK, RULE, SMALL, SOFT, Sheet, fitted, width_of
from ledger.faces.pack.pictures.rows import Rows

if TYPE_CHECKING:
    from matplotlib.axes import Axes

#: How much of a strip's height its scale takes, from the middle either way.
_HALF: Final = 0.44


@dataclass(frozen=True)
class Points:
    """One course in a strip: places along it and figures in σ; drawn from the middle (stems), or joined (line)."""

    x: Sequence[float]
    y: Sequence[float]
    drawn: Literal["stems", "line", "dots"] = "stems"


@dataclass(frozen=True)
class Scale:
    """``reach``: how many σ a strip shows either way; ``levels``: where dashed lines run; beyond the last is marked."""

    reach: float
    levels: Sequence[float]


def strips(sheet: Sheet, rows: Rows, courses: Sequence[Sequence[Points]], scale: Scale, ends: tuple[float, float]
           ) -> Axes:  # fmt: skip
    """Draw a strip for each row, and return the axes; x runs between the ends."""
    axes = rows.axes(sheet, *ends)
    factor = _HALF / scale.reach
    for row, points in enumerate(courses):
        axes.plot(ends, [row, row], color=INK, linewidth=0.6)
        for level in scale.levels:
            for sign in (-1, 1):
                at = row - sign * level * factor
                axes.plot(ends, [at, at], color=RULE, linewidth=0.7, linestyle=(0, (3, 2)))
        for course in points:
            _course(axes, row, course, scale, factor)
    return axes


def _course(axes: Axes, row: int, course: Points, scale: Scale, factor: float) -> None:
    far = max(scale.levels)
    cut = [min(max(y, -scale.reach), scale.reach) for y in course.y]
    at = [row - y * factor for y in cut]
    if course.drawn == "line":
        if any(course.y):
            axes.fill_between(course.x, row, at, color=FILL, linewidth=0)
            axes.plot(course.x, at, color=INK, linewidth=1.2)
    elif course.drawn == "stems":
        axes.vlines(course.x, row, at, color=DARK, linewidth=1.6)
    for beyond in (False, True) if course.drawn != "line" else (True,):
        own = [i for i, y in enumerate(course.y) if (abs(y) > far) is beyond]
        for marker, part in _marks(own, course.y, scale.reach, beyond).items():
            axes.plot([course.x[i] for i in part], [at[i] for i in part], linestyle="none", marker=marker,
                      color=ALARM if beyond else "white", markeredgecolor=INK, markeredgewidth=0.7,
                      markersize=_size(course, beyond), clip_on=False)  # fmt: skip


def _size(course: Points, beyond: bool) -> float:
    """Return how large a mark is: small where there are many."""
    return (5.5 if beyond else 3.2) * (0.75 if course.drawn == "dots" else 1.0)


def _marks(own: Sequence[int], y: Sequence[float], reach: float, beyond: bool) -> dict[str, list[int]]:
    """Return which points get which mark: an arrowhead where the strip ends before them."""
    marks: dict[str, list[int]] = {}
    for i in own:
        marker = "^" if y[i] > reach else "v" if y[i] < -reach else "D" if beyond else "o"
        marks.setdefault(marker, []).append(i)
    return marks


def named(sheet: Sheet, rows: Rows, names: Sequence[str]) -> None:
    """Write the rows' names."""
    for row, name in enumerate(names):
        rows.name(sheet, row, name)


def periods_below(sheet: Sheet, rows: Rows, periods: Sequence[str], ends: tuple[float, float]) -> None:
    """Write the periods below strips whose x are their numbers, as many as there is room for from the last one back."""
    step = rows.width / (ends[1] - ends[0])
    longest = min(max(width_of(period, SMALL) for period in periods), 1.2)
    every = max(1, -int(-(longest + 0.1) // step))
    for i, period in enumerate(periods):
        if (len(periods) - 1 - i) % every == 0:
            at = rows.left + (i - ends[0]) * step
            sheet.text(at, rows.bottom + 0.13, fitted(period, 1.2, SMALL), align="center", size=SMALL, tone=SOFT)
