"""Mass: text to nanograms and back, and everything that is refused."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.quantities.mass import (
    LARGEST_NG,
    NG_PER_UNIT,
    PRINT_UNITS,
    decimal_text,
    grams_text,
    in_unit,
    mass_text,
    parse_mass,
)
from ledger.refusals import QuantityRefused

MASSES = st.integers(1, LARGEST_NG)
SIGNED = st.integers(-LARGEST_NG, LARGEST_NG)


@pytest.mark.parametrize(
    ("text", "nanograms"),
    [
        ("1250.42 g", 1_250_420_000_000),
        ("1250.42g", 1_250_420_000_000),
        ("1250.42\u00a0g", 1_250_420_000_000),
        ("1250.42\u202fg", 1_250_420_000_000),
        ("0007 g", 7_000_000_000),
        ("0.000000001 g", 1),
        ("1 ng", 1),
        ("1 \u00b5g", 1_000),  # micro sign
        ("1 \u03bcg", 1_000),  # Greek mu
        ("1 ug", 1_000),
        ("1000 t", LARGEST_NG),
        ("10.37 dwt", 16_127_152_721),  # 16 127 152 720.8
        ("0.0000000005 g", None),  # half a nanogram goes to the even neighbour, which is nothing
        ("0.0000000015 g", 2),
        ("0.0000000025 g", 2),
    ],
)
def test_reads(text: str, nanograms: int | None) -> None:
    if nanograms is None:
        with pytest.raises(QuantityRefused, match="rounds to zero"):
            parse_mass(text)
    else:
        assert parse_mass(text) == nanograms


@pytest.mark.parametrize(
    "text",
    [
        "", " ", "g", "12", "12 ", " 12 g", "12 g ", "12  g", "12 g\n", "12\tg",
        "1,250.42 g", "1250,42 g", "1 250.42 g", ".5 g", "5. g", "1e3 g", "0x10 g", "1_000 g", "1/2 g", "12.5.1 g",
        "nan g", "NaN", "inf g", "Infinity g", "∞ g", "-inf g", "½ g", "١٢ g", "１２ g", "²g", "--5 g", "\u22125 g",
        "12 \u0433", "12 grammes and more", "1 fl oz", "1 oz t", "1" * 31 + " g", "0." + "1" * 31 + " g",
        "9" * 100_000 + " g", "\ud800 g", "12\x00g", "12 g; 13 g",
    ],
    ids=lambda text: ascii(text)[:40],
)  # fmt: skip
def test_refuses_what_is_not_a_mass(text: str) -> None:
    with pytest.raises(QuantityRefused) as refusal:
        parse_mass(text)
    assert refusal.value.faults[0].mend
    assert len(str(refusal.value)) < 300


@pytest.mark.parametrize("read", [1250.42, float("nan"), 12, True, None, b"12 g", Decimal(12), ["12 g"], {"g": "12"}])
def test_refuses_what_is_no_text(read: object) -> None:
    with pytest.raises(QuantityRefused, match="is not a mass"):
        parse_mass(read)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("text", "mend"),
    [
        ("10 oz", "write ozt (troy) or ozav (avoirdupois)"),
        ("10 OZ", "write ozt (troy) or ozav (avoirdupois)"),
        ("10 gr", "write grain or g"),
        ("10 GR", "write grain or g"),
        ("10 gm", "write g"),
    ],
)
def test_ambiguous_units_are_refused_with_their_mend(text: str, mend: str) -> None:
    with pytest.raises(QuantityRefused, match="ambiguous") as refusal:
        parse_mass(text)
    assert refusal.value.faults[0].mend == mend


@pytest.mark.parametrize("unit", ["G", "Kg", "MG", "T", "Dwt", "stone", "ct", "tola", "tael"])
def test_unknown_units_name_the_known_ones(unit: str) -> None:
    with pytest.raises(QuantityRefused, match=f"unknown unit {unit}") as refusal:
        parse_mass(f"1 {unit}")
    assert "ozt" in refusal.value.faults[0].mend


@pytest.mark.parametrize("text", ["0 g", "0.000 g", "0 lb"])
def test_nothing_only_where_asked_for(text: str) -> None:
    with pytest.raises(QuantityRefused, match="is nothing"):
        parse_mass(text)
    assert parse_mass(text, zero=True) == 0


@pytest.mark.parametrize("text", ["0.0000000001 g", "0.4 ng", "0." + "0" * 29 + "1 lb"])
def test_rounding_to_zero_is_refused_even_where_zero_is_not(text: str) -> None:
    with pytest.raises(QuantityRefused, match="rounds to zero though it is not"):
        parse_mass(text, zero=True)


def test_a_sign_only_where_asked_for() -> None:
    assert parse_mass("-5 g", signed=True) == -5_000_000_000
    assert parse_mass("+5 g", signed=True) == 5_000_000_000
    for text in ("-5 g", "+5 g"):
        with pytest.raises(QuantityRefused, match="has a sign"):
            parse_mass(text)


@pytest.mark.parametrize("text", ["1000.000000000000001 t", "1000001 kg", "1" + "0" * 29 + " t", "2204623 lb"])
def test_more_than_a_thousand_tonnes(text: str) -> None:
    for sign in ("", "-"):
        with pytest.raises(QuantityRefused, match="more than 1 000 t"):
            parse_mass(sign + text, signed=True)


@pytest.mark.parametrize("unit", NG_PER_UNIT)
def test_whole_units_are_exact(unit: str) -> None:
    assert parse_mass(f"7 {unit}") == 7 * NG_PER_UNIT[unit]


@given(SIGNED)
def test_grams_text_is_read_back_to_the_nanogram(mass_ng: int) -> None:
    assert parse_mass(grams_text(mass_ng) + " g", signed=True, zero=True) == mass_ng


@given(st.from_regex(r"[0-9]{1,12}(\.[0-9]{1,20})?", fullmatch=True), st.sampled_from(sorted(NG_PER_UNIT)))
def test_rounded_once_from_the_exact_value(number: str, unit: str) -> None:
    # Reference: fractions.Fraction reads the decimal and rounds half to even.
    exact = Fraction(number) * NG_PER_UNIT[unit]
    if round(exact) > LARGEST_NG or (exact and round(exact) == 0):
        with pytest.raises(QuantityRefused):
            parse_mass(f"{number} {unit}")
    else:
        assert parse_mass(f"{number} {unit}", zero=True) == round(exact)


@given(st.text(max_size=60))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        mass_ng = parse_mass(text)
    except QuantityRefused as refusal:
        assert refusal.faults[0].mend  # noqa: PT017
    else:
        assert 0 < mass_ng <= LARGEST_NG


@given(SIGNED, st.sampled_from(PRINT_UNITS), st.integers(0, 9))
def test_printed_within_half_of_the_last_place(mass_ng: int, unit: str, places: int) -> None:
    printed = mass_text(mass_ng, unit, places)
    assert abs(Fraction(printed.replace(",", "")) - in_unit(mass_ng, unit)) <= Fraction(1, 2 * 10**places)
    assert printed.partition(".")[2] == "" if places == 0 else len(printed.partition(".")[2]) == places


@pytest.mark.parametrize(
    ("mass_ng", "unit", "places", "printed"),
    [
        (0, "g", 3, "0.000"),
        (-1, "g", 3, "0.000"),  # never minus nothing
        (-500_000, "g", 3, "0.000"),
        (-500_001, "g", 3, "-0.001"),
        (1_234_567_890_123, "g", 3, "1,234.568"),
        (-1_234_567_890_123, "g", 2, "-1,234.57"),
        (999_999_999_999, "g", 3, "1,000.000"),
        (1_500_000_000, "g", 0, "2"),
        (2_500_000_000, "g", 0, "2"),
        (31_103_476_800, "ozt", 3, "1.000"),
        (1_000_000_000_000, "ozt", 7, "32.1507466"),
        (1_000_000_000_000, "kg", 0, "1"),
    ],
)
def test_printed_for_people(mass_ng: int, unit: str, places: int, printed: str) -> None:
    assert mass_text(mass_ng, unit, places) == printed


@pytest.mark.parametrize(
    ("mass_ng", "text"),
    [(0, "0.000000000"), (1, "0.000000001"), (-1, "-0.000000001"), (-1_000_000_001, "-1.000000001")],
)
def test_grams_with_all_their_digits(mass_ng: int, text: str) -> None:
    assert grams_text(mass_ng) == text


@pytest.mark.parametrize(
    ("value", "places", "text"),
    [
        ("1/3", 3, "0.333"),
        ("-1/3", 3, "-0.333"),
        ("2/3", 0, "1"),
        ("-1/2000", 3, "0.000"),
        ("1/8", 2, "0.12"),
        ("12345", 1, "12345.0"),
    ],
)
def test_decimal_text(value: str, places: int, text: str) -> None:
    assert decimal_text(Fraction(value), places) == text


@given(MASSES, MASSES)
def test_order_survives_printing(one: int, other: int) -> None:
    light, heavy = sorted((one, other))
    assert Fraction(mass_text(light).replace(",", "")) <= Fraction(mass_text(heavy).replace(",", ""))
