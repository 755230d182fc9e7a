"""The plant's clock against the time zone database itself, as ``zoneinfo`` reads it."""

from __future__ import annotations

import time
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from functools import cache
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ledger.plant.calendar import Calendar
from ledger.plant.setup import Setup
from ledger.refusals import FormRefused, SetupRefused

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
MICRO = timedelta(microseconds=1)
SECOND = 1_000_000
HOUR = 3600 * SECOND

#: Ordinary, half-hour and quarter-hour offsets; half an hour put back; a clock put on at midnight, so that midnight is
#: missing; one put back at one minute past midnight, so that the date goes back; a day skipped; two changes a year
#: beside the usual ones; and offsets with seconds before 1937.
ZONES = [
    "UTC",
    "America/New_York",
    "Europe/London",
    "Asia/Kathmandu",
    "Australia/Lord_Howe",
    "America/Sao_Paulo",
    "America/St_Johns",
    "Pacific/Apia",
    "Africa/Casablanca",
    "Europe/Amsterdam",
]
CUT_OFFS = ["00:00", "01:30", "06:00", "22:00"]


@cache
def calendar(zone: str = "UTC", cut_off: str = "00:00", *periods: tuple[str, str] | tuple[str, str, str]) -> Calendar:
    listed = [dict(zip(("code", "ends", "starts"), period, strict=False)) for period in periods]
    plant = {"name": "Invented", "metals": ["gold"], "timezone": zone, "cut_off": cut_off}
    return Calendar(Setup.from_document({"plant": plant, "period": listed}))


def instant_of(moment: datetime) -> int:
    return (moment.astimezone(UTC) - EPOCH) // MICRO


def wall_of(instant: int, zone: str) -> datetime:
    return (EPOCH + instant * MICRO).astimezone(ZoneInfo(zone)).replace(tzinfo=None)


@cache
def changes_of_the_clock(zone: str) -> list[int]:
    """Return the instants, to the second, at which the offset of a zone changes, by search between days of UTC."""

    def offset(instant: int) -> timedelta | None:
        return (EPOCH + instant * MICRO).astimezone(ZoneInfo(zone)).utcoffset()

    def found() -> Iterator[int]:
        start = instant_of(datetime(1900, 1, 3, tzinfo=UTC))
        for day in range(109_000):
            before, after = start + day * 24 * HOUR, start + (day + 1) * 24 * HOUR
            if offset(before) == offset(after):
                continue
            while after - before > SECOND:
                middle = (before + after) // 2 // SECOND * SECOND
                before, after = (before, middle) if offset(middle) == offset(after) else (middle, after)
            yield after

    return list(found())


@st.composite
def moments(draw: st.DrawFn) -> tuple[str, int]:
    """Draw a zone and an instant, as often as not within some hours of a change of the clock."""
    zone = draw(st.sampled_from(ZONES))
    changes = changes_of_the_clock(zone)
    anywhere = st.datetimes(datetime(1900, 1, 3), datetime(2199, 12, 28)).map(  # noqa: DTZ001
        lambda moment: instant_of(moment.replace(tzinfo=UTC))
    )
    near = draw(st.booleans())
    if changes and near:
        change = draw(st.sampled_from(changes))
        minutes = draw(st.integers(-26 * 60, 26 * 60))
        return zone, change + minutes * 60 * SECOND + draw(st.sampled_from([-1, 0, 1]))
    return zone, draw(anywhere)


def test_the_zones_have_the_changes_they_were_chosen_for() -> None:
    walls = {zone: [wall_of(change, zone) for change in changes_of_the_clock(zone)] for zone in ZONES}
    assert walls["UTC"] == walls["Asia/Kathmandu"][:0] == []
    assert any(
        wall_of(c - 1, "Pacific/Apia").date() == date(2011, 12, 29) for c in changes_of_the_clock("Pacific/Apia")
    )
    assert any((wall.hour, wall.minute) == (1, 0) for wall in walls["America/Sao_Paulo"])
    assert any((wall.hour, wall.minute) == (23, 1) for wall in walls["America/St_Johns"])
    assert any((wall.hour, wall.minute) == (1, 30) for wall in walls["Australia/Lord_Howe"])


