"""The running tests for people, drawn in plain characters: readable on paper and without colour."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from ledger.faces.caution import say_caution
from ledger.faces.printing import Table, counted, mass, ng_of, say, say_table, say_text

if TYPE_CHECKING:
    from ledger.book.holdings import PlantFacts

Document = dict[str, Any]

#: Columns from zero to a threshold, on either side.
REACH: Final = 12

_WIDTH: Final = 2 * (REACH + 1) + 1
_HEAD: Final = "over".ljust(REACH) + " 0" + "missing".rjust(REACH + 1)

_TESTS: Final = {"month": "the month by itself", "page": "Page's sum", "trickle": "the trickle over the year"}


def bars(over: float, missing: float, threshold: float) -> str:
    """Return one line of the drawing: ``=`` over to the left of zero, ``#`` missing to its right.

    ``!`` is the threshold on either side, and ``*`` beyond it a sum that has signalled.
    """
    line = [" "] * _WIDTH
    zero = REACH + 1
    line[zero], line[zero - REACH], line[zero + REACH] = "|", "!", "!"
    for value, way, sign in ((over, -1, "="), (missing, 1, "#")):
        for step in range(1, _length(value, threshold) + 1):
            line[zero + way * step] = sign
        if value > threshold:
            line[zero + way * (REACH + 1)] = "*"
    return "".join(line)


def _length(value: float, threshold: float) -> int:
    """Return a bar's columns: it never hides the threshold, and shows whatever is not zero."""
    return min(max(round(value / threshold * REACH), value > 0), REACH - 1)


def say_trend(document: Document, facts: PlantFacts, unit: str) -> None:
    """Print the page."""
    until = f", to the end of {document['until']}" if document["until"] else ""
    say_text(f"Running tests of {document['plant']}: {document['metal']}, in {unit}{until}")
    say_text("A difference is + where metal is missing. Residuals and sums are in σ.")
    _say_thresholds(document)
    names = {area.code: area.name for area in facts.areas}
    for area in document["areas"]:
        say()
        say(f"{area['area']}  {names[area['area']]}: {_verdict(area)}")
        _say_area(area, document["thresholds"]["page"], unit)
    _say_tickets(document)
    say()
    say_caution()


def _say_thresholds(document: Document) -> None:
    limits = document["thresholds"]
    say_text(
        f"A signal: Page's sum above {limits['page']:.2f} (drawn as !), a month's residual beyond "
        f"{limits['month']:.2f}, a year's trickle beyond {limits['trickle']:.2f} at the year's end; each marked *. A "
        "month beyond by itself is set aside from the sums, the trickle and what is expected later. By chance once in "
        f"{document['false_alarm_years']:g} years, over {counted(document['areas_tested'], 'area')} together."
    )


def _verdict(area: Document) -> str:
    if area["verdict"] != "signalled":
        return str(area["verdict"])
    last = area["signals"][-1]
    now = [s for s in area["signals"] if s["period"] == last["period"]]
    return f"signalled, {now[0]['way']} since {now[0]['since']}"


def _say_area(area: Document, threshold: float, unit: str) -> None:
    table = Table(("period", "unexplained", "σ", "residual", _HEAD, "trickle"), frozenset((0, 4)))
    signalled = {(s["period"], s["test"]) for s in area["signals"]}
    for month in area["months"]:
        alone, trickle = ("*" if (month["period"], test) in signalled else " " for test in ("month", "trickle"))
        table.add(
            month["period"], mass(ng_of(month["unexplained"]), unit), mass(round(month["sigma"] * 1e9), unit),
            f"{month['residual']:.2f}{alone}", bars(month["over"], month["missing"], threshold),
            "" if month["trickle"] is None else f"{month['trickle']:.2f}{trickle}",
        )  # fmt: skip
    if area["months"]:
        say_table(table)
    for period in area["left_out"]:
        say(f"{period['period']}: {period['reason']}, no balance by itself")
    for s in area["signals"]:
        say_text(f"{s['period']} signals {s['way']} since {s['since']}: {_TESTS[s['test']]}, {s['value']:.2f} against "
                 f"{s['threshold']:.2f}", "    ", "")  # fmt: skip
    if area["drift_since"]:
        say_text(f"the sum that stands higher now has not been zero since {area['drift_since']}")
    say(f"cumulative of {counted(area['cumulative_periods'], 'period')}: {mass(ng_of(area['cumulative']), unit)} "
        f"{unit}, σ {mass(round(area['cumulative_sigma'] * 1e9), unit)}")  # fmt: skip


def _say_tickets(document: Document) -> None:
    runs = document["tickets"]
    if not runs:
        return
    say()
    say_text("Work tickets in sequence: Page's sums at the last ticket, those that stand out by themselves set aside; "
             f"by chance one signal in {document['false_alarm_years']:g} years, over all together.")  # fmt: skip
    heads = ("area", "operation", "tickets", "set aside", "over", "missing", "threshold", "signals")
    table = Table(heads, frozenset((0, 1)))
    for run in runs:
        aside, signals = (f"{count:,}" if count else "" for count in (run["set_aside"], len(run["signals"])))
        table.add(run["area"], run["operation"], f"{run['tickets']:,}", aside, f"{run['over']:.2f}",
                  f"{run['missing']:.2f}", f"{run['threshold']:.2f}", signals)  # fmt: skip
    say_table(table.without_empty_columns())
    for run in runs:
        for s in run["signals"]:
            say(f"{run['area']}, {run['operation']}: {s['ticket']} signals, {s['way']} since {s['since']}")
