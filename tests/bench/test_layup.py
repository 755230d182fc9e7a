"""Lay-up: weight to thickness and back, marks met and missed, what is given away."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.bench.charge_forms import Step
from ledger.bench.gauge import PI, mass_of, parse_length
from ledger.bench.layup import Layup, at_gauge, laid_up, planned, volume_shares, weight_shares
from ledger.bench.layup_forms import Faces, Part, parse_part
from ledger.bench.layup_mark import given_away, marked
from ledger.quantities.fineness import parse_fraction_mark
from ledger.quantities.mass import NG_PER_UNIT, decimal_text, parse_mass
from ledger.refusals import Impossible, QuantityRefused

positive = st.integers(1, 10**9).map(lambda n: Fraction(n, 10**6))
several = st.lists(st.tuples(positive, positive), min_size=2, max_size=4)


def layup(layer: str, base: str, bond: str = "", faces: Faces = 1, *, bond_counts: bool = False) -> Layup:
    read = [parse_part(text, name, "gold") for text, name in ((layer, "layer"), (base, "base"), (bond, "bond"))]
    return laid_up(read[0], read[1], read[2] if bond else None, faces, bond_counts=bond_counts)


# ------------------------------------------------------------------------------------------------ and back is the same


@given(several)
def test_weights_to_volumes_and_back_is_the_identity(parts: list[tuple[Fraction, Fraction]]) -> None:
    weights, densities = zip(*parts, strict=True)
    shares = tuple(w / sum(weights) for w in weights)
    assert weight_shares(volume_shares(weights, densities), densities) == shares


@given(several, positive)
def test_units_of_weight_and_density_change_nothing(parts: list[tuple[Fraction, Fraction]], unit: Fraction) -> None:
    weights, densities = zip(*parts, strict=True)
    scaled = volume_shares([w * unit for w in weights], [d / unit for d in densities])
    assert scaled == volume_shares(weights, densities)


@given(st.integers(10**5, 10**8), st.integers(0, 10**7), st.integers(10**5, 10**9), st.sampled_from([1, 2, "round"]))
def test_thicknesses_laid_up_and_measured_again_are_the_same(layer: int, bond: int, base: int, faces: Faces) -> None:
    texts = [f"{nm / 10**6:.6f} mm, 9 g/cm³" for nm in (layer, base, bond)]
    laid = layup(texts[0], texts[1], texts[2] if bond else "", faces)
    whole = base + (bond + layer) * (1 if faces == 1 else 2)
    at = at_gauge(laid, whole)
    if faces == "round":
        assert float(at.layer_nm) == pytest.approx(layer, abs=1e-2)
        assert float(at.bond_nm) == pytest.approx(bond, abs=1e-2)
    else:
        assert (at.layer_nm, at.bond_nm) == (layer, bond)


def test_masses_in_other_units_make_the_same_lay_up() -> None:
    grams = layup("15.5517384 g, 12K", "311.034768 g")
    troy = layup("10 dwt, 12K", "10 ozt")
    assert (grams.weights, grams.mass_ng) == (troy.weights, troy.mass_ng)


# ------------------------------------------------------------------------------------------------------------ at gauge


def test_two_faces_share_the_layer_and_one_has_it_all() -> None:
    one, two = (at_gauge(layup("5 g, 12K, 13 g/cm³", "95 g, 8 g/cm³", faces=f), 500_000) for f in (1, 2))
    assert one.layer_nm == 2 * two.layer_nm
    assert one.content_ng == two.content_ng


def test_content_of_a_square_metre_and_of_a_strip() -> None:
    # By hand: density 1 ÷ (0.05/12.5 + 0.95/9.5) = 9.615… g/cm³; 0.5 mm × 1 m² = 500 cm³; × 25 ‰.
    laid = layup("5 g, 12K, 12.5 g/cm³", "95 g, 9.5 g/cm³")
    at = at_gauge(laid, parse_length("0.5 mm"))
    assert at.per == "m²"
    assert at.content_ng["gold"] == Fraction(500) / (Fraction("0.004") + Fraction("0.1")) * Fraction(25, 1000) * 10**9
    strip = at_gauge(laid, parse_length("0.5 mm"), parse_length("20 mm"))
    assert (strip.per, strip.mass_ng * 50) == ("m", at.mass_ng)


def test_round_stock_by_the_metre() -> None:
    at = at_gauge(layup("5 g, 12K, 9 g/cm³", "95 g, 9 g/cm³", faces="round"), parse_length("2 mm"))
    assert at.mass_ng == mass_of(PI * 10**12 * 10**9, Fraction(9))
    # A twentieth of the section in a wall: r (1 − √0.95), r = 1 mm.
    assert float(at.layer_nm) == pytest.approx(1e6 * (1 - 0.95**0.5), abs=1e-3)


def test_a_thickness_without_densities_is_refused() -> None:
    with pytest.raises(Impossible, match="a density is not stated"):
        at_gauge(layup("5 g, 12K", "95 g"), 500_000)
    with pytest.raises(Impossible, match="density of the layer is not stated"):
        layup("0.5 mm, 12K", "9.5 mm, 8.5 g/cm³")
    with pytest.raises(Impossible, match="not all stated alike"):
        layup("5 g, 12K", "9.5 mm, 8.5 g/cm³")


@pytest.mark.parametrize("text", ["5 g, 0.5 mm, 12K", "5 g, 12 k/cm", "5 oz", "5 g, 12K, 0 g/cm³"])
def test_a_part_that_cannot_be_read_is_refused(text: str) -> None:
    with pytest.raises(QuantityRefused):
        parse_part(text, "layer", "gold")


# ---------------------------------------------------------------------------------------------------------------- marks


def against(mark: str, laid: Layup) -> tuple[bool, bool, Fraction]:
    checked = marked(laid, "gold", *parse_fraction_mark(mark))
    return checked.enough_layer, checked.fine_enough, checked.over


@pytest.mark.parametrize(
    ("laid", "enough", "fine", "over"),
    [
        (layup("50 g, 12K", "950 g"), True, True, "0"),
        (layup("49 g, 12K", "951 g"), False, True, "-1/2000"),
        (layup("49 g, 14K", "951 g"), False, True, "43/12000"),
        (layup("60 g, 10K", "940 g"), True, False, "0"),
        (layup("51 g, 12K", "949 g"), True, True, "1/2000"),
    ],
)
def test_layer_and_fineness_must_both_hold(laid: Layup, enough: bool, fine: bool, over: str) -> None:
    assert against("1/20 12K", laid) == (enough, fine, Fraction(over))


def test_a_bond_counts_as_base_unless_it_is_said_to_count() -> None:
    parts = ("49 g, 14K", "946 g", "5 g, 6K")
    assert not against("1/20 12K", layup(*parts))[0]
    counted = layup(*parts, bond_counts=True)
    assert counted.layer_share == Fraction(54, 1000)
    assert counted.layer_fineness("gold") == (49 * Fraction(14, 24) + 5 * Fraction(6, 24)) / 54
    assert against("1/20 12K", counted)[:2] == (True, True)


def test_a_poor_bond_that_counts_lowers_the_layer() -> None:
    assert against("1/20 12K", layup("49 g, 12K", "946 g", "5 g", bond_counts=True))[:2] == (True, False)


def test_a_fraction_of_a_face_is_not_the_articles() -> None:
    # Two plates of a fortieth each are a twentieth of the article.
    assert against("1/20 12K", layup("1.25 mm, 12K, 9 g/cm³", "47.5 mm, 9 g/cm³", faces=2))[0]
    assert not against("1/20 12K", layup("1.25 mm, 12K, 9 g/cm³", "48.75 mm, 9 g/cm³", faces=1))[0]


@pytest.mark.parametrize(
    ("mark", "layer", "words"),
    [("1/20 12K", "50 g, 12K", "Mark met; such a layer may be called gold filled"),
     ("1/40 14K", "25 g, 14K", "Mark met; such a layer is under 1/20 of the weight, and not gold filled but rolled"),
     ("1/10 9K", "100 g, 9K", "Mark met; such a layer is under 10 karat, and not gold filled"),
     ("1/20 12K", "49.99 g, 12K", "Mark not met: its layer is less than the fraction stated; such a layer is under"),
     ("1/20 12K", "50 g, 11.9K", "Mark not met: its layer is poorer than stated; such a layer may be")],
)  # fmt: skip
def test_words_name_the_text(mark: str, layer: str, words: str) -> None:
    base = f"{decimal_text(1000 - Fraction(layer.split()[0]), 2)} g"
    said = marked(layup(layer, base), "gold", *parse_fraction_mark(mark)).words()
    assert said.startswith(words)
    assert "16 CFR 23.3" in said


def test_silver_is_told_no_law_of_gold() -> None:
    laid = layup("50 g, silver=925‰", "950 g")
    assert marked(laid, "silver", Fraction(1, 20), Fraction(925, 1000)).words() == "Mark met"


def test_what_a_month_gives_away() -> None:
    # By hand: 1 g in 1000 more layer of 12K gives away 0.5 ‰; of 100 kg that is 50 g; at 80 a gram 4000.
    over = against("1/20 12K", layup("51 g, 12K", "949 g"))[2]
    given = given_away(over, parse_mass("100 kg"), Fraction(80, NG_PER_UNIT["g"]))
    assert (given.fine_ng, given.value) == (parse_mass("50 g"), 4000)


@given(st.integers(1, 30), st.integers(1, 10**6), st.sampled_from(["0.01 g", "0.1 g", "0.01 dwt"]))
def test_a_planned_sandwich_meets_its_mark(fraction: int, grams: int, step: str) -> None:
    share = Fraction(1, fraction + 1)
    whole = grams * NG_PER_UNIT["g"]
    layer, base = planned(share, whole, Part("layer", {"gold": Fraction(1, 2)}), Part("base", {}), step=Step(step))
    laid = laid_up(layer, base)
    assert marked(laid, "gold", share, Fraction(1, 2)).meets
    assert 0 <= whole - (laid.mass_ng or 0) <= Step(step).ng + 1 or (laid.mass_ng or 0) <= whole


def test_a_plan_with_nothing_left_is_refused() -> None:
    bond = parse_part("1 g", "bond", "gold")
    with pytest.raises(Impossible, match="nothing is left for the base"):
        planned(Fraction(1, 2), parse_mass("1 g"), Part("layer", {}), Part("base", {}), bond)
