"""Counts: the take-on, every month-end by two people who keep nothing, and now and then a surprise."""

from __future__ import annotations

from datetime import datetime, time, timedelta

from year_maker.clock import Course, last_working_day, moment, works
from year_maker.floor import Document, Floor, Paper
from year_maker.routes import bath_line

COUNTERS = ("JD", "LS")
#: The order in which the counters walk; the wire room and the press after the mill.
WALK = (
    "VAULT", "SCRAP", "MELT", "LAB", "BOND", "DRAW", "PRESS", "ROLL", "ASSEM", "FINISH", "WET", "DISPATCH", "REFINER",
)  # fmt: skip
_SHEET = 14


def counted_line(floor: Floor, area: str, lot: str) -> Document:
    """Return what a counter writes of a lot: its readings; of a sealed one or one at the refiner that it is there."""
    tag = floor.tags[lot]
    if lot == "BATH-AG":
        return bath_line(floor, floor.stock[area][lot])
    if tag.seal:
        return {"lot": lot, "seal": tag.seal}
    if area == "REFINER":
        return {"lot": lot, "all": True}
    return floor.named(lot) | floor.weighed(area, lot, floor.stock[area][lot])


def sheets(floor: Floor, area: str, name: str, team: str = "A") -> list[Paper]:
    """Write the sheets of one team for an area; the last one ends the count."""
    lines = [counted_line(floor, area, lot) for lot in sorted(floor.stock[area])]
    pages = [lines[i : i + _SHEET] for i in range(0, len(lines), _SHEET)] or [[]]
    by, witness = COUNTERS if team == "A" else COUNTERS[::-1]
    return [
        floor.write(
            "count", by, witness, area=area, count=name, sheet=f"{team}{number}", team=team, lots=page or None,
            nil=None if page else True, ended=number == len(pages),
        )
        for number, page in enumerate(pages, 1)
    ]  # fmt: skip


def month_end(floor: Floor, month: int, on: datetime) -> Course:
    """Count every area, in the afternoon when nothing moves; the vault by two teams, blind."""
    for area in WALK:
        name = f"{on:%Y-%m}-{area}"
        first = sheets(floor, area, name)
        if area == "VAULT":
            for paper in first:
                paper.document["ended"] = False
            yield floor.now + timedelta(minutes=40)
            sheets(floor, area, name, "B")
        yield floor.now + timedelta(minutes=round(floor.chance.between(14, 26, "walk")))


def counts(floor: Floor) -> None:
    """Begin the counts of the year."""
    for month in range(1, 13):
        on = datetime.combine(last_working_day(month), time(13, 40))
        floor.schedule.begin(month_end(floor, month, on), on)
    floor.schedule.begin(surprises(floor), moment(1, 8, 10, 20))


def surprises(floor: Floor) -> Course:
    """Count a few lots of one area without notice, most weeks."""
    last_days = {last_working_day(month) for month in range(1, 13)}
    while floor.now < moment(12, 22):
        area = floor.chance.pick(("VAULT", "SCRAP", "PRESS", "DRAW", "ASSEM", "DISPATCH", "ROLL"), "surprise")
        lots = [lot for lot in sorted(floor.stock[area]) if not floor.tags[lot].seal][:4]
        if lots and works(floor.now.date()) and floor.now.date() not in last_days:
            lines = [counted_line(floor, area, lot) for lot in lots]
            floor.write("count", *COUNTERS, area=area, lots=lines, spot=True, note="surprise count")
        yield floor.now + timedelta(days=7 if floor.now.day % 2 else 6, minutes=20)
