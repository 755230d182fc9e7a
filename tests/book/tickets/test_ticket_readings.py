"""What one field takes and refuses."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic_core import PydanticCustomError

from ledger.book.tickets import readings
from ledger.book.tickets.readings import Reading
from ledger.quantities.mass import parse_mass


@pytest.mark.parametrize(
    ("text", "ng"),
    [
        ("1250.42 g", 1_250_420_000_000),
        ("0.000000001 g", 1),
        ("999999999.999999999 g", 999_999_999_999_999_999),
        ("10.37 dwt", 16_127_152_721),  # handbook, section 2
        ("1.0 ozt", 31_103_476_800),  # NIST HB 44 App. C (from memory)
        ("1.0000000000 g", 1_000_000_000),
    ],
)
def test_a_mass_is_read_exactly_and_its_text_kept(text: str, ng: int) -> None:
    assert readings.read_mass(text) == Reading(text, ng)


@given(st.integers(0, 10**9 - 1), st.text("0123456789", min_size=1, max_size=9))
def test_the_short_road_for_grams_agrees_with_the_long_one(whole: int, decimals: str) -> None:
    text = f"{whole}.{decimals} g"
    if whole or decimals.strip("0"):
        assert readings.read_mass(text).ng == parse_mass(text)


@pytest.mark.parametrize(
    ("value", "word"),
    [
        ("1250 g", 'write "1250.0 g"'),
        ("-1250 g", "sign"),
        ("3 kg", 'write "3.0 kg"'),
        ("12 oz", "ambiguous"),
        ("1.5 oz", "ozt"),
        ("1.5 gr", "grain"),
        ("1.5", "unit"),
        ("-1.5 g", "sign"),
        ("0.0 g", "nothing"),
        ("0 g", "nothing"),
        ("0.0000000001 g", "rounds to zero"),
        ("1000.1 t", "1 000 t"),
        ("1,5 g", "1250.42 g"),
        ("١.٥ g", "1250.42 g"),
        ("", "1250.42 g"),
        (1.5, "must be text"),
        (1250, "must be text"),
        (True, "must be text, not true"),
        (None, "must be text, not null"),
        (["1.5 g"], "must be text"),
    ],
)
def test_what_is_no_mass_is_refused_with_the_mend(value: Any, word: str) -> None:
    with pytest.raises(PydanticCustomError) as caught:
        readings.read_mass(value)
    assert word in f"{caught.value.context}"


def test_nothing_may_be_said_of_an_arrival_only() -> None:
    assert readings.read_mass_or_nothing("0 g").ng == 0
    assert readings.read_mass_or_nothing("0.00 g").ng == 0
    with pytest.raises(PydanticCustomError):
        readings.read_mass_or_nothing("1 g")
    with pytest.raises(PydanticCustomError):
        readings.read_mass_or_nothing("0.00000000001 g")


def test_a_gain_is_written_off_with_a_minus() -> None:
    assert readings.read_signed_mass("-0.35 g") == Reading("-0.35 g", -350_000_000)
    with pytest.raises(PydanticCustomError):
        readings.read_signed_mass("-0.0 g")


def test_a_bare_fineness_keeps_its_text_and_a_map_is_exact() -> None:
    assert readings.read_fineness("1/20 12K") == "1/20 12K"
    assert readings.read_fineness({"gold": "14K", "silver": "0"}) == {"gold": Fraction(14, 24), "silver": Fraction(0)}


@pytest.mark.parametrize(
    "value", ["25K", "25", "x", "", {}, {"gold": "14K", "silver": "600‰"}, {"gold": 585}, {"": "1%"}, 585, 0.585]
)
def test_what_is_no_fineness_is_refused(value: Any) -> None:
    with pytest.raises(PydanticCustomError):
        readings.read_fineness(value)


def test_content_may_say_that_there_is_none() -> None:
    assert readings.read_content({"gold": "12.3 g", "silver": "0.0 g"}) == {"gold": 12_300_000_000, "silver": 0}
    with pytest.raises(PydanticCustomError) as caught:
        readings.read_content({"gold": "12 g"})
    assert "gold: " in f"{caught.value.context}"


def test_results_stay_text_by_sample_and_determination() -> None:
    given = {"gold": [["499.8", "500.1"], ["499.6"]]}
    assert readings.read_results(given) == given


@pytest.mark.parametrize(
    "value", [[], ["499.8"], [["499.8", 500.1]], [[]], [["499.8"], "x"], [["abc"]], [[]] * 300, "499.8"]
)
def test_results_of_another_shape_are_refused(value: Any) -> None:
    with pytest.raises(PydanticCustomError):
        readings.read_results({"gold": value})


def test_assays_say_whose() -> None:
    assert readings.read_assays({"ours": {"gold": "585.2‰"}}) == {"ours": {"gold": Fraction("0.5852")}}
    with pytest.raises(PydanticCustomError):
        readings.read_assays({"mine": {"gold": "585.2‰"}})


def test_a_standard_is_a_mass_or_a_fineness() -> None:
    assert readings.read_standard("200.0 g") == Reading("200.0 g", 200_000_000_000)
    assert readings.read_standard("585.0‰") == "585.0‰"
    assert readings.read_standard({"gold": "50%"}) == {"gold": Fraction(1, 2)}


@pytest.mark.parametrize(
    "text",
    [
        "2026-10-05T14:30",
        "2026-10-05T14:30:59",
        "2024-02-29T00:00",
        "2026-10-25T02:30+01:00",
        "1900-01-01T00:00",
        "2199-12-31T23:59:59.999999",
        "2026-10-05T14:30Z",
    ],
)
def test_iso_8601_times_are_kept_as_written(text: str) -> None:
    assert readings.read_at(text) == text


@pytest.mark.parametrize(
    "value",
    [
        "2026-10-05",
        "2026-10-05 14:30",
        "1899-12-31T23:59",
        "2200-01-01T00:00",
        "2026-02-29T12:00",
        "2026-10-05T24:00",
        "2026-10-05T14:60",
        "2026-10-05T14:30:60",
        "2026-10-05T14:30+25:00",
        "05.10.2026T14:30",
        "2026-1-5T1:30",
        "2026-10-05T14:30\n",
        "",
        20261005,
        None,
    ],
)
def test_what_is_no_time_is_refused(value: Any) -> None:
    with pytest.raises(PydanticCustomError):
        readings.read_at(value)


@pytest.mark.parametrize("value", ["", " \n", "a\x00b", "a\u202eb", "\ud800", "x" * 2001, 5])
def test_a_remark_can_be_printed(value: Any) -> None:
    with pytest.raises(PydanticCustomError):
        readings.read_free_text(value)
    assert readings.read_free_text("two\nlines, 5\u00a0g") == "two\nlines, 5\u00a0g"
