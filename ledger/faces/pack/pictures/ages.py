"""The age of what is open: estimates, metal on its way, jobs, lots not found, differences nobody has answered for."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

from ledger.faces.pack.pictures.canvas import DARK, FILL, INK, RULE, SMALL, SOFT, WIDTH, Caption, Missing, Sheet, drawn
from ledger.faces.pack.pictures.measure import Measure, added, ng_of
from ledger.faces.pack.schedule import Column, Picture, Row, Schedule
from ledger.faces.printing import counted

KEY: Final = "picture-age-of-open-items"
#: Last day of each band of ages, and what it is called.
_BANDS: Final = ((30, "to 30 days"), (90, "31 to 90"), (180, "91 to 180"), (365, "181 to 365"), (10**9, "older"))
_COLUMNS: Final = (
    Column("what", "what"), Column("age", "age, days"), Column("items", "items", "count", summed=True),
    Column("mass", "mass", "mass", summed=True), Column("oldest", "oldest"), Column("days", "its age, days", "count"),
)  # fmt: skip
_NAMES, _STEP, _TOP = 1.55, 0.62, 0.5


class Open(NamedTuple):
    """One open item: what it is, its lot, job or area, its age in days, and plain decimal grams, either sign."""

    what: str
    item: str
    days: int
    mass: str


def ages(measure: Measure, day: str, items: Sequence[Open]) -> Picture | Missing:
    """Return the picture of the open items at the end of a day, by kind and age."""
    if not items:
        return Missing(KEY, f"Nothing was open at the end of {day}: no estimate, no metal on its way, no job, no lot "
                            "missed, no difference unanswered.")  # fmt: skip
    kinds = list(dict.fromkeys(item.what for item in items))
    cells = {(kind, band): [i for i in items if i.what == kind and _band(i.days) == band]
             for kind in kinds for band in range(len(_BANDS))}  # fmt: skip
    rows = [_row(kind, band, own) for (kind, band), own in cells.items() if own]
    says = _says(measure, day, items)
    figures = Schedule(KEY, "Age of open items", says, _COLUMNS, rows, [
        "Mass is added up without sign: what is missing in one place is not set against what is over in another.",
        "Until a close a difference holds the normal loss too.",
    ])  # fmt: skip
    alternative = f"A table of {len(kinds)} kinds by {len(_BANDS)} ages, with a bar for the mass in each cell. {says}"
    return drawn(
        Caption(KEY, figures.title, says, alternative), figures, _TOP + len(kinds) * _STEP + 0.05,
        lambda sheet: _draw(sheet, measure, kinds, cells),
    )  # fmt: skip


def _band(days: int) -> int:
    return next(i for i, (last, _) in enumerate(_BANDS) if days <= last)


def _size(items: Sequence[Open]) -> str:
    return added(*(item.mass.removeprefix("-") for item in items))


def _row(kind: str, band: int, own: Sequence[Open]) -> Row:
    oldest = max(own, key=lambda item: item.days)
    return {"what": kind, "age": _BANDS[band][1], "items": len(own), "mass": _size(own), "oldest": oldest.item,
            "days": oldest.days}  # fmt: skip


def _says(measure: Measure, day: str, items: Sequence[Open]) -> str:
    oldest = max(items, key=lambda item: (item.days, ng_of(item.mass)))
    late = [item for item in items if item.days > _BANDS[1][0]]
    old = f"{len(late)} of them for more than {_BANDS[1][0]} days with {measure.with_unit(_size(late))}" if late else (
        f"none of them for more than {_BANDS[1][0]} days")  # fmt: skip
    return (
        f"At the end of {day} {counted(len(items), 'item')} of {measure.what} stood open, {old}; the oldest, "
        f"{counted(oldest.days, 'day')}, is {oldest.item} ({oldest.what})."
    )


def _draw(
    sheet: Sheet, measure: Measure, kinds: Sequence[str], cells: dict[tuple[str, int], list[Open]]
) -> None:  # fmt: skip
    step = (WIDTH - _NAMES) / len(_BANDS)
    axes = sheet.axes(_NAMES, _TOP, WIDTH - _NAMES, len(kinds) * _STEP)
    axes.set_xlim(0, len(_BANDS))
    axes.set_ylim(len(kinds), 0)
    sheet.text(0, 0.12, f"{measure.unit}, and how many. Bars: within a row, to one scale.", size=SMALL, tone=SOFT)
    for band, (_, name) in enumerate(_BANDS):
        sheet.text(_NAMES + band * step, _TOP - 0.1, name, size=SMALL, tone=SOFT)
    for row, kind in enumerate(kinds):
        sheet.text(0, _TOP + (row + 0.33) * _STEP, kind)
        axes.plot([-_NAMES / step, len(_BANDS)], [row, row], color=RULE, linewidth=0.5, clip_on=False)
        longest = max(ng_of(_size(cells[kind, band])) for band in range(len(_BANDS))) or 1
        for band in range(len(_BANDS)):
            own = cells[kind, band]
            if not own:
                continue
            text = f"{measure.text(_size(own))} ({len(own)})"
            sheet.text(_NAMES + band * step, _TOP + (row + 0.33) * _STEP, text, size=SMALL)
            axes.barh(row + 0.72, 0.9 * ng_of(_size(own)) / longest, left=band, height=0.3, linewidth=0.6,
                      edgecolor=INK, color=DARK if band >= 2 else FILL)  # fmt: skip
