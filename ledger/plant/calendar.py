"""The plant's clock, days and periods.

A moment is an *instant*: whole microseconds since 1970-01-01T00:00 UTC, an integer. Tickets give it in plant time, ISO
8601 without an offset; only where the clock is put back, and a time comes twice, does the offset say which.

A plant's *day* begins when its clock first shows the cut-off hour, and lasts until the next day begins. Where the
clock is put back over that very hour, the repeated minutes belong to the day already begun: days never interleave.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from datetime import UTC, date, datetime, timedelta, tzinfo
from typing import Final
from zoneinfo import ZoneInfo

from ledger.plant.forms import FIRST_YEAR, LAST_YEAR
from ledger.plant.setup import Setup
from ledger.refusals import FormRefused, SetupRefused

SECOND: Final = 1_000_000
DAY: Final = 86_400 * SECOND

_EPOCH = datetime(1970, 1, 1)  # noqa: DTZ001  the clock of the wall is without a zone until it is placed in one
_EPOCH_UTC = _EPOCH.replace(tzinfo=UTC)
_MICROSECOND = timedelta(microseconds=1)
_ONE_DAY = timedelta(1)
_AT = re.compile(
    r"(\d{4}-\d{2}-\d{2})T([01]\d|2[0-3]):([0-5]\d)(?::([0-5]\d)(?:\.(\d{1,6}))?)?(Z|[+-]\d{2}:\d{2}(?::\d{2})?)?",
    re.ASCII,
)
_MONTH = re.compile(r"(\d{4})-(0[1-9]|1[0-2])", re.ASCII)
_MEND = 'write plant time as "2026-10-05T14:30"'


class Calendar:
    """Instants, days and periods of one plant."""

    def __init__(self, setup: Setup) -> None:
        self._zone: tzinfo = ZoneInfo(setup.plant.timezone)
        cut_off = setup.plant.cut_off
        self._cut_off = timedelta(hours=cut_off.hour, minutes=cut_off.minute)
        self._listed = setup.period
        self._first = setup.period[0].opens if setup.period else date.max
        self._ends = [period.ends for period in setup.period]
        self._code_at = {period.code: place for place, period in enumerate(setup.period)}
        self._midnights: dict[str, int | None] = {}
        self._starts: dict[date, int] = {}
        self._days: dict[int, list[tuple[int, date]]] = {}
        self._codes: dict[date, str] = {}

    def instant(self, at_text: str) -> int:
        """Return the instant of a time as tickets write it: ``"2026-10-05T14:30"``, with or without seconds.

        Raises FormRefused for what is not a time, lies outside 1900–2199, is skipped by the clock, comes twice and has
        no offset, or has an offset though it comes once.
        """
        match = _AT.fullmatch(at_text)
        if match is None:
            raise FormRefused(f"{at_text[:40]!r} is not a date and time", _MEND, field="at")
        day, hour, minute, second, fraction, offset = match.groups()
        into_day = (int(hour) * 60 + int(minute)) * 60 * SECOND
        if second:
            into_day += int(second) * SECOND + (int(fraction.ljust(6, "0")) if fraction else 0)
        midnight = self._midnights[day] if day in self._midnights else self._midnight(day, at_text)
        if midnight is None:
            return self._instant_near_change(day, into_day, offset, at_text)
        if offset is not None:
            self._refuse_offset(at_text, offset)
        return midnight + into_day

    def _midnight(self, day: str, at_text: str) -> int | None:
        """Return the instant of midnight of a day on which the clock runs evenly; None where it is put on or back."""
        try:
            wall = datetime.fromisoformat(day)
        except ValueError:
            raise FormRefused(f"{at_text!r}: there is no such day", _MEND, field="at") from None
        if not FIRST_YEAR <= wall.year <= LAST_YEAR:
            raise FormRefused(f"{at_text!r} is not in {FIRST_YEAR} to {LAST_YEAR}", "check the year", field="at")
        probes = (wall, wall + timedelta(hours=12), (wall + _ONE_DAY).replace(fold=1))
        offsets = {self._offset(probe) for probe in (*probes, wall.replace(fold=1))}
        midnight = (wall - _EPOCH) // _MICROSECOND - offsets.pop() if len(offsets) == 1 else None
        self._midnights[day] = midnight
        return midnight

    def _offset(self, wall: datetime) -> int:
        """Return plant time minus UTC, in microseconds, at a time of the wall."""
        offset = wall.replace(tzinfo=self._zone).utcoffset()
        assert offset is not None
        return offset // _MICROSECOND

    def _instant_near_change(self, day: str, into_day: int, offset: str | None, at_text: str) -> int:
        wall = datetime.fromisoformat(day) + into_day * _MICROSECOND
        micros = (wall - _EPOCH) // _MICROSECOND
        first, second = (micros - self._offset(wall.replace(fold=fold)) for fold in (0, 1))
        if first > second:
            mend = "the clock was put on over it: write the time that the wall showed"
            raise FormRefused(f"{at_text!r} did not occur", mend, field="at")
        if first == second:
            if offset is not None:
                self._refuse_offset(at_text, offset)
            return first
        choices = {_offset_text(micros - instant): instant for instant in (first, second)}
        stated = "+00:00" if offset == "Z" else offset
        if stated not in choices:
            mend = "write the offset that says which: " + " or ".join(choices)
            raise FormRefused(f"{at_text!r}: the clock was put back, and this time came twice", mend, field="at")
        return choices[stated]

    def _refuse_offset(self, at_text: str, offset: str) -> None:
        what = f"{at_text!r} has the offset {offset}, though this time comes once"
        raise FormRefused(what, "leave it out and write the time on the plant's wall", field="at")

    def text(self, instant: int) -> str:
        """Return an instant as tickets write it; ``Calendar.instant`` gives it back."""
        wall = (_EPOCH_UTC + instant * _MICROSECOND).astimezone(self._zone)
        plain = wall.replace(tzinfo=None, fold=0)
        spec = "microseconds" if plain.microsecond else "seconds" if plain.second else "minutes"
        text = plain.isoformat(timespec=spec)
        if self._offset(plain) == self._offset(plain.replace(fold=1)):
            return text
        return text + _offset_text((plain - _EPOCH) // _MICROSECOND - instant)

    def day_start(self, day: date) -> int:
        """Return the instant at which a plant's day begins: when the clock first shows, or passes, the cut-off."""
        start = self._starts.get(day)
        if start is None:
            start = self._starts[day] = self._day_start(datetime(day.year, day.month, day.day) + self._cut_off)  # noqa: DTZ001
        return start

    def _day_start(self, wall: datetime) -> int:
        micros = (wall - _EPOCH) // _MICROSECOND
        first, second = (micros - self._offset(wall.replace(fold=fold)) for fold in (0, 1))
        return first if first <= second else self._put_on_at(second, first)

    def _put_on_at(self, before: int, after: int) -> int:
        """Return the instant between two at which the clock is put on: the first with the later offset."""
        late = self._offset_at(after)
        while after - before > 1:
            middle = (before + after) // 2
            before, after = (before, middle) if self._offset_at(middle) == late else (middle, after)
        return after

    def _offset_at(self, instant: int) -> int:
        wall = (_EPOCH_UTC + instant * _MICROSECOND).astimezone(self._zone).replace(tzinfo=None)
        return (wall - _EPOCH) // _MICROSECOND - instant

    def day(self, instant: int) -> date:
        """Return the plant's day of an instant: by the clock on the wall, from one cut-off hour to the next."""
        begun = self._days.get(instant // DAY)
        if begun is None:
            begun = self._days[instant // DAY] = self._days_begun(instant // DAY)
        for start, day in begun:
            if instant >= start:
                return day
        raise AssertionError("a day of UTC begins within some day of the plant")

    def _days_begun(self, utc_day: int) -> list[tuple[int, date]]:
        """Return the plant's days that overlap a day of UTC, latest first, each with the instant it begins."""
        middle = (_EPOCH + utc_day * _ONE_DAY).date()
        around = [middle + timedelta(days) for days in (2, 1, 0, -1, -2, -3)]
        return [(self.day_start(day), day) for day in around if self.day_start(day) < (utc_day + 1) * DAY]

    def period(self, instant: int) -> str:
        """Return the code of the period of an instant; raises SetupRefused after the last listed one."""
        return self.period_of_day(self.day(instant))

    def period_of_day(self, day: date) -> str:
        """Return the code of the period of one of the plant's days: a listed one, else the calendar month."""
        code = self._codes.get(day)
        if code is None:
            code = self._codes[day] = self._period_of_day(day)
        return code

    def _period_of_day(self, day: date) -> str:
        if day < self._first:
            return f"{day.year:04d}-{day.month:02d}"
        place = bisect_left(self._ends, day)
        if place == len(self._ends):
            raise SetupRefused(f"no period is listed for {day}", "list it under [[period]] in a change of the set-up")
        return self._listed[place].code

    def days_of(self, code: str) -> tuple[date, date]:
        """Return the first day of a period, and the first day after it; raises SetupRefused for a code of none."""
        place = self._code_at.get(code)
        if place is not None:
            first = self._ends[place - 1] + _ONE_DAY if place else self._first
            return first, self._ends[place] + _ONE_DAY
        match = _MONTH.fullmatch(code)
        if match and FIRST_YEAR <= int(match.group(1)) <= LAST_YEAR:
            first = date(int(match.group(1)), int(match.group(2)), 1)
            if first < self._first:
                return first, min((first + timedelta(31)).replace(day=1), self._first)
        raise SetupRefused(f"there is no period {code!r}", 'write a month as "2026-10", or a listed code')

    def bounds(self, code: str) -> tuple[int, int]:
        """Return the instants of a period, half-open: its start, and the start of the next."""
        first, after = self.days_of(code)
        return self.day_start(first), self.day_start(after)

    def next_period(self, code: str) -> str:
        """Return the code of the period after ``code``; raises SetupRefused where none is listed."""
        return self.period_of_day(self.days_of(code)[1])

    def previous_period(self, code: str) -> str:
        """Return the code of the period before ``code``."""
        return self.period_of_day(self.days_of(code)[0] - _ONE_DAY)

    def periods_between(self, start: int, end: int) -> list[str]:
        """Return the codes of the periods that share an instant with [start, end), in order of time."""
        codes: list[str] = []
        day = self.day(start)
        while start < end and self.day_start(day) < end:
            codes.append(self.period_of_day(day))
            day = self.days_of(codes[-1])[1]
        return codes


def _offset_text(offset: int) -> str:
    """Return an offset from UTC in microseconds as ``+01:00``, with seconds where it has them."""
    hours, rest = divmod(abs(offset) // SECOND, 3600)
    minutes, seconds = divmod(rest, 60)
    return f"{'-' if offset < 0 else '+'}{hours:02d}:{minutes:02d}" + (f":{seconds:02d}" if seconds else "")
