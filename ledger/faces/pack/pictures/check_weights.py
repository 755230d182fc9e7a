"""Check weights on each scale, and standards through each assay: how far off, in σ of what is allowed for."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Final, NamedTuple

from ledger.faces.pack.pictures.canvas import INK, SMALL, SOFT, Caption, Missing, Sheet, drawn
from ledger.faces.pack.pictures.measure import Measure, lie
from ledger.faces.pack.pictures.rows import Rows
from ledger.faces.pack.pictures.strips import Points, Scale, named, strips
from ledger.faces.pack.schedule import Column, Picture, Row, Schedule
from ledger.faces.printing import counted
from ledger.faces.statement import z_text

KEY: Final = "picture-check-weights"
_STEP: Final = 0.42
_COLUMNS: Final = (
    Column("instrument", "scale or method"), Column("standard", "standard"), Column("checks", "checks", "count"),
    Column("beyond", "beyond action", "count"), Column("last_at", "last checked", "when"),
    Column("last", "last, σ", "number"), Column("mean", "mean since calibration, σ", "number"),
    Column("largest", "furthest out, σ", "number"), Column("largest_at", "when", "when"),
)  # fmt: skip


class Reading(NamedTuple):
    """One check: when (2026-09-28T07:02), and found less certified in σ allowed it; ``upon``: calibrated after."""

    at: str
    off: float
    upon: bool


class Checked(NamedTuple):
    """An instrument against one standard: its readings by date, and the mean since it was last calibrated, in σ."""

    instrument: str
    standard: str
    readings: Sequence[Reading]
    mean: float | None


def check_weights(measure: Measure, first: str, last: str, checked: Sequence[Checked]) -> Picture | Missing:
    """Return the charts of the readings from one day to another (2026-09-30), both included."""
    kept = [c._replace(readings=[r for r in c.readings if first <= r.at[:10] <= last]) for c in checked]
    kept = [c for c in kept if c.readings]
    if not kept:
        return Missing(KEY, "No check weight or standard was recorded: nothing shows that the scales read true.")
    rows = [_row(measure, c) for c in kept]
    says = _says(measure, kept)
    note = (
        "Off is found less certified, in σ of what the set-up allows one finding: repeatability and rounding, of an "
        f"assay by its determinations, and the error that all findings share. Readings from {first} to {last}."
    )
    figures = Schedule(KEY, "Check weights and standards, check by check", says, _COLUMNS, rows, [note])
    alternative = f"A strip for each of {len(kept)} instruments, a mark for each check by date. {says}"
    rows_at = Rows(0.45, len(kept), _STEP, 1.75, [0.7, 0.7])
    return drawn(
        Caption(KEY, figures.title, says, alternative), figures, rows_at.bottom + 0.35,
        lambda sheet: _draw(sheet, measure, rows_at, kept, (first, last)),
    )  # fmt: skip


def _row(measure: Measure, c: Checked) -> Row:
    most = max(c.readings, key=lambda r: abs(r.off))
    return {
        "instrument": c.instrument, "standard": c.standard, "checks": len(c.readings),
        "beyond": sum(abs(r.off) > measure.act for r in c.readings), "last_at": c.readings[-1].at,
        "last": c.readings[-1].off, "mean": c.mean, "largest": most.off, "largest_at": most.at,
    }  # fmt: skip


def _says(measure: Measure, kept: Sequence[Checked]) -> str:
    readings = [(abs(r.off), c.instrument, r) for c in kept for r in c.readings]
    beyond = [size for size, *_ in readings if size > measure.act]
    _, name, most = max(readings, key=lambda reading: reading[0])
    return (
        f"{len(beyond)} of {counted(len(readings), 'check')} {lie(len(beyond))} beyond {measure.act_words}; the "
        f"furthest out is {name} on {most.at[:10]}, off by {z_text(most.off)} σ."
    )


def _draw(sheet: Sheet, measure: Measure, rows: Rows, kept: Sequence[Checked], days: tuple[str, str]) -> None:
    first, last = (date.fromisoformat(day).toordinal() for day in days)
    scale, ends = Scale(2 * measure.act, [measure.act]), (first - 1.0, last + 2.0)
    courses = [[Points([_place(r.at) for r in c.readings], [r.off for r in c.readings], "dots")] for c in kept]
    axes = strips(sheet, rows, courses, scale, ends)
    for row, c in enumerate(kept):
        for reading in c.readings:
            if reading.upon:
                axes.plot([_place(reading.at)] * 2, [row - 0.4, row + 0.4], color=INK, linewidth=0.9)
        rows.figure(sheet, row, 0, z_text(c.readings[-1].off), bold=abs(c.readings[-1].off) > measure.act)
        rows.figure(sheet, row, 1, z_text(c.mean))
    named(sheet, rows, [f"{c.instrument}  {c.standard}" for c in kept])
    rows.head(sheet, 0, "last, σ")
    rows.head(sheet, 1, "mean, σ")
    sheet.text(0, 0.12, f"Dashed: {measure.act_words}; up reads high. Upright stroke: calibrated after this check.",
               size=SMALL, tone=SOFT)  # fmt: skip
    _days_below(sheet, rows, (first, last), ends)


def _place(at: str) -> float:
    """Return where an instant stands: days, the day's hour as a part."""
    return date.fromisoformat(at[:10]).toordinal() + int(at[11:13] or 0) / 24


def _days_below(sheet: Sheet, rows: Rows, days: tuple[int, int], ends: tuple[float, float]) -> None:
    """Write the first of each month below the strips, as many as there is room for."""
    months = [day for day in range(days[0], days[1] + 1) if date.fromordinal(day).day == 1]
    every = max(1, -(-len(months) * 6 // int(rows.width * 10)))
    for day in months[::every]:
        at = rows.left + (day - ends[0]) / (ends[1] - ends[0]) * rows.width
        sheet.text(at, rows.bottom + 0.13, date.fromordinal(day).isoformat()[:7], align="center", size=SMALL, tone=SOFT)
