"""z by area and period: how far each balance lay from nothing, in its own σ."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

from ledger.faces.pack.pictures.canvas import SMALL, SOFT, Caption, Missing, Sheet, drawn
from ledger.faces.pack.pictures.measure import Measure, lie
from ledger.faces.pack.pictures.rows import Rows
from ledger.faces.pack.pictures.strips import Points, Scale, named, periods_below, strips
from ledger.faces.pack.schedule import Column, Picture, Row, Schedule
from ledger.faces.statement import z_text

KEY: Final = "picture-z-by-area"
_STEP: Final = 0.46


class Scores(NamedTuple):
    """An area's z by period, None where nothing is judged; in the order of the periods."""

    area: str
    z: Sequence[float | None]


def z_scores(measure: Measure, periods: Sequence[str], areas: Sequence[Scores]) -> Picture | Missing:
    """Return the strips of every area's z, oldest period first."""
    last = [(abs(s.z[-1]), s) for s in areas if s.z[-1] is not None]
    if not last:
        return Missing(KEY, "No area was judged this period, so that there is no z to show.")
    columns = [Column("area", "area"), *(Column(f"z_{period}", period, "number") for period in periods)]
    rows: list[Row] = [{"area": s.area, **{f"z_{p}": z for p, z in zip(periods, s.z, strict=True)}} for s in areas]
    says = _says(measure, last, periods[-1])
    note = "z: unexplained of one period over its σ. An empty cell is a period without a count, or one not judged."
    figures = Schedule(KEY, "z by area and period", says, columns, rows, [note])
    alternative = f"A strip for each of {len(areas)} areas, a stem for each of {len(periods)} periods. {says}"
    rows_at = Rows(0.45, len(areas), _STEP, 1.2, [0.75])
    return drawn(
        Caption(KEY, figures.title, says, alternative), figures, rows_at.bottom + 0.45,
        lambda sheet: _draw(sheet, measure, rows_at, periods, areas),
    )  # fmt: skip


def _says(measure: Measure, last: Sequence[tuple[float, Scores]], period: str) -> str:
    beyond = sum(1 for size, _ in last if size > measure.act)
    _, most = max(last, key=lambda pair: pair[0])
    return (
        f"In {period} {beyond} of {len(last)} areas judged {lie(beyond)} beyond {measure.act_words}; {most.area} "
        f"is furthest out, at z = {z_text(most.z[-1])}."
    )


def _draw(sheet: Sheet, measure: Measure, rows: Rows, periods: Sequence[str], areas: Sequence[Scores]) -> None:
    scale = Scale(2 * measure.act, [measure.act])
    ends = (-0.5, len(periods) - 0.5)
    courses = [[_course(s.z)] for s in areas]
    strips(sheet, rows, courses, scale, ends)
    named(sheet, rows, [s.area for s in areas])
    rows.head(sheet, 0, f"z, {periods[-1]}")
    lines = f"Dashed: {measure.act_words}; up is missing, down is over. Arrowheads lie beyond ±{scale.reach:g} σ."
    sheet.text(0, 0.12, lines, size=SMALL, tone=SOFT)
    for row, s in enumerate(areas):
        rows.figure(sheet, row, 0, z_text(s.z[-1]), bold=abs(s.z[-1] or 0.0) > measure.act)
    periods_below(sheet, rows, periods, ends)


def _course(z: Sequence[float | None]) -> Points:
    known = [(float(i), value) for i, value in enumerate(z) if value is not None]
    return Points([x for x, _ in known], [y for _, y in known])