@settings(max_examples=600, deadline=None)
@given(moments())
def test_an_instant_comes_back_from_its_text(moment: tuple[str, int]) -> None:
    zone, instant = moment
    assert calendar(zone).instant(calendar(zone).text(instant)) == instant


@settings(max_examples=600, deadline=None)
@given(moments())
def test_a_text_shows_the_wall_and_an_offset_only_where_the_wall_shows_the_time_twice(moment: tuple[str, int]) -> None:
    zone, instant = moment
    text = calendar(zone).text(instant)
    wall = wall_of(instant, zone)
    places = [wall.replace(tzinfo=ZoneInfo(zone), fold=fold) for fold in (0, 1)]
    twice = len({instant_of(place) for place in places if wall_of(instant_of(place), zone) == wall}) == 2
    shown = datetime.fromisoformat(text)
    assert shown.replace(tzinfo=None) == wall.replace(fold=0)
    assert (shown.tzinfo is not None) == twice
    if twice:
        assert instant_of(shown) == instant


@settings(max_examples=600, deadline=None)
@given(moments(), st.integers(0, 120))
def test_a_time_of_the_wall_is_accepted_when_it_occurs_once(moment: tuple[str, int], minutes: int) -> None:
    zone, instant = moment
    wall = (wall_of(instant, zone) + timedelta(minutes=minutes)).replace(fold=0, second=0, microsecond=0)
    occurs = {
        place
        for fold in (0, 1)
        if wall_of(place := instant_of(wall.replace(tzinfo=ZoneInfo(zone), fold=fold)), zone) == wall
    }
    text = wall.isoformat(timespec="minutes")
    if len(occurs) == 1:
        assert calendar(zone).instant(text) == occurs.pop()
        return
    with pytest.raises(FormRefused, match="came twice" if occurs else "did not occur"):
        calendar(zone).instant(text)


@settings(max_examples=600, deadline=None)
@given(moments(), st.sampled_from(CUT_OFFS))
def test_days_follow_one_another_and_each_instant_is_in_one(moment: tuple[str, int], cut_off: str) -> None:
    zone, instant = moment
    plant = calendar(zone, cut_off)
    day = plant.day(instant)
    assert plant.day_start(day) <= instant < plant.day_start(day + timedelta(1))
    assert plant.day(plant.day_start(day)) == day
    start, end = plant.bounds(plant.period(instant))
    assert start <= instant < end


@settings(max_examples=600, deadline=None)
@given(moments(), st.sampled_from(CUT_OFFS))
def test_a_day_is_the_walls_date_less_the_cut_off_away_from_changes_of_the_clock(
    moment: tuple[str, int], cut_off: str
) -> None:
    zone, instant = moment
    if any(abs(change - instant) < 49 * HOUR for change in changes_of_the_clock(zone)):
        return
    hours, minutes = map(int, cut_off.split(":"))
    expected = (wall_of(instant, zone) - timedelta(hours=hours, minutes=minutes)).date()
    assert calendar(zone, cut_off).day(instant) == expected


@pytest.mark.parametrize(
    ("zone", "cut_off", "day", "start"),
    [
        ("America/New_York", "00:00", date(2026, 11, 1), "2026-11-01T04:00"),
        ("America/New_York", "06:00", date(2026, 11, 1), "2026-11-01T11:00"),
        # put on from 02:00 to 03:00: the cut-off is never shown, and the day begins as the clock passes it
        ("America/New_York", "02:30", date(2026, 3, 8), "2026-03-08T07:00"),
        # put back from 02:00 to 01:00: the day begins when 01:30 is first shown
        ("America/New_York", "01:30", date(2026, 11, 1), "2026-11-01T05:30"),
        # midnight itself left out
        ("America/Sao_Paulo", "00:00", date(2018, 11, 4), "2018-11-04T03:00"),
        # 30 December 2011 was no day in Samoa: it begins and ends as the 31st begins
        ("Pacific/Apia", "00:00", date(2011, 12, 30), "2011-12-30T10:00"),
        ("Pacific/Apia", "00:00", date(2011, 12, 31), "2011-12-30T10:00"),
    ],
)
def test_days_begin_when_the_clock_first_shows_or_passes_the_cut_off(
    zone: str, cut_off: str, day: date, start: str
) -> None:
    """Expected instants, in UTC, worked by hand from the zones' published rules, which are from memory."""
    assert calendar(zone, cut_off).day_start(day) == instant_of(datetime.fromisoformat(start + "+00:00"))


