"""The funnel: loss beyond normal by shift and by machine, within each operation, against what was put in.

Codes of shifts and machines only. Operations are never mixed: a shift that buffs more than it rolls would look worse.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

from ledger.faces.pack.pictures.canvas import ALARM, INK, RULE, SMALL, SOFT, Caption, Missing, Sheet, drawn
from ledger.faces.pack.pictures.measure import Measure, lie, ng_of
from ledger.faces.pack.pictures.panels import Panel, ends_of, panels, zero_line
from ledger.faces.pack.schedule import Column, Picture, Row, Schedule

KEY: Final = "picture-funnel"
_DRAWN: Final = 8
_PLOT: Final = 1.35
_COLUMNS: Final = (
    Column("operation", "operation"), Column("factor", "by"), Column("level", "code"),
    Column("tickets", "tickets", "count"), Column("aside", "set aside", "count"), Column("put_in", "put in", "mass"),
    Column("excess", "beyond normal", "mass"),
    Column("rate", "‰ of put in", "number"), Column("mean", "operation, ‰", "number"),
    Column("sigma", "σ, ‰", "number"), Column("z", "z", "number"),
)  # fmt: skip

_NOTES: Final = (
    (
        "‰ of the content put in; z is the distance from the operation's own mean of the period, in σ of its tickets' "
        "weighings and spread. Tickets beyond the action level by themselves are set aside: one keyed wrong would take "
        "its shift and its machine with it. Of many comparisons some lie far out by chance."
    ),
    "Arithmetic on records, by code of shift and machine: no finding about any person.",
)


class Level(NamedTuple):
    """What was worked under one shift or on one machine in an operation: plain decimal grams put in and lost beyond
    normal loss, and the σ of the latter in grams; ``aside``: tickets that are not in it, since they stand out alone."""

    operation: str
    factor: str
    code: str
    tickets: int
    aside: int
    put_in: str
    excess: str
    sigma: float


def funnel(measure: Measure, period: str, levels: Sequence[Level]) -> Picture | Missing:
    """Return the funnels of the operations that were worked under more than one shift, or on more than one machine."""
    compared = _compared(levels)
    if not compared:
        return Missing(KEY, "No operation was worked in more than one shift or on more than one machine this period.")
    means = {operation: _mean(levels, operation) for operation in {level.operation for level in compared}}
    rows = [_row(level, means[level.operation]) for level in compared]
    says = _says(measure, period, rows)
    figures = Schedule(KEY, "Loss beyond normal, by shift and machine", says, _COLUMNS, rows, _NOTES)
    order = _by_put_in(compared)[:_DRAWN]
    alternative = f"{len(order)} panels, an operation each: a mark for each shift and machine. {says}"
    places, height = panels(len(order), 0.35, 0.95, _PLOT)
    return drawn(
        Caption(KEY, figures.title, says, alternative), figures, height,
        lambda sheet: _draw(sheet, measure, places, order, rows),
    )  # fmt: skip


def _compared(levels: Sequence[Level]) -> list[Level]:
    """Return the levels whose operation has others of their factor, and of which something was put in."""
    held = [level for level in levels if ng_of(level.put_in) > 0 and level.sigma > 0]
    count: dict[tuple[str, str], int] = {}
    for level in held:
        count[level[:2]] = count.get(level[:2], 0) + 1
    return [level for level in held if count[level[:2]] > 1]


def _mean(levels: Sequence[Level], operation: str) -> float:
    """Return an operation's loss beyond normal in ‰, from the factor under which most of it was worked."""
    sums: dict[str, list[int]] = {}
    for level in levels:
        if level.operation == operation:
            both = sums.setdefault(level.factor, [0, 0])
            both[0] += ng_of(level.put_in)
            both[1] += ng_of(level.excess)
    put_in, excess = max(sums.values())
    return 1000 * excess / put_in


def _row(level: Level, mean: float) -> Row:
    put_in = ng_of(level.put_in)
    rate, sigma = 1000 * ng_of(level.excess) / put_in, 1000 * level.sigma * 1e9 / put_in
    return {
        "operation": level.operation, "factor": level.factor, "level": level.code, "tickets": level.tickets,
        "aside": level.aside, "put_in": level.put_in, "excess": level.excess, "rate": round(rate, 6),
        "mean": round(mean, 6), "sigma": round(sigma, 6), "z": round((rate - mean) / sigma, 6),
    }  # fmt: skip


def _says(measure: Measure, period: str, rows: Sequence[Row]) -> str:
    beyond = sum(1 for row in rows if abs(_number(row, "z")) > measure.act)
    most = max(rows, key=lambda row: abs(_number(row, "z")))
    return (
        f"In {period} {beyond} of {len(rows)} shifts and machines {lie(beyond)} beyond {measure.act_words} of their "
        f"operation's mean; the furthest out is {most['factor']} {most['level']} in {most['operation']}, at "
        f"{_number(most, 'rate'):.3f} ‰ against {_number(most, 'mean'):.3f} ‰ (z = {_number(most, 'z'):.1f})."
    )


def _number(row: Row, key: str) -> float:
    return float(row[key] or 0.0)


def _by_put_in(levels: Sequence[Level]) -> list[str]:
    sums: dict[str, int] = {}
    for level in levels:
        sums[level.operation] = max(sums.get(level.operation, 0), ng_of(level.put_in))
    return sorted(sums, key=lambda operation: -sums[operation])


def _draw(
    sheet: Sheet, measure: Measure, places: Sequence[Panel], order: Sequence[str], rows: Sequence[Row]
) -> None:  # fmt: skip
    bars = f"Bar: {measure.act_words} of chance about the operation's mean (dotted)."
    words = f"Up: ‰ lost beyond normal. Across: put in, {measure.unit}. ○ shift, □ machine. {bars}"
    sheet.text(0, 0.12, words, size=SMALL, tone=SOFT)
    for place, operation in zip(places, order, strict=True):
        _panel(sheet, measure, place, operation, [row for row in rows if row["operation"] == operation])


def _panel(sheet: Sheet, measure: Measure, place: Panel, operation: str, rows: Sequence[Row]) -> None:
    sizes = [measure.size(str(row["put_in"])) for row in rows]
    rates, sigmas = ([_number(row, key) for row in rows] for key in ("rate", "sigma"))
    mean = _number(rows[0], "mean")
    reach = measure.act * max(sigmas)
    x, y = (0.0, max(sizes) * 1.08), ends_of([0.0, mean - reach, mean + reach, *rates])
    axes = place.axes(sheet, operation, x, y)
    zero_line(axes)
    axes.plot(x, [mean, mean], color=INK, linewidth=0.8, linestyle=":")
    halves = [measure.act * sigma for sigma in sigmas]
    axes.vlines(sizes, [mean - half for half in halves], [mean + half for half in halves], color=RULE, linewidth=3.0)
    for row, size, rate in zip(rows, sizes, rates, strict=True):
        beyond = abs(_number(row, "z")) > measure.act
        axes.plot([size], [rate], marker="o" if row["factor"] == "shift" else "s", markersize=5, markeredgecolor=INK,
                  markeredgewidth=0.8, color=ALARM if beyond else "white")  # fmt: skip
    place.label(sheet, [(s, r, str(row["level"])) for s, r, row in zip(sizes, rates, rows, strict=True)], x, y)
