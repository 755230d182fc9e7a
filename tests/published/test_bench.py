"""Published values of alloying, clad metal and reduction.

The source stands beside each check. "Computed" means worked out here from first principles, and published nowhere.
"""

from __future__ import annotations

from fractions import Fraction

import periodictable
import pytest

from ledger.bench.charge import make_charge
from ledger.bench.charge_forms import Figures, Step, Wanted, Window, parse_source
from ledger.bench.charge_karat import alligate, mean_fineness, to_add
from ledger.bench.gauge import PI, awg_nm, parse_length, powered
from ledger.bench.layup import at_gauge, laid_up, volume_shares
from ledger.bench.layup_density import DENSITY, by_mixture
from ledger.bench.layup_forms import parse_part
from ledger.bench.reduce import Limits, bite_nm, schedule
from ledger.quantities.fineness import parse_fineness
from ledger.quantities.mass import decimal_text, in_unit
from ledger.refusals import Impossible


def karat(number: int) -> Fraction:
    return Fraction(number, 24)


def all_of_it(target: str, *sources: str, step: str, metal: str = "gold") -> dict[str, Fraction]:
    """Return what a charge of all that is on hand takes, in the unit of the step."""
    fineness = parse_fineness(target)
    wanted = Wanted(metal, {metal: Window(fineness, fineness)}, None, target)
    charge = make_charge(wanted, [parse_source(one, metal) for one in sources], step=Step(step))
    assert charge.fineness[metal] == fineness
    unit = Step(step).unit
    return {line.source.name: in_unit(line.mass_ng, unit) for line in charge.lines}


# ---------------------------------------------------------------------------------------------- raising and lowering


def test_six_ounces_of_pure_gold_to_sixteen_carat() -> None:
    # Warren, Mechanical Dentistry and Metallurgy, p. 206–207 (read in a copy): 3 oz of alloy.
    assert to_add(6, karat(24), karat(16), karat(0)) == 3
    assert all_of_it("16K", "6 ozt, 24K", "alloy: 0", step="0.001 ozt")["alloy"] == 3


@pytest.mark.parametrize(("addition", "takes"), [(24, "1/3"), (22, "1/2")])
def test_a_pennyweight_of_sixteen_carat_to_eighteen(addition: int, takes: str) -> None:
    # The same pages (read in a copy): a third of a pennyweight of pure gold, or half of one of 22 carat.
    assert to_add(1, karat(16), karat(18), karat(addition)) == Fraction(takes)


def test_fourteen_karat_lowered_to_ten_and_raised_back() -> None:
    # Trade tables (read in a copy), arithmetic: 25 dwt 14K + 10 alloy = 35 dwt 10K; 25 dwt 10K + 10 fine = 35 dwt 14K.
    assert to_add(25, karat(14), karat(10), karat(0)) == 10
    assert to_add(25, karat(10), karat(14), karat(24)) == 10
    assert all_of_it("10K", "25 dwt, 14K", "alloy: 0", step="0.01 dwt") == {"14K": 25, "alloy": 10}
    assert all_of_it("14K", "25 dwt, 10K", "fine: 24K", step="0.01 dwt") == {"10K": 25, "fine": 10}


def test_seven_grams_of_ten_karat_to_fourteen() -> None:
    # Trade tables (read in a copy), arithmetic: 2.8 g of fine gold.
    assert to_add(7, karat(10), karat(14), karat(24)) == Fraction("2.8")
    assert all_of_it("14K", "7 g, 10K", "fine: 24K", step="0.01 g")["fine"] == Fraction("2.8")


def test_four_kinds_to_twenty_one_carat() -> None:
    # Mathematics compiled from the Best Authors, vol. 1, p. 129 (read in a copy): to 21 carat from 17, 18, 22 and 24,
    # e.g. 3, 1, 3 and 4 parts; not the only answer.
    kinds = [karat(17), karat(18), karat(22), karat(24)]
    parts = alligate(karat(21), kinds)
    assert [part * 24 for part in parts] == [3, 1, 3, 4]
    assert mean_fineness(zip(parts, kinds, strict=True)) == karat(21)


def test_what_cannot_be_made_twenty_two_carat_by_adding_alloy() -> None:
    # Old arithmetic, p. 327 (read in a copy): 5 lb of 20 carat and 8 lb of 18 cannot be made 22; 3 3/13 carat short.
    mixed = mean_fineness([(5, karat(20)), (8, karat(18))])
    assert (karat(22) - mixed) * 24 == 3 + Fraction(3, 13)
    with pytest.raises(Impossible, match="falls 3 3/13 karat short"):
        to_add(13, mixed, karat(22), karat(0))


