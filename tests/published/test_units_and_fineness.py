"""Published values of units, fineness, marks and bar weights.

The source stands beside each check. "From memory" means that the source was not at hand and that the value agrees
when recomputed; "computed" means worked out here from the stated rule, and published nowhere.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import product

import pint
import pytest

from ledger.quantities.fineness import parse_fineness, per_mille_text
from ledger.quantities.marks import (
    fine_ounces,
    gold_article_meets,
    gold_filled_meets,
    london_gross,
    lower_mark,
    silver_article_meets,
)
from ledger.quantities.mass import NG_PER_UNIT, decimal_text, in_unit, parse_mass

# ---------------------------------------------------------------------------------------------------------- units


@pytest.mark.parametrize(
    ("unit", "grams"),
    [
        # NIST Handbook 44, Appendix C, and the yard and pound agreement of 1959: all exact. From memory.
        ("grain", "0.06479891"),
        ("dwt", "1.55517384"),
        ("ozt", "31.1034768"),
        ("ozav", "28.349523125"),
        ("lb", "453.59237"),
    ],
)
def test_units_in_grams(unit: str, grams: str) -> None:
    assert parse_mass(f"1 {unit}") == parse_mass(f"{grams} g")
    assert Fraction(NG_PER_UNIT[unit], NG_PER_UNIT["g"]) == Fraction(grams)


@pytest.mark.parametrize(("unit", "grains"), [("dwt", "24"), ("ozt", "480"), ("ozav", "437.5"), ("lb", "7000")])
def test_units_in_grains(unit: str, grains: str) -> None:
    # NIST Handbook 44, Appendix C. From memory.
    assert parse_mass(f"1 {unit}") == parse_mass(f"{grains} grain")


#: pint's own names, spelled out; its registry keeps its definitions as exact fractions here.
PINT_NAMES = {
    "ng": "nanogram",
    "µg": "microgram",
    "ug": "microgram",
    "mg": "milligram",
    "g": "gram",
    "kg": "kilogram",
    "t": "metric_ton",
    "grain": "grain",
    "dwt": "pennyweight",
    "ozt": "troy_ounce",
    "ozav": "ounce",
    "lb": "pound",
}


def test_every_unit_ratio_agrees_with_pint() -> None:
    # Reference library: pint.
    registry = pint.UnitRegistry(non_int_type=Fraction)
    assert set(PINT_NAMES) == set(NG_PER_UNIT)
    for one, other in product(NG_PER_UNIT, repeat=2):
        theirs = registry.Quantity(Fraction(1), PINT_NAMES[one]).to(PINT_NAMES[other]).magnitude
        assert Fraction(theirs) == in_unit(NG_PER_UNIT[one], other), (one, other)


def test_troy_ounce_is_twelve_175ths_of_a_pound() -> None:
    # UK Weights and Measures Act 1985 (read in a copy).
    assert Fraction(NG_PER_UNIT["ozt"], NG_PER_UNIT["lb"]) == Fraction(12, 175)


def test_troy_ounces_of_a_kilogram() -> None:
    # London bullion conversion basis (read in a copy). Its 32.150 746 5 is cut, not rounded: the eighth decimal is a 6.
    ounces = in_unit(parse_mass("1 kg"), "ozt")
    assert ounces * 10**7 // 1 == 321_507_465
    assert decimal_text(ounces, 8) == "32.15074657"


def test_avoirdupois_ounces_of_a_troy_ounce() -> None:
    # London bullion conversion basis (read in a copy).
    assert decimal_text(in_unit(parse_mass("1 ozt"), "ozav"), 5) == "1.09714"


# ---------------------------------------------------------------------------------------------------- London bars


def test_fine_ounces_of_a_bar() -> None:
    # London Good Delivery Rules, Annex C, sample weight list (read in a copy).
    assert fine_ounces(Fraction("401.125"), parse_fineness("995.8‰")) == Fraction("399.440")


@pytest.mark.parametrize(
    ("weighed", "gross"),
    [
        # London Good Delivery Rules, Annex B: the rule read in a copy, both examples computed from it.
        ("401.126 ozt", "401.100"),
        ("401.127 ozt", "401.125"),
    ],
)
def test_a_bar_must_turn_the_scale(weighed: str, gross: str) -> None:
    assert london_gross(parse_mass(weighed)) == Fraction(gross)


def test_every_step_of_a_bar_is_taken_at_its_turn() -> None:
    # Computed from the same rule: a reading in 0.001 ozt is rounded to the nanogram, and must not lose a step by it.
    for step in range(350 * 40, 430 * 40):
        turns = step * 25 + 2
        assert london_gross(parse_mass(f"{turns // 1000}.{turns % 1000:03d} ozt")) == Fraction(step, 40)
        short = turns - 1
        assert london_gross(parse_mass(f"{short // 1000}.{short % 1000:03d} ozt")) == Fraction(step - 1, 40)


def test_what_does_not_turn_the_scale_weighs_nothing() -> None:
    # Computed from the same rule.
    assert london_gross(parse_mass("0.001 ozt")) == 0


@pytest.mark.parametrize(
    ("bar", "fineness", "fine"),
    [
        # London agreed fine content of small bars (read in a copy).
        ("1 kg", "995.0", "31.990"),
        ("1 kg", "999.0", "32.119"),
        ("1 kg", "999.9", "32.148"),
        ("100 ozt", "995.0", "99.500"),
        ("100 ozt", "999.0", "99.900"),
        ("100 ozt", "999.9", "99.990"),
    ],
)
def test_agreed_fine_content(bar: str, fineness: str, fine: str) -> None:
    assert fine_ounces(in_unit(parse_mass(bar), "ozt"), parse_fineness(fineness)) == Fraction(fine)


# ------------------------------------------------------------------------------------------------- karat and marks


@pytest.mark.parametrize(
    ("karat", "fineness", "per_mille"),
    [
        # Definition: a karat is a twenty-fourth.
        ("9K", "3/8", "375.000"),
        ("10K", "5/12", "416.667"),
        ("12K", "1/2", "500.000"),  # half fine: common practice, no source
        ("14K", "7/12", "583.333"),
        ("18K", "3/4", "750.000"),
        ("22K", "11/12", "916.667"),
        ("24K", "1", "1000.000"),
    ],
)
def test_karat(karat: str, fineness: str, per_mille: str) -> None:
    assert parse_fineness(karat) == Fraction(fineness)
    assert per_mille_text(parse_fineness(karat)) == per_mille


@pytest.mark.parametrize(
    ("mark", "fineness"),
    [
        # Arithmetic: the layer's share of the weight × the layer's fineness.
        ("1/20 12K", "25/1000"),
        ("1/20 14K", "7/240"),  # 29.1666… ‰
        ("1/10 10K", "1/24"),  # 41.666… ‰
    ],
)
def test_content_of_a_clad_mark(mark: str, fineness: str) -> None:
    assert parse_fineness(mark) == Fraction(fineness)


#: Gold marks of Finland, as listed in the hallmarking convention's country profile (read in a copy).
FINNISH_GOLD = [Fraction(mark, 1000) for mark in (375, 585, 750, 916, 999)]


@pytest.mark.parametrize(
    ("fineness", "mark"),
    [
        # Finnish fineness requirements, Tukes (read in a copy).
        ("588‰", "585/1000"),
        ("584‰", "375/1000"),
        # Computed from the same rule.
        ("585‰", "585/1000"),
        ("14K", "375/1000"),
        ("24K", "999/1000"),
    ],
)
def test_marks_round_down(fineness: str, mark: str) -> None:
    assert lower_mark(parse_fineness(fineness), FINNISH_GOLD) == Fraction(mark)
    assert lower_mark(parse_fineness(fineness), reversed(FINNISH_GOLD)) == Fraction(mark)


def test_below_the_lowest_mark_there_is_none() -> None:
    # Finnish fineness requirements, Tukes: gold of less than 375 ‰ is not sold as gold (read in a copy).
    assert lower_mark(Fraction(374, 1000), FINNISH_GOLD) is None


# ----------------------------------------------------------------------------------------------- tolerances in law

FOURTEEN = Fraction(14, 24)
#: 583.333… − 3 and − 7 per mille, in full.
FREE_LIMIT = Fraction(1741, 3000)  # 580.3…
WHOLE_LIMIT = Fraction(1729, 3000)  # 576.3…
A_HAIR = Fraction(1, 10**9)


@pytest.mark.parametrize(
    ("free_of_solder", "whole", "meets"),
    [
        # 15 U.S.C. 295 with its amendment of 1976 (read in a copy): 14K holds 580.3…‰ and 576.3…‰, and both must hold.
        (FREE_LIMIT, WHOLE_LIMIT, True),
        (FREE_LIMIT - A_HAIR, WHOLE_LIMIT, False),
        (FREE_LIMIT, WHOLE_LIMIT - A_HAIR, False),
        (Fraction(1), WHOLE_LIMIT - A_HAIR, False),
        (FREE_LIMIT - A_HAIR, Fraction(1), False),
    ],
)
def test_gold_article(free_of_solder: Fraction, whole: Fraction, meets: bool) -> None:
    assert gold_article_meets(FOURTEEN, free_of_solder, whole) is meets


def test_the_limits_of_fourteen_karat_gold() -> None:
    assert (decimal_text(FREE_LIMIT * 1000, 3), decimal_text(WHOLE_LIMIT * 1000, 3)) == ("580.333", "576.333")


def test_gold_watchcase_or_flatware_is_allowed_three_with_its_solder() -> None:
    # 15 U.S.C. 295 with its amendment of 1976 (read in a copy).
    assert gold_article_meets(FOURTEEN, FREE_LIMIT, FREE_LIMIT, watchcase=True)
    assert not gold_article_meets(FOURTEEN, FREE_LIMIT, FREE_LIMIT - A_HAIR, watchcase=True)
    assert not gold_article_meets(FOURTEEN, FREE_LIMIT, WHOLE_LIMIT, watchcase=True)


@pytest.mark.parametrize(
    ("free_of_solder", "whole", "meets"),
    [
        # 15 U.S.C. 296 (read in a copy): 4/1000, with solder 10/1000; here of 925.
        ("0.921", "0.915", True),
        ("0.920999999", "0.915", False),
        ("0.921", "0.914999999", False),
    ],
)
def test_silver_article(free_of_solder: str, whole: str, meets: bool) -> None:
    assert silver_article_meets(Fraction("0.925"), Fraction(free_of_solder), Fraction(whole)) is meets


@pytest.mark.parametrize(
    ("layer_share", "karat", "meets"),
    [
        # 16 CFR 23.3 and Appendix to Part 23 (partly read in a copy; paragraph (c) of 23.3 from memory).
        (Fraction(1, 20), "10K", True),
        (Fraction(1, 20), "12K", True),
        (Fraction(1, 20) - A_HAIR, "12K", False),  # rolled gold plate, with its fraction
        (Fraction(1, 40), "14K", False),
        (Fraction(1, 20), "9K", False),
        (Fraction(1, 10), "9.999999K", False),
    ],
)
def test_gold_filled(layer_share: Fraction, karat: str, meets: bool) -> None:
    assert gold_filled_meets(layer_share, parse_fineness(karat)) is meets


def test_a_fraction_a_side_is_twice_the_fraction_of_the_article() -> None:
    # Computed: 1/40 of the weight on each of two faces is 1/20 of the article, and just meets the minimum.
    assert gold_filled_meets(2 * Fraction(1, 40), parse_fineness("12K"))
