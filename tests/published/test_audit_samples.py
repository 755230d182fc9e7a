"""Sizes, upper limits, Poisson factors and Stringer's bound against printed figures."""

from __future__ import annotations

from fractions import Fraction
from math import ceil

import pytest

from ledger.audit.bounds import (
    attribute_size,
    attribute_upper_limit,
    confidence_factor,
    stringer_bound,
    unit_size,
)
from tests.published.aicpa_tables import ATTRIBUTE_SIZES, UNIT_SIZES, UPPER_LIMITS, rows


def per_cent(text: str) -> Fraction:
    return Fraction(text) / 100


def test_the_tables_are_whole() -> None:
    assert (len(rows(ATTRIBUTE_SIZES)), len(rows(UNIT_SIZES)), len(rows(UPPER_LIMITS))) == (390, 418, 462)


def test_attribute_sample_sizes() -> None:
    """AICPA Audit Guide "Audit Sampling" 2017, Tables A-1 and A-2 (S)."""
    wrong = []
    for risk, tolerable, expected, size in rows(ATTRIBUTE_SIZES):
        if attribute_size(float(per_cent(risk)), per_cent(tolerable), per_cent(expected)) != int(size):
            wrong.append((risk, tolerable, expected, size))
    assert wrong == []


def test_monetary_unit_sample_sizes() -> None:
    """AICPA 2017, Table C-1 (S): the units here are of fine content or of value, the sum is the same."""
    wrong = []
    for risk, ratio, tolerable, size in rows(UNIT_SIZES):
        share = Fraction(tolerable)
        if unit_size(float(per_cent(risk)), share, share * Fraction(ratio)) != int(size):
            wrong.append((risk, ratio, tolerable, size))
    assert wrong == []


def test_upper_limits() -> None:
    """AICPA 2017, Tables A-3 and A-4 (S), printed rounded up to a tenth of a per cent."""
    wrong = []
    for risk, n, deviations, limit in rows(UPPER_LIMITS):
        found = attribute_upper_limit(int(n), int(deviations), float(per_cent(risk)))
        if ceil(found * 1000 - 1e-9) != round(float(limit) * 10):
            wrong.append((risk, n, deviations, limit, found))
    assert wrong == []


@pytest.mark.parametrize(("errors", "factor"), [(0, "2.9957"), (1, "4.7439"), (2, "6.2958"), (3, "7.7537")])
def test_poisson_factors_at_5_per_cent(errors: int, factor: str) -> None:
    """χ² quantiles at 95 % with 2, 4, 6, 8 degrees of freedom, halved (tables, from memory)."""
    assert f"{confidence_factor(0.05, errors):.4f}" == factor


#: A course's example: interval 42,373, taints .6 .3 .1, a top item 10,699 over, risk 10 % (S).
INTERVAL, TAINTS, TOP = 42_373, (0.6, 0.3, 0.1), 10_699


def test_stringer_with_the_printed_factors() -> None:
    """172,988: factors 2.31 3.89 5.33 6.69 and each product printed to two places (auditing course text, S)."""
    factors = (2.31, 3.89, 5.33, 6.69)
    steps = [round(round(b - a, 2) * t, 2) for a, b, t in zip(factors, factors[1:], TAINTS, strict=False)]
    assert round(INTERVAL * (factors[0] + sum(steps))) + TOP == 172_988
    unrounded = stringer_bound(INTERVAL, TAINTS, 0.10, factors)
    assert unrounded == pytest.approx(INTERVAL * (2.31 + 1.58 * 0.6 + 1.44 * 0.3 + 1.36 * 0.1))


def test_stringer_exact() -> None:
    """172,584.7 with exact factors, computed here (C); 172,584.9 where factors are rounded on the way."""
    assert stringer_bound(INTERVAL, TAINTS, 0.10) + TOP == pytest.approx(172_584.73, abs=0.01)
