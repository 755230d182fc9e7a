"""Student's t and the sign test against figures worked out or published by others."""

from __future__ import annotations

from fractions import Fraction
from math import sqrt
from statistics import NormalDist

import pytest

from ledger.balance.daily.inference import at_least, mean_of, sign_test, student_t, student_within


@pytest.mark.parametrize(
    ("degrees", "t"), [(1, 12.71), (2, 4.30), (3, 3.18), (4, 2.78), (5, 2.57), (10, 2.23), (20, 2.09), (50, 2.01)]
)
def test_t_of_95_per_cent(degrees: int, t: float) -> None:
    """JCGM 100:2008, Table G.2, column 95 (from memory)."""
    assert round(student_t(degrees), 2) == t


def test_expanded_uncertainty_of_the_end_gauge() -> None:
    """JCGM 100:2008, H.1.6: u = 32 nm with 16 degrees of freedom; U99 = 93 nm."""
    assert round(32 * student_t(16, 0.99)) == 93


@pytest.mark.parametrize("degrees", [1, 2, 3, 4, 7, 16, 101])
def test_t_and_its_probability_are_each_other_s_inverse(degrees: int) -> None:
    assert student_within(student_t(degrees, 0.8), degrees) == pytest.approx(0.8, abs=1e-12)


def test_many_degrees_are_nearly_normal() -> None:
    """T tends to the standard normal distribution: z + (z³ + z)/4ν + (5z⁵ + 16z³ + 3z)/96ν² + …

    Abramowitz and Stegun, 26.7.5 (from memory).
    """
    z = NormalDist().inv_cdf(0.975)
    expansion = z + (z**3 + z) / (4 * 5000) + (5 * z**5 + 16 * z**3 + 3 * z) / (96 * 5000**2)
    assert student_t(5000) == pytest.approx(expansion, abs=1e-10)


def test_a_mean_with_its_interval() -> None:
    """1, 2, 3, worked by hand: mean 2, s = 1, t(2) = 4.303: 2 ± 4.303/√3 = −0.484 … 4.484."""
    mean = mean_of([1.0, 2.0, 3.0])
    assert (mean.n, mean.mean, mean.sd) == (3, 2.0, 1.0)
    assert mean.low is not None
    assert mean.high is not None
    assert (round(mean.low, 3), round(mean.high, 3)) == (-0.484, 4.484)
    assert mean.high - mean.low == pytest.approx(2 * 4.302652729911 / sqrt(3))


def test_one_value_has_no_interval() -> None:
    assert mean_of([0.9]).low is mean_of([0.9]).sd is None


def test_twelve_settlements_all_low() -> None:
    """Twelve settlements, each 0.03 % under our assay, none of them disputed: p = 1/4096, computed by hand as 2⁻¹²."""
    signs = sign_test([30_000] * 12)
    assert (signs.positive, signs.negative, signs.p_positive) == (12, 0, Fraction(1, 4096))
    assert signs.p_either == Fraction(1, 2048)


def test_eighty_two_years_of_more_boys_than_girls() -> None:
    """J. Arbuthnott, Philosophical Transactions 27 (1710), 186-190 (from memory): 1 in 4 836 000 … (25 digits)."""
    p = sign_test([1] * 82).p_positive
    assert p is not None
    assert f"{p.denominator:.4g}" == "4.836e+24"


def test_a_mixed_split_by_hand() -> None:
    """8 of 10: (45 + 10 + 1)/1024; either way twice that. Equal ones are left out."""
    signs = sign_test([1] * 8 + [-1] * 2 + [0] * 5)
    assert signs.nothing == 5
    assert signs.p_positive == Fraction(56, 1024)
    assert signs.p_either == Fraction(112, 1024)
    assert sign_test([1, -1]).p_either == 1
    assert at_least(0, 7) == 1


def test_no_difference_has_no_probability() -> None:
    assert sign_test([0, 0]).p_positive is sign_test([]).p_either is None
