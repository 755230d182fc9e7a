"""``lemel checks``: check weights on scales, standards through assays."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from ledger.faces.cli import options
from ledger.faces.printing import Table, counted, mass, say, say_as_of, say_json, say_table, say_text

if TYPE_CHECKING:
    from collections.abc import Sequence
    from fractions import Fraction

    from ledger.balance.daily.checks import Chart, Point

Code = Annotated[
    str | None,
    typer.Argument(metavar="[SCALE|METHOD]", help="One scale or method, check by check. Left out: all, a line each."),
]

#: What a mark means to people.
MARKS = {"act": "!!", "warn": "!", "": ""}


def checks(code: Code = None, book: options.Book = None, unit: options.Unit = None, json: options.Json = False) -> None:
    """Chart check weights and assay standards.

    Each scale and check weight, each method and standard: readings against the certified value, their mean since the
    last calibration, and what lies beyond the warning (!) and action (!!) levels of the set-up's repeatability. A mean
    off by more than chance takes it tells of an error that all its findings share.

    Example:  lemel checks

    Example:  lemel checks S-FLOOR
    """
    from ledger.balance.daily.checks import charts
    from ledger.book import holdings
    from ledger.book.setups import Setups

    with options.reading_book(book) as connection:
        facts = holdings.plant_facts(connection)
        in_unit = options.unit_of(facts, unit)
        found = charts(connection, Setups.read(connection), code)
        as_of = holdings.as_of(connection)
    if json:
        say_json({"plant": facts.name, "charts": [document(chart) for chart in found], **as_of.document()})
        return
    say(f"Checks of {facts.name}" + (f": {code}" if code else ""))
    _say_charts(found, in_unit, each=code is not None)
    say_as_of(as_of)


def _say_charts(found: Sequence[Chart], unit: str, *, each: bool) -> None:
    if not found:
        say("no check weight and no standard recorded")
    elif each:
        for chart in found:
            say()
            _say_chart(chart, unit)
    else:
        say()
        say_table(_summary(found, unit))
    say()
    if any(chart.drifting for chart in found):
        say_text("* the mean is off by more than chance takes so many readings: an error that all measured with it "
                 "since shares. The set-up allows for one of the size of shared σ.")  # fmt: skip
    for chart in found:
        if chart.beyond_shared:
            say_text(f"{_name(chart)}: off by more than {chart.act:g} times that. Calibrate it, and look at what it "
                     "measured since.", indent="    ", first="")  # fmt: skip
    say_text("Off: found less certified, + reads high. n, mean and limit: since the last calibration; limit: action "
             "level × σ/√n. Marks: ! beyond the warning level, !! beyond the action level of the set-up's "
             "repeatability.")  # fmt: skip


def _summary(found: Sequence[Chart], unit: str) -> Table:
    heads = ["checked", "against", "n", "last", "off", "mark", "mean off", "limit", "shared σ", "!", "!!", "calibrated",
             "due"]  # fmt: skip
    table = Table(heads, frozenset((0, 3, 5, 11, 12)))
    for chart in found:
        last = chart.points[-1]
        marks = [chart.mark(p) for p in chart.current]
        table.add(
            _name(chart), _value(chart, chart.certified, unit), str(len(chart.current)), last.at[:10],
            _off(chart, last.off, unit), MARKS[chart.mark(last)], _mean(chart, unit), _limit(chart, unit),
            _statistic(chart, chart.shared_sd, unit), str(marks.count("warn") or ""),
            str(marks.count("act") or ""), _day(chart.calibration.day), _day(chart.calibration.due),
        )  # fmt: skip
    return table.without_empty_columns()


def _say_chart(chart: Chart, unit: str) -> None:
    say_text(f"{_name(chart)} against {_value(chart, chart.certified, unit)}, levels {chart.warn:g} and "
             f"{chart.act:g} σ; {_calibration(chart)}")  # fmt: skip
    table = Table(["ticket", "at", "found", "off", "σ", "mark", ""], frozenset((0, 1, 5, 6)))
    for p in chart.points:
        table.add(p.ticket, p.at.replace("T", " "), _value(chart, p.found, unit), _off(chart, p.off, unit),
                  _statistic(chart, p.sd, unit), MARKS[chart.mark(p)], _remark(p))  # fmt: skip
    say_table(table.without_empty_columns())
    say_text(f"since calibration: {counted(len(chart.current), 'reading')}, mean off {_mean(chart, unit) or '–'}, "
             f"limit {_limit(chart, unit) or '–'}, shared σ {_statistic(chart, chart.shared_sd, unit)}")  # fmt: skip


def _name(chart: Chart) -> str:
    return chart.code + (f" {chart.metal}" if chart.metal else "")


def _calibration(chart: Chart) -> str:
    if not chart.is_scale:
        return "limits are of its repeatability alone"
    if chart.calibration.day is None:
        return "no calibration known"
    due = f", holds to {chart.calibration.due}" if chart.calibration.due else ""
    return f"calibrated {chart.calibration.day}{due}"


def _remark(point: Point) -> str:
    return "calibrated upon it" if point.calibrated else "" if point.current else "before"


def _day(day: Any) -> str:
    return "" if day is None else str(day)


def _value(chart: Chart, value: Fraction, unit: str) -> str:
    """Return a mass with its unit, or a fineness in per mille."""
    from ledger.quantities.fineness import per_mille_text

    if chart.is_scale:
        return f"{mass(round(value), unit, more=1)} {unit}"
    return f"{per_mille_text(value, 3)} ‰"


def _off(chart: Chart, off: Fraction, unit: str) -> str:
    return _statistic(chart, float(off), unit)


def _statistic(chart: Chart, value: float, unit: str) -> str:
    """Return a deviation: of a scale in the unit, of a method in per mille."""
    if chart.is_scale:
        return mass(round(value), unit, more=1)
    return f"{round(value * 1000, 3) + 0.0:.3f} ‰"


def _mean(chart: Chart, unit: str) -> str:
    return "" if chart.mean is None else _statistic(chart, chart.mean, unit) + (" *" if chart.drifting else "")


def _limit(chart: Chart, unit: str) -> str:
    return "" if chart.mean_limit is None else _statistic(chart, chart.mean_limit, unit)


# As a document.


def document(chart: Chart) -> dict[str, Any]:
    """Return a chart as JSON-able figures: masses as text in grams, finenesses as exact fractions, σ as numbers."""
    per = 10**9 if chart.is_scale else 1
    current = [chart.mark(p) for p in chart.current]
    return {
        "scale": chart.code if chart.is_scale else None, "method": None if chart.is_scale else chart.code,
        "metal": chart.metal, "certified": _exact(chart, chart.certified), "warn": chart.warn, "act": chart.act,
        "calibrated": _day(chart.calibration.day) or None, "due": _day(chart.calibration.due) or None,
        "n": len(current), "mean_off": _number(chart.mean, per), "mean_limit": _number(chart.mean_limit, per),
        "shared_sigma": _number(chart.shared_sd, per), "drifting": chart.drifting,
        "beyond_shared": chart.beyond_shared, "beyond_warn": current.count("warn"), "beyond_act": current.count("act"),
        "points": [
            {"ticket": p.ticket, "at": p.at, "found": _exact(chart, p.found), "off": _exact(chart, p.off),
             "sigma": _number(p.sd, per), "mark": chart.mark(p) or None, "calibrated": p.calibrated,
             "since_calibration": p.current}
            for p in chart.points
        ],
    }  # fmt: skip


def _exact(chart: Chart, value: Fraction) -> str:
    from ledger.quantities.mass import grams_text

    return grams_text(round(value)) if chart.is_scale else str(value)


def _number(value: float | None, per: int) -> float | None:
    return None if value is None else round(value / per, 12)
