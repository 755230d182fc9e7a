"""The map of areas and periods: what was unexplained in each, every cell with its figure."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final, NamedTuple

from ledger.faces.pack.pictures.canvas import (
    DARK,
    FILL,
    INK,
    SMALL,
    SOFT,
    WIDTH,
    Caption,
    Missing,
    Sheet,
    drawn,
    fitted,
    width_of,
)
from ledger.faces.pack.pictures.measure import Measure, lie
from ledger.faces.pack.schedule import Column, Picture, Row, Schedule
from ledger.faces.printing import counted

if TYPE_CHECKING:
    from matplotlib.axes import Axes

KEY: Final = "picture-areas-by-period"
_NAMES, _STEP, _TOP, _HEAD = 1.0, 0.3, 0.3, 0.25
_SMALLEST: Final = 6.5
_WIDEST: Final = 0.8


class Balance(NamedTuple):
    """What one period left unexplained: plain decimal grams; ``z`` None where nothing is judged."""

    unexplained: str
    z: float | None
    counted: bool


class Balances(NamedTuple):
    """An area's balances in the order of the periods."""

    area: str
    balances: Sequence[Balance]


def area_months(measure: Measure, periods: Sequence[str], areas: Sequence[Balances]) -> Picture | Missing:
    """Return the map, oldest period first; of many or large figures the latest periods that fit."""
    if not areas or not periods:
        return Missing(KEY, "The book has no areas with a period yet.")
    columns = [Column("area", "area"), *(Column(f"unexplained_{period}", period, "mass") for period in periods)]
    rows: list[Row] = [{"area": a.area, **_by_period(periods, a)} for a in areas]
    says = _says(measure, periods, areas)
    figures = Schedule(KEY, "Unexplained by area and period", says, columns, rows)
    alternative = f"A table of {len(areas)} areas by {len(periods)} periods, each cell a mass. {says}"
    shown = _room_for(measure, areas, len(periods))
    height = _TOP + _HEAD + len(areas) * _STEP + 0.1
    return drawn(
        Caption(KEY, figures.title, says, alternative), figures, height,
        lambda sheet: _draw(sheet, measure, periods[-shown:], [_last(a, shown) for a in areas]),
    )  # fmt: skip


def _by_period(periods: Sequence[str], of: Balances) -> Row:
    return {f"unexplained_{period}": b.unexplained for period, b in zip(periods, of.balances, strict=True)}


def _last(of: Balances, shown: int) -> Balances:
    return of._replace(balances=of.balances[-shown:])


def _says(measure: Measure, periods: Sequence[str], areas: Sequence[Balances]) -> str:
    cells = [(abs(b.z), a.area, period, b) for a in areas for period, b in zip(periods, a.balances, strict=True)
             if b.z is not None]  # fmt: skip
    beyond = sum(1 for size, *_ in cells if size > measure.act)
    if not cells:
        return f"Of {len(areas) * len(periods)} balances none is judged."
    _, area, period, most = max(cells, key=lambda cell: cell[0])
    of = f"{len(cells)} judged balances of {counted(len(periods), 'period')}"
    return (
        f"{beyond} of {of} {lie(beyond)} beyond {measure.act_words}; the furthest in σ is {area} in {period}, "
        f"with {measure.with_unit(most.unexplained)}."
    )


def _written(measure: Measure, balance: Balance) -> str:
    text = measure.text(balance.unexplained)
    return text if balance.counted else f"({text})"


def _room_for(measure: Measure, areas: Sequence[Balances], periods: int) -> int:
    """Return how many periods fit with letters that can be read."""
    for shown in range(periods, 1, -1):
        longest = max(width_of(_written(measure, b), _SMALLEST) for a in areas for b in a.balances[-shown:])
        if longest <= (WIDTH - _NAMES) / shown - 0.02:
            return shown
    return 1


def _draw(sheet: Sheet, measure: Measure, periods: Sequence[str], areas: Sequence[Balances]) -> None:
    step = min((WIDTH - _NAMES) / len(periods), _WIDEST)
    texts = [[_written(measure, b) for b in a.balances] for a in areas]
    longest = max(width_of(text, 1.0) for row in texts for text in row)
    size = min(SMALL, (step - 0.02) / longest)
    top = _TOP + _HEAD
    axes = sheet.axes(_NAMES, top, step * len(periods), len(areas) * _STEP)
    axes.set_xlim(0, len(periods))
    axes.set_ylim(len(areas), 0)
    grounds = f"Grey: beyond ±{measure.warn:g} σ; dark: beyond {measure.act_words}; in brackets: not counted."
    sheet.text(0, 0.12, f"{measure.unit}, + missing. {grounds}", size=SMALL, tone=SOFT)
    for i, period in enumerate(periods):
        name = fitted(period, step - 0.04, SMALL)
        sheet.text(_NAMES + (i + 0.5) * step, top - 0.12, name, align="center", size=min(SMALL, size + 1), tone=SOFT)
    for row, (area, own) in enumerate(zip(areas, texts, strict=True)):
        sheet.text(_NAMES - 0.1, top + (row + 0.5) * _STEP, fitted(area.area, _NAMES - 0.1), align="right")
        for i, (balance, text) in enumerate(zip(area.balances, own, strict=True)):
            tone = _cell(axes, measure, row, i, balance)
            sheet.text(_NAMES + (i + 1) * step - 0.03, top + (row + 0.5) * _STEP, text, align="right", size=size,
                       tone=tone)  # fmt: skip


def _cell(axes: Axes, measure: Measure, row: int, column: int, balance: Balance) -> str:
    """Draw a cell's ground, and return the tone of its figure."""
    from matplotlib.patches import Rectangle

    far = abs(balance.z or 0.0)
    ground = DARK if far > measure.act else FILL if far > measure.warn else "white"
    axes.add_patch(Rectangle((column + 0.02, row + 0.05), 0.96, 0.9, facecolor=ground, edgecolor="none"))
    axes.plot([column + 0.02, column + 0.98], [row + 1, row + 1], color=FILL, linewidth=0.5)
    return "white" if ground == DARK else INK
