"""From the book to what was counted, step by step; and what of the difference remains, against its band.

Two panels, since a difference of a gram is not to be seen beside kilograms: what should be there, and, larger, what is
missing of it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from ledger.faces.pack.pictures.canvas import (
    ALARM,
    DARK,
    FILL,
    HATCH,
    INK,
    PALE,
    RULE,
    SMALL,
    SOFT,
    Caption,
    Sheet,
    drawn,
    round_steps,
    step_text,
    ticked,
)
from ledger.faces.pack.pictures.measure import Measure, added, grams_of, times, turned
from ledger.faces.pack.pictures.rows import Rows, widest
from ledger.faces.pack.pictures.svg import key_of
from ledger.faces.pack.schedule import Column, Picture, Row, Schedule
from ledger.faces.statement import z_text

_COLUMNS: Final = (Column("step", "step"), Column("mass", "mass", "mass"), Column("stands_at", "stands at", "mass"))
_ABOVE: Final = 6
_STEP: Final = 0.27
_TOP: Final = 0.35
_BETWEEN: Final = 0.72


def waterfall(measure: Measure, area: Mapping[str, Any], title: str, counted: bool = True) -> Picture:
    """Return the picture of one area's balance, or of the plant's, as ``reconcile --json`` has it.

    ``counted``: whether what is there was counted, of the plant everywhere; else it is what is recorded.
    """
    figures = Schedule(
        key_of("picture-waterfall", area["area"]), f"From the book to the count: {title}",
        _says(measure, area, title, counted), _COLUMNS, _rows(measure, area, counted),
        ["Mass is what a step adds, or takes away where it is negative; stands at is where the sum then stands."],
    )  # fmt: skip
    caption = Caption(figures.key, figures.title, figures.says, _alternative(figures.says))
    rows = figures.rows
    height = _TOP + len(rows) * _STEP + _BETWEEN + 0.25
    return drawn(caption, figures, height, lambda sheet: _draw(sheet, measure, rows, area))


def _rows(measure: Measure, area: Mapping[str, Any], counted: bool) -> list[Row]:
    """Return the steps: what should be there, what is there, and then the difference and what is known of it."""
    steps = [("opening", area["opening"]), ("received", area["received"]), ("issued", turned(area["issued"])),
             ("dust swept up", area["sweeps"])]  # fmt: skip
    rows = list(_standing(steps))
    rows.append({"step": "there by the book", "mass": None, "stands_at": rows[-1]["stands_at"]})
    there = "counted" if counted else "as recorded"
    rows.append({"step": there, "mass": None, "stands_at": area["closing"]})
    known = [("missing (gross loss)", area["gross_loss"]), ("normal loss allowed", turned(area["allowed"])),
             ("of earlier periods", turned(area["prior_period"]))]  # fmt: skip
    rows.extend(_standing(known))
    rows.append({"step": "unexplained", "mass": None, "stands_at": area["unexplained"]})
    band = times(measure.act, grams_of(area["sigma"]))
    rows.append({"step": f"band of {measure.act_words}", "mass": band, "stands_at": None})
    return rows


def _standing(steps: Sequence[tuple[str, str]]) -> Sequence[Row]:
    rows: list[Row] = []
    stands = "0"
    for step, mass in steps:
        stands = added(stands, mass)
        rows.append({"step": step, "mass": mass, "stands_at": stands})
    return rows


def _says(measure: Measure, area: Mapping[str, Any], title: str, counted: bool) -> str:
    band = measure.with_unit(times(measure.act, grams_of(area["sigma"])))
    left = f"{measure.with_unit(area['unexplained'])} of {measure.what} unexplained in {title}"
    start = f"After normal loss of {measure.with_unit(area['allowed'])}, {left}"
    if not counted:
        return f"{start}; not all was counted, so that it may still change."
    if area["z"] is None:
        return f"{start}, against a band of {measure.act_words} of {band}."
    where = "beyond" if abs(area["z"]) > measure.act else "inside"
    band += _apart(measure, area)
    return f"{start}: {z_text(area['z'])} σ, {where} the band of {measure.act_words}, which is {band}."


def _apart(measure: Measure, area: Mapping[str, Any]) -> str:
    """Return, of the plant, what its areas lack and have too much: one is never netted against the other."""
    if "unexplained_losses" not in area:
        return ""
    losses, gains = (measure.with_unit(area[key]) for key in ("unexplained_losses", "unexplained_gains"))
    return f"; area by area, losses of {losses} stand against gains of {gains}"


def _alternative(says: str) -> str:
    return f"Bars from opening through received, issued and swept to what the book says and what was counted. {says}"


def _draw(sheet: Sheet, measure: Measure, rows: Sequence[Row], area: Mapping[str, Any]) -> None:
    shown = [measure.text(str(row["mass"] or row["stands_at"])) for row in rows]
    figures = [widest([f"-{text}" for text in shown], 0.8)]
    above = Rows(_TOP, _ABOVE, _STEP, 1.75, figures)
    below = Rows(above.bottom + _BETWEEN, len(rows) - _ABOVE, _STEP, 1.75, figures)
    for part, own, texts in ((above, rows[:_ABOVE], shown[:_ABOVE]), (below, rows[_ABOVE:], shown[_ABOVE:])):
        part.head(sheet, 0, measure.unit)
        for i, (row, text) in enumerate(zip(own, texts, strict=True)):
            total = row["mass"] is None
            part.name(sheet, i, str(row["step"]), bold=total)
            part.figure(sheet, i, 0, text, bold=total)
    sheet.text(0, above.top - 0.2, "What should be there", size=SMALL, tone=SOFT)
    sheet.text(0, below.top - 0.2, "What is missing of it: + missing, to the right", size=SMALL, tone=SOFT)
    _bars(sheet, measure, above, rows[:_ABOVE])
    _bars(sheet, measure, below, rows[_ABOVE:], alarm=abs(area["z"] or 0.0) > measure.act)


def _bars(sheet: Sheet, measure: Measure, part: Rows, rows: Sequence[Row], alarm: bool = False) -> None:
    ends = [_ends(measure, row) for row in rows]
    low, high = min(0.0, *(min(e) for e in ends)), max(0.0, *(max(e) for e in ends))
    room = (high - low) * 0.04 or 1.0
    axes = part.axes(sheet, low - room, high + room)
    axes.axvline(0, color=INK, linewidth=0.8)
    for i, (row, (start, end)) in enumerate(zip(rows, ends, strict=True)):
        if row["stands_at"] is None:
            axes.barh(i, end - start, left=start, height=0.5, color=PALE, edgecolor=INK, linewidth=0.7, linestyle="--")
            axes.axvspan(start, end, color=PALE, zorder=0, linewidth=0)
            continue
        total = row["mass"] is None
        fill = (ALARM if alarm else DARK) if total else "white" if end < start else FILL
        axes.barh(i, end - start, left=start, height=0.62, color=fill, edgecolor=INK, linewidth=0.6,
                  hatch=None if total or end >= start else HATCH)  # fmt: skip
        if i + 1 < len(rows) and rows[i + 1]["stands_at"] is not None:
            axes.plot([end, end], [i + 0.31, i + 0.69], color=RULE, linewidth=0.8)
    steps = round_steps(low, high)
    ticked(axes, steps, [step_text(step) for step in steps])


def _ends(measure: Measure, row: Row) -> tuple[float, float]:
    """Return where a bar begins and ends; a band lies about nothing."""
    if row["stands_at"] is None:
        half = measure.size(str(row["mass"]))
        return -half, half
    end = measure.size(str(row["stands_at"]))
    return (0.0 if row["mass"] is None else end - measure.size(str(row["mass"]))), end