def test_the_refused_case_is_refused_with_the_nearest_and_what_is_missing() -> None:
    # The same case. The 21 lb of fine gold are computed: 13 × (3 3/13) ÷ (24 − 22).
    with pytest.raises(Impossible) as refused:
        all_of_it("22K", "5 lb, 20K", "8 lb, 18K", "alloy: 0", step="0.001 lb")
    fault = refused.value.faults[0]
    assert fault.what == (
        "5.000 lb of 20K, 8.000 lb of 18K and alloy cannot be made 22K: the nearest holds 18 10/13 karat (782.051 ‰) "
        "of gold and falls 3 3/13 karat short"
    )
    assert fault.mend == "add 21.000 lb of fine gold"


# ------------------------------------------------------------------------------------------------ density and clad


@pytest.mark.parametrize(
    ("metal", "symbol"),
    [("gold", "Au"), ("silver", "Ag"), ("copper", "Cu"), ("nickel", "Ni"), ("zinc", "Zn"), ("platinum", "Pt"),
     ("palladium", "Pd")],
)  # fmt: skip
def test_densities_of_metals(metal: str, symbol: str) -> None:
    # Reference library: periodictable, to the digits given here.
    assert float(DENSITY[metal]) == pytest.approx(getattr(periodictable, symbol).density, abs=0.005)


def test_fourteen_karat_by_the_rule_of_mixtures() -> None:
    # Published density example (read in a copy): 583 Au, 104 Ag, 313 Cu: 13.33 g/cm³.
    mixed = by_mixture({"gold": Fraction("0.583"), "silver": Fraction("0.104"), "copper": Fraction("0.313")})
    assert mixed is not None
    assert decimal_text(mixed, 2) == "13.33"


def test_the_rule_of_mixtures_is_no_measurement() -> None:
    # Alloy data sheets (read in a copy) give 8.53 for 70/30 brass, for which the rule gives 8.32.
    mixed = by_mixture({"copper": Fraction(7, 10), "zinc": Fraction(3, 10)})
    assert mixed is not None
    assert decimal_text(mixed, 2) == "8.32"


def test_layer_of_a_twentieth_of_fourteen_karat_on_brass() -> None:
    # Computed: 1/20 14K (13.07 g/cm³) on C26000 (8.53): 3.321 % of the thickness, 16.6 µm of 0.500 mm.
    share, _ = volume_shares([Fraction(1, 20), Fraction(19, 20)], [Fraction("13.07"), Fraction("8.53")])
    assert decimal_text(share * 100, 3) == "3.321"
    layer, base = (parse_part(text, "", "gold") for text in ("5 g, 14K, 13.07 g/cm³", "95 g, 8.53 g/cm³"))
    assert decimal_text(at_gauge(laid_up(layer, base), parse_length("0.500 mm")).layer_nm / 1000, 1) == "16.6"


# -------------------------------------------------------------------------------------------------------- reduction


def test_a_metre_of_rod_drawn_to_wire() -> None:
    # Published wire-drawing example (read in a copy): 1 m of 5.5 mm drawn to 0.25 mm is 484 m long.
    limits = Limits(share=Fraction(1, 5), step_nm=1000)
    passes = schedule("draw", parse_length("5.5 mm"), parse_length("0.25 mm"), limits)
    assert passes[-1].longer == 484


@pytest.mark.parametrize(("gauge", "inches"), [(10, "0.1019"), (18, "0.0403"), (24, "0.0201"), (36, "0.0050")])
def test_american_wire_gauge(gauge: int, inches: str) -> None:
    # ASTM B258 (read in a copy).
    assert decimal_text(Fraction(awg_nm(gauge), 25_400_000), 4) == inches


def test_one_gauge_takes_a_fifth_of_the_section() -> None:
    # ASTM B258 (read in a copy): 20.70 % of the area.
    assert decimal_text((1 - powered(Fraction(92), Fraction(-2, 39))) * 100, 2) == "20.70"


def test_passes_by_the_bite_of_the_rolls() -> None:
    # Published rolling example (read in a copy): 30 to 10 mm, rolls of 600 mm, µ 0.1: at most 3 mm a pass, so 7 passes.
    draft = bite_nm(Fraction("0.1"), parse_length("600 mm"))
    assert draft == parse_length("3 mm")
    passes = schedule("roll", parse_length("30 mm"), parse_length("10 mm"), Limits(draft_nm=draft))
    assert len(passes) == 7
    assert all(one.before_nm - one.after_nm <= draft for one in passes)


def test_pi_against_the_standard_library() -> None:
    from math import pi

    assert float(PI) == pi


def test_a_working_is_written_in_the_unit_asked_for() -> None:
    assert Figures("dwt", 2).mass(1_555_173_840) == "1.00 dwt"
