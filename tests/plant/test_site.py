"""[plant], [[period]] and [[area]]."""

# mypy: disable-error-code="comparison-overlap"
# an int and a Fraction of the same value are equal, which mypy does not know inside a tuple
from __future__ import annotations

from datetime import date, time
from fractions import Fraction

import pytest

from ledger.plant.forms import Tolerance
from tests.plant.example import SMALLEST, faults, fields, full, smallest


def test_the_plant_as_stated() -> None:
    plant = full().plant
    assert (plant.name, plant.unit, plant.currency, plant.timezone) == (
        "Invented Clad Works",
        "dwt",
        "EUR",
        "America/New_York",
    )
    assert plant.metals == ("gold", "silver")
    assert plant.cut_off == time(6, 0)
    assert (plant.warn, plant.act, plant.false_alarm_years) == (Fraction(5, 2), 3, 20)


def test_the_plant_with_everything_left_out() -> None:
    plant = smallest().plant
    assert (plant.unit, plant.currency, plant.timezone, plant.cut_off) == ("g", "USD", "UTC", time(0, 0))
    assert (plant.warn, plant.act, plant.false_alarm_years) == (2, 3, 10)


@pytest.mark.parametrize(
    "line",
    [
        'unit = "oz"',
        "unit = 3",
        'currency = "usd"',
        'currency = "EURO"',
        'timezone = "Mars/Olympus"',
        'timezone = "America"',
        'timezone = "../etc"',
        f'timezone = "a{".a" * 400}"',  # found by the study of bad input: Python's own search for it does not end well
        'timezone = ""',
        "timezone = 3",
        'cut_off = "6"',
        "cut_off = 6",
        "warn = 0",
        "warn = nan",
        "act = inf",
        'act = "three"',
        "false_alarm_years = -1",
        "false_alarm_years = true",
    ],
)
def test_a_key_of_the_plant_that_cannot_be_read_is_refused_at_that_key(line: str) -> None:
    (fault,) = faults(SMALLEST + line)
    assert fault.field == "plant." + line.split()[0]
    assert fault.mend
    assert fault.line == 4


@pytest.mark.parametrize("metals", ["[]", '"gold"', '["gold", "gold"]', '["copper"]', '["gross"]', "[1]"])
def test_metals_that_cannot_be_booked_are_refused(metals: str) -> None:
    assert fields(f'[plant]\nname = "Invented"\nmetals = {metals}') == ["plant.metals"]


@pytest.mark.parametrize("act", ["2", "1.9"])
def test_the_action_level_lies_above_the_warning_level(act: str) -> None:
    (fault,) = faults(SMALLEST + f"warn = 2\nact = {act}")
    assert (fault.field, "act" in fault.what) == ("plant", True)


def test_a_toml_time_is_as_good_as_its_text() -> None:
    assert smallest("cut_off = 22:30:00").plant.cut_off == time(22, 30)


def test_areas_as_stated() -> None:
    melt, ref = full().area
    assert (melt.code, melt.title, melt.keeper, melt.trivial) == ("MELT", "Melting", "K1", 50_000_000)
    assert (melt.outside, melt.gross, melt.holder) == (False, True, None)
    assert melt.tolerance == Tolerance(mass_ng=3_000_000_000)
    assert (ref.title, ref.outside, ref.gross, ref.holder, ref.trivial) == ("REF", True, False, "R1", 0)
    assert ref.tolerance == Tolerance(share=Fraction(2, 1000))


def test_an_area_needs_no_more_than_a_code() -> None:
    (area,) = smallest('[[area]]\ncode = "A"').area
    assert (area.tolerance, area.trivial, area.gross, area.outside, area.keeper) == (None, 0, True, False, None)


@pytest.mark.parametrize("line", ['outside = "true"', "gross = 1", "outside = 0"])
def test_a_flag_is_true_or_false_and_nothing_like_it(line: str) -> None:
    assert fields(SMALLEST + '[[area]]\ncode = "A"\n' + line) == ["area[1]." + line.split()[0]]


def test_listed_periods_open_on_the_day_stated_else_on_the_first_of_the_month() -> None:
    first, second = full().period
    assert (first.opens, first.ends) == (date(2026, 10, 4), date(2026, 10, 31))
    assert second.starts is None
    (alone,) = smallest('[[period]]\ncode = "P"\nends = 2027-01-23').period
    assert alone.opens == date(2027, 1, 1)
