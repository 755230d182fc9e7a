"""The strip test: content by residue and bead, its σ beside `uncertainties`, refusals, and what its page must say.

Figures are invented. That acid takes copper and silver out of low-karat layers and may leave bond behind is common
practice, no source.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from ledger.bench.strip import Sample, Stripped, Worth, against_mark, of_lot, strip
from ledger.plant.measuring import MethodWorth, Scale
from ledger.refusals import WrongUsage

G = 10**9
LAB = Scale.model_validate({"code": "LAB", "division": "0.0001 g", "repeatability": "0.0002 g"})
FIRE = MethodWorth(Fraction(3, 10_000), Fraction(2, 10_000), Fraction(1, 10_000))


def sample(whole: str, left: str, assay: str | None = None) -> Sample:
    fineness = None if assay is None else Fraction(assay) / 1000
    return Sample(round(Fraction(whole) * G), round(Fraction(left) * G), fineness)


def test_residue_times_its_own_assay() -> None:
    """0.1262/2.5 × 512 ‰ = 25.845 76 ‰: 0.845 76 above 1/20 12K; 100 g hold 2.584 576 g."""
    found = strip([sample("2.5", "0.1262", "512")])
    assert found.fineness == Fraction("25.84576") / 1000
    assert against_mark(found, Fraction(1, 20), Fraction(1, 2)) == Fraction("0.84576") / 1000
    assert of_lot(found, 100 * G) == Fraction("2.584576") * G
    assert (found.basis, found.rests_on) == ("measured", "residue")


def test_the_bead_of_the_whole_sample() -> None:
    found = strip([sample("5.0", "0.125"), sample("4.0", "0.104")], bead=True)
    assert found.by_test == (Fraction(25, 1000), Fraction(26, 1000))
    assert found.fineness == Fraction(51, 2000)


def test_without_either_it_is_an_estimate_and_says_which_way_it_errs() -> None:
    """Residue taken as a 12K layer, ± 20 % assumed."""
    found = strip([sample("2.5", "0.1262")], layer=Fraction(1, 2), worth=Worth(LAB, FIRE))
    assert (found.basis, found.fineness) == ("estimated", Fraction("25.24") / 1000)
    assert found.sigma == pytest.approx(0.2 * 0.02524)
    (bias,) = found.bias
    assert "copper and silver" in bias
    assert "reads low" in bias
    assert "bond left on it" in bias


def test_silver_of_a_residue_is_a_lower_bound() -> None:
    found = strip([sample("2.5", "0.1262", "100")], metal="silver")
    assert any("lower bound" in sentence for sentence in found.bias)


def test_nothing_to_go_by_is_refused() -> None:
    with pytest.raises(WrongUsage, match="nothing says what the residue holds"):
        strip([sample("2.5", "0.1262")])


def test_a_sample_that_did_not_dissolve_is_refused() -> None:
    with pytest.raises(WrongUsage, match="as much as the sample"):
        strip([sample("2.5", "2.5", "512")])


def test_sigma_of_one_sample_beside_uncertainties() -> None:
    """Reference library: uncertainties. Repeatability and sampling of the residue's assay, two readings, the bias."""
    u = LAB.weighing_sd_ng / 1e9
    r, s, a = ufloat(0.1262, u), ufloat(2.5, u), ufloat(0.512, (0.0003**2 + 0.0002**2) ** 0.5)
    bias = ufloat(0, 0.0001)
    expected = (r / s * (a + bias)).std_dev
    assert strip([sample("2.5", "0.1262", "512")], worth=Worth(LAB, FIRE)).sigma == pytest.approx(expected, rel=1e-9)


def test_sigma_of_a_bead_beside_uncertainties() -> None:
    u = LAB.weighing_sd_ng / 1e9
    article = ufloat(0.125, u) / ufloat(5.0, u) + ufloat(0, (0.0003**2 + 0.0002**2 + 0.0001**2) ** 0.5)
    assert strip([sample("5.0", "0.125")], bead=True, worth=Worth(LAB, FIRE)).sigma == pytest.approx(article.std_dev)


def test_sigma_of_several_samples_is_their_scatter_and_the_bias_that_they_share() -> None:
    """Finenesses 25, 26, 27 ‰: s = 1 ‰, over √3, and the bias 0.1 ‰, which no number of samples lowers. GUM 4.2."""
    tests = [sample("5.0", left) for left in ("0.125", "0.130", "0.135")]
    found = strip(tests, bead=True, worth=Worth(LAB, FIRE))
    assert found.sigma == pytest.approx((1e-6 / 3 + 1e-8) ** 0.5)


def test_no_sigma_without_scale_and_method() -> None:
    assert strip([sample("2.5", "0.1262", "512")]).sigma is None
    assert strip([sample("2.5", "0.1262", "512")], worth=Worth(LAB, None)).sigma is None


@given(st.integers(1, 10**6), st.integers(1, 10**6), st.integers(0, 1000), st.sampled_from([10**3, 10**6, 64_798_910]))
def test_the_unit_changes_nothing(part: int, rest: int, assay: int, unit: int) -> None:
    def found(per: int) -> Stripped:
        return strip([Sample((part + rest) * per, part * per, Fraction(assay, 1000))])

    assert found(1).fineness == found(unit).fineness
    assert 0 <= found(1).fineness <= 1
