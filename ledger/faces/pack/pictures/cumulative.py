"""The cumulative difference over twelve periods in its widening envelope, with clean-outs marked."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final, NamedTuple

from ledger.faces.pack.pictures.canvas import (
    ALARM,
    INK,
    PALE,
    RULE,
    SMALL,
    SOFT,
    WIDTH,
    Caption,
    Sheet,
    drawn,
    fitted,
    round_steps,
    spread_out,
    step_text,
    width_of,
)
from ledger.faces.pack.pictures.measure import Measure, grams_of, times, turned
from ledger.faces.pack.pictures.svg import key_of
from ledger.faces.pack.schedule import Column, Picture, Row, Schedule

_HEIGHT: Final = 2.9
_TOP, _PLOT = 0.3, 2.0
_LINE: Final = 0.17


class Stand(NamedTuple):
    """The cumulative up to a period: plain decimal grams, its σ in grams, and which areas were cleaned out in it."""

    period: str
    cumulative: str
    sigma: float
    cleaned_out: Sequence[str]


def cumulative(measure: Measure, area: str, title: str, stands: Sequence[Stand]) -> Picture:
    """Return the picture of an area's, or the plant's, ΣU + ΣP at the end of each period, oldest first."""
    columns = (
        Column("period", "period"), Column("cumulative", "cumulative", "mass"), Column("sigma", "σ", "mass"),
        Column("band", f"{measure.act:g} σ", "mass"), Column("cleaned_out", "cleaned out"),
    )  # fmt: skip
    rows: list[Row] = [
        {"period": s.period, "cumulative": s.cumulative, "sigma": grams_of(s.sigma),
         "band": times(measure.act, grams_of(s.sigma)), "cleaned_out": ", ".join(s.cleaned_out) or None}
        for s in stands
    ]  # fmt: skip
    says = _says(measure, title, rows)
    note = (
        "Unexplained and prior period together, each line over the twelve periods up to its own, whatever was written "
        "off; never set back to nothing."
    )
    key = key_of("picture-cumulative", area)
    figures = Schedule(key, f"Cumulative difference: {title}", says, columns, rows, [note])
    alternative = f"A line through the ends of {len(rows)} periods, between two lines at {measure.act_words}. {says}"
    caption = Caption(figures.key, figures.title, says, alternative)
    return drawn(caption, figures, _HEIGHT, lambda sheet: _draw(sheet, measure, rows))


def _says(measure: Measure, title: str, rows: Sequence[Row]) -> str:
    last = rows[-1]
    at, band = str(last["cumulative"]), str(last["band"])
    where = "outside" if abs(measure.size(at)) > measure.size(band) else "inside"
    return (
        f"Up to {last['period']} the cumulative difference of {title} is {measure.with_unit(at)} of {measure.what}, "
        f"{where} its {measure.act_words} of {measure.with_unit(band)}."
    )


def _draw(sheet: Sheet, measure: Measure, rows: Sequence[Row]) -> None:
    sizes = [[measure.size(str(row[key])) for row in rows] for key in ("cumulative", "band")]
    values, bands = sizes
    every = [0.0, *values, *bands, *(-b for b in bands)]
    room = (max(every) - min(every)) * 0.06 or 1.0
    low, high = min(every) - room, max(every) + room
    ends = [(values[-1], measure.text(str(rows[-1]["cumulative"])), True),
            (bands[-1], f"+{measure.act:g} σ: {measure.text(str(rows[-1]['band']))}", False),
            (-bands[-1], f"-{measure.act:g} σ: {measure.text(turned(str(rows[-1]['band'])))}", False)]  # fmt: skip
    steps = [(step, step_text(step)) for step in round_steps(low, high)]
    left = max(width_of(text, SMALL) for _, text in steps) + 0.12
    right = max(width_of(text) for _, text, _ in ends) + 0.25
    axes = sheet.axes(left, _TOP, WIDTH - left - right, _PLOT)
    axes.set_xlim(-0.4, len(rows) - 1 + 0.25)
    axes.set_ylim(low, high)
    sheet.text(left, 0.12, f"{measure.unit}, + missing", size=SMALL, tone=SOFT)
    _envelope(axes, values, bands)
    _beside(sheet, left, steps, low, high)
    _at_the_end(sheet, ends, right, low, high)
    _below(sheet, rows, left, (WIDTH - left - right) / (len(rows) - 1 + 0.65))


def _envelope(axes: Any, values: Sequence[float], bands: Sequence[float]) -> None:
    x: list[float] = list(range(len(values)))
    along, wide = (x, list(bands)) if len(x) > 1 else ([-0.25, 0.2], [*bands, *bands])
    axes.fill_between(along, [-b for b in wide], wide, color=PALE, linewidth=0)
    for sign in (1, -1):
        axes.plot(along, [sign * b for b in wide], color=INK, linewidth=0.9, linestyle=(0, (4, 2)))
    axes.axhline(0, color=RULE, linewidth=0.8)
    axes.plot(x, values, color=INK, linewidth=1.4)
    outside = [abs(v) > b for v, b in zip(values, bands, strict=True)]
    for i, value in enumerate(values):
        axes.plot([i], [value], marker="D" if outside[i] else "o", markersize=5, markeredgecolor=INK,
                  color=ALARM if outside[i] else "white")  # fmt: skip


def _beside(sheet: Sheet, left: float, steps: Sequence[tuple[float, str]], low: float, high: float) -> None:
    for step, text in steps:
        sheet.text(left - 0.08, _down(step, low, high), text, align="right", size=SMALL, tone=SOFT)


def _at_the_end(
    sheet: Sheet, ends: Sequence[tuple[float, str, bool]], right: float, low: float, high: float
) -> None:
    """Write the last figures beside their lines, apart from one another."""
    wanted = [_down(value, low, high) for value, _, _ in ends]
    for top, (_, text, bold) in zip(spread_out(wanted, _LINE, _TOP, _TOP + _PLOT), ends, strict=True):
        sheet.text(WIDTH - right + 0.12, top, text, bold=bold)


def _below(sheet: Sheet, rows: Sequence[Row], left: float, step: float) -> None:
    """Write the periods, as many as there is room for from the last one back, and mark the clean-outs."""
    longest = min(max(width_of(str(row["period"]), SMALL) for row in rows), 1.2)
    every = max(1, -int(-(longest + 0.1) // step))
    for i, row in enumerate(rows):
        at = left + (i + 0.4) * step
        if (len(rows) - 1 - i) % every == 0:
            name = fitted(str(row["period"]), 1.2, SMALL)
            sheet.text(at, _TOP + _PLOT + 0.12, name, align="center", size=SMALL, tone=SOFT)
        if row["cleaned_out"] is not None:
            sheet.text(at, _TOP + _PLOT + 0.31, "▲", align="center", size=SMALL)
    sheet.text(left, _TOP + _PLOT + 0.5, "▲ cleaned out in the period", size=SMALL, tone=SOFT)


def _down(value: float, low: float, high: float) -> float:
    return _TOP + _PLOT * (high - value) / (high - low)
