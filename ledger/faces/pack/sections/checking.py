"""Check weights and standards: what keeps the measurement model honest, an instrument and a certified value a row."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import TYPE_CHECKING, Any, Final

from ledger.faces.pack.material import Material
from ledger.faces.pack.schedule import Schedule
from ledger.faces.pack.tables import count, mass, number, rows_of, when, words
from ledger.quantities.mass import grams_text

if TYPE_CHECKING:
    from ledger.balance.daily.checks import Chart

SCALES: Final = (
    words("code", "scale"),
    mass("certified", "check weight"),
    count("checks", "checks"),
    count("current", "since calibration"),
    count("warn", "beyond warning"),
    count("act", "beyond action"),
    mass("mean", "mean, read − true"),
    mass("limit", "chance takes it to"),
    words("shared", "shared error"),
    when("calibrated", "calibrated"),
    when("due", "due"),
)

METHODS: Final = (
    words("code", "method"),
    words("metal"),
    number("certified", "standard, ‰"),
    count("checks", "checks"),
    count("warn", "beyond warning"),
    count("act", "beyond action"),
    number("mean", "mean, found − true, ‰"),
    number("limit", "chance takes it to, ‰"),
    words("shared", "shared error"),
)


def checked(material: Material) -> Iterator[Schedule]:
    """Yield the schedules of scales and of methods."""
    charts = material.charts
    yield Schedule(
        "check-weights",
        "Check weights",
        "Each scale's check weights up to the end of the period: readings beyond their "
        "levels since the calibration, and an error that all of them share.",
        SCALES,
        rows_of(SCALES, (_scale(c) for c in charts if c.is_scale)),
        notes=[
            "Shared error: the mean of the readings since the calibration is off by more than repeatability explains."
        ],
    )
    yield Schedule(
        "standards",
        "Standards through the assay",
        "Each method's standards up to the end of the period.",
        METHODS,
        rows_of(METHODS, (_method(c) for c in charts if not c.is_scale)),
    )


def _scale(chart: Chart) -> dict[str, Any]:
    day, due = chart.calibration.day, chart.calibration.due
    return {
        **_marks(chart),
        "certified": grams_text(round(chart.certified)),
        "mean": _grams(chart.mean),
        "limit": _grams(chart.mean_limit),
        "calibrated": day and str(day),
        "due": due and str(due),
    }


def _method(chart: Chart) -> dict[str, Any]:
    return {
        **_marks(chart),
        "metal": chart.metal,
        "certified": _per_mille(chart.certified),
        "mean": _per_mille(chart.mean),
        "limit": _per_mille(chart.mean_limit),
    }


def _marks(chart: Chart) -> dict[str, Any]:
    marks = [chart.mark(point) for point in chart.current]
    shared = "beyond what is set" if chart.beyond_shared else "yes" if chart.drifting else None
    return {
        "code": chart.code,
        "checks": len(chart.points),
        "current": len(chart.current),
        "warn": marks.count("warn"),
        "act": marks.count("act"),
        "shared": shared,
    }


def _grams(ng: float | None) -> float | None:
    return None if ng is None else round(ng / 10**9, 9)


def _per_mille(fineness: Fraction | float | None) -> float | None:
    return None if fineness is None else round(1000 * float(fineness), 6)
