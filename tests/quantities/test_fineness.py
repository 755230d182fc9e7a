"""Fineness: exact rationals from karat, per mille, per cent and clad marks."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.quantities.fineness import content_ng, parse_fineness, parse_fraction_mark, parse_share, per_mille_text
from ledger.quantities.mass import LARGEST_NG
from ledger.refusals import QuantityRefused

FINENESSES = st.fractions(0, 1, max_denominator=10**9)


@pytest.mark.parametrize(
    ("text", "fineness"),
    [
        ("12K", "12/24"),
        ("14K", "7/12"),
        ("14k", "7/12"),
        ("14 Kt", "7/12"),
        ("13.5K", "27/48"),
        ("24K", "1"),
        ("585‰", "585/1000"),
        ("585 ‰", "585/1000"),
        ("585", "585/1000"),
        ("58.5%", "585/1000"),
        ("999.9", "9999/10000"),
        ("333", "333/1000"),
        ("1000", "1"),
        ("0", "0"),
        ("0.0", "0"),
        ("25‰", "25/1000"),
        ("2.5%", "25/1000"),
        ("1/20 12K", "1/40"),
        ("1/20 585‰", "585/20000"),
        ("1/1 14K", "7/12"),
    ],
)
def test_reads(text: str, fineness: str) -> None:
    assert parse_fineness(text) == Fraction(fineness)


@pytest.mark.parametrize("text", ["1", "25", "332.999", "1000.001", "1050", "0.585"])
def test_a_bare_number_out_of_range_asks_for_the_sign(text: str) -> None:
    with pytest.raises(QuantityRefused, match="a bare number is per mille") as refusal:
        parse_fineness(text)
    assert "sign" in refusal.value.faults[0].mend


@pytest.mark.parametrize("text", ["24.1K", "25K", "1001‰", "100.1%", "1/20 25K"])
def test_more_than_pure(text: str) -> None:
    with pytest.raises(QuantityRefused, match="more than pure"):
        parse_fineness(text)


@pytest.mark.parametrize(
    "text",
    [
        "", " ", "K", "gold", "585 g", "14 ct", "14.K", ".5%", "-5%", "+585", "585,0", "5e2", "nan", "NaN", "inf",
        "14K ", " 14K", "14K\n", "585‰‰", "٥٨٥", "１４K", "1/٢٠ 12K", "٣%", "½", "²K", "1/0 12K", "1/20", "1/20 ",
        "2/20 12K", "1/20 1/20 12K", "1/20  12K", "1/-20 12K", "1/20 12K\n", "\ud800", "9" * 100_000, "1/20 " * 20_000,
    ],
    ids=lambda text: ascii(text)[:40],
)  # fmt: skip
def test_refuses_what_is_not_a_fineness(text: str) -> None:
    with pytest.raises(QuantityRefused) as refusal:
        parse_fineness(text)
    assert refusal.value.faults[0].mend
    assert len(str(refusal.value)) < 300


@pytest.mark.parametrize("read", [585.0, 0.585, float("nan"), 585, True, None, b"14K", Fraction(7, 12), ["14K"]])
@pytest.mark.parametrize("parse", [parse_fineness, parse_fraction_mark, parse_share])
def test_refuses_what_is_no_text(parse: object, read: object) -> None:
    with pytest.raises(QuantityRefused):
        parse(read)  # type: ignore[operator]


def test_a_clad_mark_in_its_two_parts() -> None:
    assert parse_fraction_mark("1/20 12K") == (Fraction(1, 20), Fraction(1, 2))
    for text in ("12K", "1/0 12K", "1/20 1/20 12K", "", "585"):
        with pytest.raises(QuantityRefused, match="is not a clad mark"):
            parse_fraction_mark(text)


@pytest.mark.parametrize(
    ("text", "share"), [("0.10%", "1/1000"), ("0.3‰", "3/10000"), ("60%", "3/5"), ("100%", "1"), ("0%", "0")]
)
def test_a_share_carries_its_sign(text: str, share: str) -> None:
    assert parse_share(text) == Fraction(share)


@pytest.mark.parametrize("text", ["0.001", "60", "101%", "-1%", "12K", "1/20 12K", "", "٣%", "1 %%"])
def test_refuses_what_is_not_a_share(text: str) -> None:
    with pytest.raises(QuantityRefused):
        parse_share(text)


@given(st.text(max_size=60))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        fineness = parse_fineness(text)
    except QuantityRefused as refusal:
        assert refusal.faults[0].mend  # noqa: PT017
    else:
        assert 0 <= fineness <= 1


@given(st.decimals(0, 24, places=6))
def test_karat_is_a_twenty_fourth(karat: object) -> None:
    assert parse_fineness(f"{karat}K") == Fraction(str(karat)) / 24


@given(st.integers(0, LARGEST_NG), FINENESSES)
def test_content_is_rounded_once(mass_ng: int, fineness: Fraction) -> None:
    # Reference: fractions.Fraction rounds the exact product half to even.
    assert content_ng(mass_ng, fineness) == round(mass_ng * fineness)
    assert 0 <= content_ng(mass_ng, fineness) <= mass_ng


@given(st.integers(0, LARGEST_NG))
def test_pure_is_all_of_it_and_base_metal_nothing(mass_ng: int) -> None:
    assert content_ng(mass_ng, Fraction(1)) == mass_ng
    assert content_ng(mass_ng, Fraction(0)) == 0


@given(st.integers(-LARGEST_NG, LARGEST_NG), FINENESSES)
def test_content_of_a_reversal_is_the_same_content(mass_ng: int, fineness: Fraction) -> None:
    assert content_ng(-mass_ng, fineness) == -content_ng(mass_ng, fineness)


@given(FINENESSES)
def test_per_mille_text_is_within_half_of_the_last_place(fineness: Fraction) -> None:
    assert abs(Fraction(per_mille_text(fineness)) - fineness * 1000) <= Fraction(1, 2000)


@pytest.mark.parametrize(
    ("fineness", "text"), [("7/12", "583.333"), ("1", "1000.000"), ("0", "0.000"), ("1/40", "25.000")]
)
def test_per_mille_text(fineness: str, text: str) -> None:
    assert per_mille_text(Fraction(fineness)) == text
