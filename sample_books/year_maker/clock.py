"""When the plant works: shifts, holidays, the month-end freeze; and the order in which things happen."""

from __future__ import annotations

import heapq
from calendar import monthrange
from collections.abc import Generator, Iterator
from datetime import date, datetime, time, timedelta

YEAR = 2026
HOLIDAYS = frozenset(
    date(YEAR, month, day) for month, day in ((1, 1), (5, 25), (7, 3), (9, 7), (11, 26), (11, 27), (12, 24), (12, 25))
)


def moment(month: int, day: int, hour: int = 0, minute: int = 0) -> datetime:
    """Return a moment of the year on the plant's own clock, as tickets are dated."""
    return datetime(YEAR, month, day, hour, minute)  # noqa: DTZ001 — plant time has no offset


#: A course of work: it yields the moments at which it goes on.
Course = Generator[datetime, None, None]


def works(day: date) -> bool:
    """Return whether the plant works on that day."""
    return day.weekday() < 5 and day not in HOLIDAYS


def last_working_day(month: int) -> date:
    """Return the day on which the month is counted."""
    day = date(YEAR, month, monthrange(YEAR, month)[1])
    while not works(day):
        day -= timedelta(days=1)
    return day


_COUNTED_ON = frozenset(last_working_day(month) for month in range(1, 13))


def working_days(first: date = date(YEAR, 1, 2), last: date = date(YEAR, 12, 31)) -> Iterator[date]:
    """Yield the working days, both ends included."""
    day = first
    while day <= last:
        if works(day):
            yield day
        day += timedelta(days=1)


def open_from(wished: datetime, nights: bool = False) -> datetime:
    """Return the first moment from then on at which the floor works; on the day of the count only until one o'clock."""
    while True:
        day = (wished - timedelta(hours=6)).date()
        since = wished - datetime.combine(day, time(6, 30))
        until = 6.5 if day in _COUNTED_ON else (22.5 if nights else 15.0)
        if works(day) and timedelta(0) <= since <= timedelta(hours=until):
            return wished
        if works(day) and since < timedelta(0):
            return datetime.combine(day, time(6, 30)) + (wished - datetime.combine(day, time(6)))
        wished = datetime.combine(day + timedelta(days=1), time(6, 30)) + timedelta(minutes=wished.minute * 2 % 90)


class Schedule:
    """Courses of work, gone through in the order of time."""

    def __init__(self) -> None:
        self.now = moment(1, 1, 6)
        self._waiting: list[tuple[datetime, int, Course]] = []
        self._begun = 0

    def begin(self, course: Course, at: datetime | None = None) -> None:
        """Begin a course at a moment, or now."""
        self._begun += 1
        heapq.heappush(self._waiting, (at or self.now, self._begun, course))

    def run(self, until: datetime) -> None:
        """Go on until no course is left before that moment."""
        while self._waiting and self._waiting[0][0] < until:
            self.now, order, course = heapq.heappop(self._waiting)
            then = next(course, None)
            if then is not None:
                heapq.heappush(self._waiting, (max(then, self.now), order, course))
