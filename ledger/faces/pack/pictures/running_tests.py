"""The running tests: Page's sums of what is missing and of what is over, and the line they signal at."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from ledger.faces.pack.pictures.canvas import SMALL, SOFT, Caption, Missing, Sheet, drawn
from ledger.faces.pack.pictures.measure import Measure
from ledger.faces.pack.pictures.rows import Rows
from ledger.faces.pack.pictures.strips import Points, Scale, named, periods_below, strips
from ledger.faces.pack.schedule import Column, Picture, Row, Schedule

KEY: Final = "picture-running-tests"
_STEP: Final = 0.46
_COLUMNS: Final = (
    Column("area", "area"), Column("period", "period"), Column("residual", "residual, σ", "number"),
    Column("missing", "sum missing", "number"), Column("over", "sum over", "number"),
    Column("trickle", "trickle, σ", "number"), Column("signal", "signal"),
)  # fmt: skip


def running_tests(measure: Measure, trend: Mapping[str, Any], periods: Sequence[str]) -> Picture | Missing:
    """Return the strips of Page's sums of each area that has balances in the periods, as ``trend --json`` has them."""
    areas = [area for area in trend["areas"] if any(month["period"] in periods for month in area["months"])]
    if not areas:
        return Missing(KEY, "No area has a counted and rated period yet, so that no running test has begun.")
    rows = [row for area in areas for row in _rows(area, periods)]
    says = _says(measure, trend, areas)
    line = trend["thresholds"]["page"]
    note = (
        f"The sums are in σ and signal beyond {line:.2f}; a residual is the period's unexplained, made independent of "
        "the periods before it. A period that stands out by itself is set aside: the sums stay as they were."
    )
    figures = Schedule(KEY, "Running tests, period by period", says, _COLUMNS, rows, [note])
    alternative = f"A strip for each of {len(areas)} areas with two lines, missing upward and over downward. {says}"
    rows_at = Rows(0.5, len(areas), _STEP, 1.2, [0.85, 0.7])
    return drawn(
        Caption(KEY, figures.title, says, alternative), figures, rows_at.bottom + 0.45,
        lambda sheet: _draw(sheet, rows_at, areas, periods, line),
    )  # fmt: skip


def _rows(area: Mapping[str, Any], periods: Sequence[str]) -> list[Row]:
    signals: dict[str, list[str]] = {}
    for signal in area["signals"]:
        signals.setdefault(signal["period"], []).append(f"{signal['test']}, {signal['way']}")
    return [
        {"area": area["area"], "signal": "; ".join(signals.get(month["period"], ())) or None,
         **{key: month[key] for key in ("period", "residual", "missing", "over", "trickle")}}
        for month in area["months"] if month["period"] in periods
    ]  # fmt: skip


def _says(measure: Measure, trend: Mapping[str, Any], areas: Sequence[Mapping[str, Any]]) -> str:
    line, signalled = trend["thresholds"]["page"], [area["area"] for area in areas if area["verdict"] == "signalled"]
    size, way, area = max((area["months"][-1][way], way, area["area"]) for area in areas for way in ("missing", "over"))
    nearest = f"the highest sum stands at {size:.2f} ({area}, {way}) against a line of {line:.2f}"
    if not signalled:
        return f"At the end of {trend['until']} no running test signals; {nearest}."
    return f"At the end of {trend['until']} the running tests signal in {', '.join(signalled)}; {nearest}."


def _draw(
    sheet: Sheet, rows: Rows, areas: Sequence[Mapping[str, Any]], periods: Sequence[str], line: float
) -> None:  # fmt: skip
    ends = (-0.5, len(periods) - 0.5)
    place = {period: float(i) for i, period in enumerate(periods)}
    scale = Scale(1.25 * line, [line])
    strips(sheet, rows, [_courses(area, place) for area in areas], scale, ends)
    named(sheet, rows, [area["area"] for area in areas])
    for column, way in enumerate(("missing", "over")):
        rows.head(sheet, column, way)
        for row, area in enumerate(areas):
            value = area["months"][-1][way]
            rows.figure(sheet, row, column, f"{value:.2f}", bold=value > line)
    sheet.text(0, 0.12, f"Dashed: the line at {line:.2f} σ; up the sum of what is missing, down of what is over.",
               size=SMALL, tone=SOFT)  # fmt: skip
    periods_below(sheet, rows, periods, ends)


def _courses(area: Mapping[str, Any], place: Mapping[str, float]) -> list[Points]:
    months = [month for month in area["months"] if month["period"] in place]
    x = [place[month["period"]] for month in months]
    return [Points(x, [month["missing"] for month in months], "line"),
            Points(x, [-month["over"] for month in months], "line")]  # fmt: skip
