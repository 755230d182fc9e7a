"""Accrued against settled: what each stream's estimates said, and what assay or settlement then brought."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

from ledger.faces.pack.pictures.canvas import (
    ALARM,
    DARK,
    INK,
    RULE,
    SMALL,
    SOFT,
    Caption,
    Missing,
    Sheet,
    drawn,
    round_steps,
    step_text,
    ticked,
)
from ledger.faces.pack.pictures.measure import Measure
from ledger.faces.pack.pictures.rows import Rows, widest
from ledger.faces.pack.schedule import Column, Picture, Row, Schedule
from ledger.faces.printing import counted

KEY: Final = "picture-accrued-and-settled"
_STEP: Final = 0.34
_FAR: Final = 2.0
_COLUMNS: Final = (
    Column("stream", "stream"), Column("pairs", "settled", "count"), Column("estimated", "estimated", "mass", True),
    Column("brought", "brought", "mass", True), Column("ratio", "mean ratio", "number"),
    Column("low", "95 % from", "number"), Column("high", "to", "number"), Column("bias", "bias"),
    Column("open", "still an estimate", "mass", True), Column("since", "oldest since", "when"),
)  # fmt: skip


class Stream(NamedTuple):
    """A stream: plain decimal grams estimated and brought, the ratio of each pair, their mean and its 95 % interval.

    ``open``: what of it is still an estimate; ``since``: the day of its oldest.
    """

    name: str
    estimated: str
    brought: str
    ratios: Sequence[float]
    mean: float
    low: float | None
    high: float | None
    bias: str
    open: str
    since: str | None


def streams(measure: Measure, found: Sequence[Stream]) -> Picture | Missing:
    """Return the picture of the streams of which something was settled or assayed."""
    if not found:
        return Missing(KEY, "No estimate has been settled or assayed yet, so that none can be tested.")
    rows: list[Row] = [
        {"stream": s.name, "pairs": len(s.ratios), "estimated": s.estimated, "brought": s.brought, "ratio": s.mean,
         "low": s.low, "high": s.high, "bias": s.bias, "open": s.open, "since": s.since}
        for s in found
    ]  # fmt: skip
    says = _says(measure, found)
    note = (
        "Ratio: brought over estimated, below 1 less came than was estimated; the interval is of the mean, by "
        "Student's t, lots taken as independent."
    )
    figures = Schedule(KEY, "Estimated against settled, by stream", says, _COLUMNS, rows, [note])
    alternative = f"A row for each of {len(found)} streams, its mean ratio and interval against a line at 1. {says}"
    masses = [widest([measure.text(getattr(s, key)) for s in found], 0.85) for key in ("estimated", "brought")]
    rows_at = Rows(0.5, len(found), _STEP, 1.75, [*masses, 0.65])
    return drawn(
        Caption(KEY, figures.title, says, alternative), figures, rows_at.bottom + 0.3,
        lambda sheet: _draw(sheet, measure, rows_at, found),
    )  # fmt: skip


def _says(measure: Measure, found: Sequence[Stream]) -> str:
    biased = [s for s in found if s.bias in ("below", "above")]
    if not biased:
        return f"None of {counted(len(found), 'stream')} shows a bias: no interval of a mean ratio leaves out 1."
    most = max(biased, key=lambda s: abs(s.mean - 1))
    return (
        f"{len(biased)} of {len(found)} streams settle to one side, most of all {most.name}: {most.mean:.3f} of what "
        f"was estimated comes, over {measure.with_unit(most.estimated)} of {measure.what}."
    )


def _draw(sheet: Sheet, measure: Measure, rows: Rows, found: Sequence[Stream]) -> None:
    every = [x for s in found for x in (*s.ratios, s.mean, s.low, s.high) if x is not None]
    low, high = max(0.0, min(*every, 0.9) - 0.05), min(max(*every, 1.1) + 0.05, _FAR)
    axes = rows.axes(sheet, low, high)
    axes.axvline(1, color=INK, linewidth=0.8)
    for row, s in enumerate(found):
        axes.plot([min(r, high) for r in s.ratios], [row + 0.22] * len(s.ratios), "|", color=RULE, markersize=5)
        if s.low is not None and s.high is not None:
            axes.plot([max(s.low, low), min(s.high, high)], [row, row], color=DARK, linewidth=2.2)
            for out, end, marker in ((s.low < low, low, "<"), (s.high > high, high, ">")):
                axes.plot([end] * out, [row] * out, marker=marker, color=DARK, markersize=7, clip_on=False)
        biased = s.bias in ("below", "above")
        axes.plot([min(s.mean, high)], [row], marker="D" if biased else "o", markersize=6, markeredgecolor=INK,
                  color=ALARM if biased else "white")  # fmt: skip
        rows.name(sheet, row, s.name)
        rows.figure(sheet, row, 0, measure.text(s.estimated))
        rows.figure(sheet, row, 1, measure.text(s.brought))
        rows.figure(sheet, row, 2, f"{s.mean:.3f}", bold=biased)
    for column, head in enumerate((f"estimated, {measure.unit}", f"brought, {measure.unit}", "ratio")):
        rows.head(sheet, column, head)
    sheet.text(0, 0.12, "Bar: mean ratio, 95 %; filled where it leaves out 1. Strokes: single settlements or assays.",
               size=SMALL, tone=SOFT)  # fmt: skip
    steps = round_steps(low, high, 5)
    ticked(axes, steps, [step_text(step) for step in steps])