def test_texts_are_as_short_as_they_can_be() -> None:
    plant = calendar("America/New_York")
    for text in (
        "2026-10-05T14:30",
        "2026-10-05T14:30:01",
        "2026-10-05T14:30:01.000250",
        "2026-11-01T01:30-04:00",
        "2026-11-01T01:30-05:00",
    ):
        assert plant.text(plant.instant(text)) == text


def test_seconds_and_fractions_are_read() -> None:
    plant = calendar()
    assert plant.instant("1970-01-01T00:00") == 0
    assert plant.instant("1970-01-01T00:00:00.5") == 500_000
    assert plant.instant("1970-01-02T01:02:03.000004") == 24 * HOUR + HOUR + 2 * 60 * SECOND + 3 * SECOND + 4
    assert plant.instant("1969-12-31T23:59:59.999999") == -1


def test_years_from_1900_to_2199() -> None:
    plant = calendar("America/New_York")
    for text in ("1900-01-01T00:00", "2199-12-31T23:59:59.999999"):
        assert plant.text(plant.instant(text)) == text
        assert plant.day(plant.instant(text)).isoformat() == text[:10]
        assert plant.period(plant.instant(text)) == text[:7]
    for text in ("1899-12-31T23:59", "2200-01-01T00:00"):
        with pytest.raises(FormRefused, match="1900 to 2199"):
            plant.instant(text)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "2026-10-05",
        "2026-10-05 14:30",
        "2026-10-05T14",
        "2026-10-05T24:00",
        "2026-10-05T14:60",
        "2026-10-05T14:30:60",
        "2026-10-05T14:30:01.0000001",
        "2026-02-29T14:30",
        "2026-13-01T14:30",
        "0000-01-01T00:00",
        "20261005T1430",
        "2026-10-05t14:30",
        "2026-10-05T14:30 ",
        "2026-10-05T14:30\n",
        "２026-10-05T14:30",
        "2026-10-05T14:30+1",
        "2026-W41-1T14:30",
    ],
)
def test_what_is_no_time_is_refused_and_stays_refused(text: str) -> None:
    for _ in range(2):
        with pytest.raises(FormRefused) as refusal:
            calendar("America/New_York").instant(text)
        assert refusal.value.faults[0].mend
        assert refusal.value.faults[0].field == "at"


@pytest.mark.parametrize(
    "text",
    ["2026-10-05T14:30-04:00", "2026-10-05T14:30Z", "2026-11-01T03:30-05:00", "2026-11-01T00:30-04:00"],
)
def test_an_offset_is_refused_where_the_time_comes_once_even_a_right_one(text: str) -> None:
    with pytest.raises(FormRefused, match="comes once"):
        calendar("America/New_York").instant(text)


def test_where_the_clock_was_put_back_the_mend_names_both_offsets() -> None:
    for text in ("2026-11-01T01:30", "2026-11-01T01:30+02:00"):
        with pytest.raises(FormRefused, match="came twice") as refusal:
            calendar("America/New_York").instant(text)
        assert refusal.value.faults[0].mend.endswith("-04:00 or -05:00")


def test_z_is_the_offset_of_utc() -> None:
    london = calendar("Europe/London")
    assert london.instant("2026-10-25T01:30Z") == london.instant("2026-10-25T01:30+00:00")
    assert london.instant("2026-10-25T01:30Z") - london.instant("2026-10-25T01:30+01:00") == HOUR


