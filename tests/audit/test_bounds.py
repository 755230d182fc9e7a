"""Bounds: scipy as the reference on random cases, and what holds whatever the case."""

from __future__ import annotations

from fractions import Fraction
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.audit import bounds

RISKS = (0.01, 0.05, 0.1, 0.2, 0.37)


def test_binomial_and_its_upper_limit_as_scipy_has_them() -> None:
    stats = pytest.importorskip("scipy.stats")
    random = Random(7)
    for _ in range(150):
        n = random.randrange(1, 3000)
        k, p, risk = random.randrange(0, min(n, 60)), random.random() * 0.2, random.choice(RISKS)
        assert bounds.binomial_at_most(k, n, p) == pytest.approx(stats.binom.cdf(k, n, p), rel=1e-9, abs=1e-300)
        limit = 1.0 if k == n else stats.beta.ppf(1 - risk, k + 1, n - k)
        assert bounds.attribute_upper_limit(n, k, risk) == pytest.approx(limit, rel=1e-9)


def test_incomplete_gamma_and_poisson_factors_as_scipy_has_them() -> None:
    special, stats = pytest.importorskip("scipy.special"), pytest.importorskip("scipy.stats")
    random = Random(8)
    for _ in range(300):
        a, x = 0.5 + random.random() * 80, random.random() * 120
        assert bounds.gamma_above(a, x) == pytest.approx(special.gammaincc(a, x), rel=1e-9, abs=1e-14)
        risk, errors = random.choice(RISKS), random.random() * 50
        assert bounds.confidence_factor(risk, errors) == pytest.approx(stats.gamma.ppf(1 - risk, errors + 1), rel=1e-9)


def test_a_unit_size_is_the_least_that_bounds_what_is_expected() -> None:
    """Beside the gamma quantile: with n units and n × expected errors the limit is the tolerable, and n − 1 misses."""
    stats = pytest.importorskip("scipy.stats")
    random = Random(9)
    for _ in range(60):
        risk, tolerable = random.choice(RISKS), Fraction(random.randrange(5, 300), 1000)
        expected = tolerable * Fraction(random.randrange(0, 6), 10)
        n = bounds.unit_size(risk, tolerable, expected)
        assert n is not None

        def limit(size: int, risk: float = risk, expected: Fraction = expected) -> float:
            return float(stats.gamma.ppf(1 - risk, 1 + size * float(expected)) / size)

        assert limit(n) <= float(tolerable) * (1 + 1e-9)
        assert n == 1 or limit(n - 1) > float(tolerable) * (1 - 1e-9)


@given(st.sampled_from(RISKS), st.integers(1, 40), st.integers(0, 39))
def test_an_attribute_size_is_the_least(risk: float, tolerable: int, expected: int) -> None:
    t, e = Fraction(tolerable, 100), Fraction(min(expected, tolerable - 1), 200)
    n = bounds.attribute_size(risk, t, e)
    assert n is not None
    allowed = -(-n * e.numerator // e.denominator)
    assert bounds.binomial_at_most(allowed, n, float(t)) <= risk
    before = -(-(n - 1) * e.numerator // e.denominator)
    assert n == 1 or bounds.binomial_at_most(before, n - 1, float(t)) > risk


def test_no_size_tells_the_expected_from_the_tolerable() -> None:
    assert bounds.unit_size(0.05, Fraction(5, 100), Fraction(5, 100)) is None
    assert bounds.unit_size(0.05, Fraction(5, 100), Fraction(4999, 100000)) is None
    assert bounds.attribute_size(0.05, Fraction(5, 100), Fraction(499, 10000)) is None


@given(st.lists(st.floats(0, 1), max_size=12), st.sampled_from(RISKS))
def test_stringer_lies_between_no_error_and_all_of_it(taints: list[float], risk: float) -> None:
    bound = bounds.stringer_bound(1.0, taints, risk)
    assert bounds.confidence_factor(risk, 0) <= bound + 1e-12
    assert bound <= bounds.confidence_factor(risk, len(taints)) + 1e-9
    assert bound >= sum(t for t in taints if t > 0) - 1e-9


def test_stringer_of_whole_taints_is_the_poisson_bound() -> None:
    assert bounds.stringer_bound(10.0, [1, 1, 1], 0.05) == pytest.approx(10 * bounds.confidence_factor(0.05, 3))
