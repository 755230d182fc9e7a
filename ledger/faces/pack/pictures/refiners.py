"""Own against refiner's assay: lot by lot, how much less the refiner agreed to than was recorded."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median
from typing import TYPE_CHECKING, Final, NamedTuple

from ledger.faces.pack.pictures.canvas import (
    DARK,
    INK,
    RULE,
    SMALL,
    SOFT,
    WIDTH,
    Caption,
    Missing,
    Sheet,
    drawn,
    round_steps,
    spread_out,
    step_text,
    width_of,
)
from ledger.faces.pack.pictures.measure import Measure, ng_of
from ledger.faces.pack.pictures.svg import key_of
from ledger.faces.pack.schedule import Column, Picture, Row, Schedule
from ledger.faces.printing import counted

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_COLUMNS: Final = (
    Column("at", "settled", "when"), Column("lot", "lot"), Column("ticket", "ticket"), Column("basis", "our figure"),
    Column("recorded", "recorded", "mass", True), Column("agreed", "agreed", "mass", True),
    Column("difference", "difference", "mass", True, "recorded - agreed"),
    Column("per_mille", "‰ of recorded", "number"),
)  # fmt: skip
_HEIGHT, _TOP, _PLOT = 2.6, 0.5, 1.75
#: How many times the middle size a lot is off by that is still drawn to scale.
_FAR: Final = 6.0


class Lot(NamedTuple):
    """A settled lot that the plant knew by assay or calculation: plain decimal grams recorded and agreed."""

    at: str
    lot: str
    ticket: str
    basis: str
    recorded: str
    agreed: str
    difference: str


class Settlements(NamedTuple):
    """A refiner's judged lots by date, and the chance of so uneven signs either way, None where there is no sign."""

    party: str
    lots: Sequence[Lot]
    below: int
    above: int
    p_either: float | None


def refiners(measure: Measure, of: Settlements) -> Picture | Missing:
    """Return the picture of one refiner's settlements."""
    key = key_of("picture-own-and-refiner", of.party)
    lots = [lot for lot in of.lots if ng_of(lot.recorded) > 0]
    if not lots:
        return Missing(key, f"No lot that {of.party} settled was known by our own assay or calculation.")
    rows: list[Row] = [{**lot._asdict(), "per_mille": _per_mille(lot)} for lot in lots]
    says = _says(measure, of, lots)
    note = (
        "A difference is + where the refiner found less. Lots on an estimate are left out: they have an error of their "
        "own."
    )
    figures = Schedule(key, f"Own against refiner's assay: {of.party}", says, _COLUMNS, rows, [note])
    alternative = f"A mark for each of {len(lots)} lots in order of date, above the line where less was agreed. {says}"
    return drawn(
        Caption(key, figures.title, says, alternative), figures, _HEIGHT, lambda sheet: _draw(sheet, lots)
    )


def _per_mille(lot: Lot) -> float:
    return round(1000 * ng_of(lot.difference) / ng_of(lot.recorded), 6)


def _mean(lots: Sequence[Lot]) -> float:
    """Return all differences over all that was recorded, in per mille: what the lots weigh, not how many they are."""
    return 1000 * sum(ng_of(lot.difference) for lot in lots) / sum(ng_of(lot.recorded) for lot in lots)


def _says(measure: Measure, of: Settlements, lots: Sequence[Lot]) -> str:
    together = f"{_mean(lots):.2f} ‰ of what was recorded together"
    below = counted(of.below, "lot")
    signs = f"{of.party} agreed to less than recorded on {below} and to more on {of.above}, {together}"
    return f"{signs}." if of.p_either is None else f"{signs}; so uneven by chance: p = {of.p_either:.2g}."


def _draw(sheet: Sheet, lots: Sequence[Lot]) -> None:
    values, mean = [_per_mille(lot) for lot in lots], _mean(lots)
    reach = _FAR * max(median(map(abs, values)), abs(mean)) or 1.0
    every = [0.0, mean, *(value for value in values if abs(value) <= reach)]
    room = (max(every) - min(every)) * 0.1 or 1.0
    low, high = min(every) - room, max(every) + room
    steps = [(step, step_text(step)) for step in round_steps(low, high)]
    left, right = max(width_of(text, SMALL) for _, text in steps) + 0.12, 1.25
    axes = sheet.axes(left, _TOP, WIDTH - left - right, _PLOT)
    axes.set_xlim(-0.7, len(lots) - 0.3)
    axes.set_ylim(low, high)
    _marks(axes, values, mean)
    for step, text in steps:
        sheet.text(left - 0.08, _down(step, low, high), text, align="right", size=SMALL, tone=SOFT)
    words = "‰ of what was recorded, + where the refiner found less; lots in order of date. Arrowheads lie further out."
    sheet.text(0, 0.12, words, size=SMALL, tone=SOFT)
    ends = [(0.0, "the same", False), (mean, f"mean {mean:.2f} ‰", True)]
    places = spread_out([_down(value, low, high) for value, *_ in ends], 0.17, _TOP, _TOP + _PLOT)
    for top, (_, text, bold) in zip(places, ends, strict=True):
        sheet.text(WIDTH - right + 0.08, top, text, bold=bold)
    for place, align in ((0, "left"), (-1, "right")):
        at = left if place == 0 else WIDTH - right
        sheet.text(at, _TOP + _PLOT + 0.14, lots[place].at[:10], align=align, size=SMALL, tone=SOFT)  # type: ignore[arg-type]


def _marks(axes: Axes, values: Sequence[float], mean: float) -> None:
    axes.axhline(0, color=INK, linewidth=0.8)
    axes.axhline(mean, color=DARK, linewidth=1.0, linestyle=(0, (4, 2)))
    low, high = axes.get_ylim()
    for i, value in enumerate(values):
        at = min(max(value, low), high)
        marker = "^" if value > high else "v" if value < low else "D" if value > 0 else "o"
        axes.plot([i, i], [0, at], color=RULE, linewidth=1.0)
        axes.plot([i], [at], marker=marker, color=DARK if value > 0 else "white", markeredgecolor=INK,
                  markeredgewidth=0.7, markersize=4.5, clip_on=False)  # fmt: skip


def _down(value: float, low: float, high: float) -> float:
    return _TOP + _PLOT * (high - value) / (high - low)