def test_periods_are_calendar_months_in_plant_days() -> None:
    plant = calendar("America/New_York", "06:00")
    assert plant.period(plant.instant("2026-11-01T05:59:59")) == "2026-10"
    assert plant.period(plant.instant("2026-11-01T06:00")) == "2026-11"
    assert plant.bounds("2026-10") == (plant.instant("2026-10-01T06:00"), plant.instant("2026-11-01T06:00"))
    assert plant.days_of("2026-12") == (date(2026, 12, 1), date(2027, 1, 1))
    assert plant.days_of("2028-02") == (date(2028, 2, 1), date(2028, 3, 1))
    assert (plant.next_period("2026-12"), plant.previous_period("2026-01")) == ("2027-01", "2025-12")


LISTED = (("P1", "2026-10-31", "2026-10-04"), ("P2", "2026-11-28"))


def test_listed_periods_rule_from_their_first_day_and_months_before_it() -> None:
    plant = calendar("UTC", "00:00", *LISTED)
    days = {
        "2026-09-30": "2026-09",
        "2026-10-03": "2026-10",
        "2026-10-04": "P1",
        "2026-10-31": "P1",
        "2026-11-01": "P2",
        "2026-11-28": "P2",
    }
    assert {day: plant.period(plant.instant(f"{day}T12:00")) for day in days} == days
    assert plant.days_of("2026-10") == (date(2026, 10, 1), date(2026, 10, 4))
    assert plant.days_of("P1") == (date(2026, 10, 4), date(2026, 11, 1))
    assert plant.days_of("P2") == (date(2026, 11, 1), date(2026, 11, 29))
    assert [plant.next_period(code) for code in ("2026-09", "2026-10", "P1")] == ["2026-10", "P1", "P2"]
    assert [plant.previous_period(code) for code in ("2026-10", "P1", "P2")] == ["2026-09", "2026-10", "P1"]


def test_after_the_last_listed_period_there_is_none_until_it_is_listed() -> None:
    plant = calendar("UTC", "00:00", *LISTED)
    with pytest.raises(SetupRefused, match="no period is listed for 2026-11-29"):
        plant.period(plant.instant("2026-11-29T00:00"))
    with pytest.raises(SetupRefused, match="no period is listed"):
        plant.next_period("P2")


def test_a_first_listed_period_without_start_begins_with_its_month() -> None:
    assert calendar("UTC", "00:00", ("P", "2027-01-23")).days_of("P") == (date(2027, 1, 1), date(2027, 1, 24))


def test_a_period_may_be_a_single_day() -> None:
    plant = calendar("UTC", "00:00", ("P1", "2026-10-04", "2026-10-04"), ("P2", "2026-10-05"), ("P3", "2026-10-06"))
    assert [plant.previous_period(code) for code in ("P1", "P2", "P3")] == ["2026-10", "P1", "P2"]
    assert plant.days_of("P2") == (date(2026, 10, 5), date(2026, 10, 6))


@pytest.mark.parametrize("code", ["2026-11", "2026-13", "2026-1", "1899-12", "2200-01", "P3", "", "2026-10-01"])
def test_a_code_of_no_period_is_refused(code: str) -> None:
    with pytest.raises(SetupRefused, match="there is no period"):
        calendar("UTC", "00:00", *LISTED).bounds(code)


def test_periods_between_two_instants() -> None:
    plant = calendar("UTC", "00:00", *LISTED)

    def between(start: str, end: str) -> list[str]:
        return plant.periods_between(plant.instant(start), plant.instant(end))

    assert between("2026-09-30T23:59", "2026-11-01T00:01") == ["2026-09", "2026-10", "P1", "P2"]
    assert between("2026-10-04T00:00", "2026-11-01T00:00") == ["P1"]
    assert between("2026-10-05T00:00", "2026-11-01T00:00:00.000001") == ["P1", "P2"]
    assert between("2026-10-05T00:00", "2026-10-05T00:00") == []


def test_a_hundred_thousand_tickets_are_dated_in_a_second_or_so() -> None:
    plant = calendar("America/New_York", "06:00")
    texts = [
        f"2026-10-{day:02d}T{hour:02d}:{minute:02d}"
        for day in range(1, 31)
        for hour in range(24)
        for minute in range(14)
    ]
    start = time.perf_counter()
    for text in texts:
        plant.period(plant.instant(text))
    assert (time.perf_counter() - start) * 100_000 / len(texts) < 2
