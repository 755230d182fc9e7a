"""Published values of the statistics by which patterns are judged. The source stands beside each."""

from __future__ import annotations

import pytest

from ledger.causes.patterns.benjamini_hochberg import adjusted, level
from ledger.causes.patterns.mantel_haenszel import Table, odds_ratio

#: Fifteen p-values of a trial of treatments. Benjamini and Hochberg 1995, section 3.2.
P_VALUES = [0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719, 0.6528,
            0.7590, 1.0]  # fmt: skip

#: Admitted and rejected men, admitted and rejected women, by department. R datasets, UCBAdmissions (from memory).
BERKELEY = [
    Table(512, 313, 89, 19), Table(353, 207, 17, 8), Table(120, 205, 202, 391), Table(138, 279, 131, 244),
    Table(53, 138, 94, 299), Table(22, 351, 24, 317),
]  # fmt: skip


def test_four_of_fifteen_are_rejected_where_bonferroni_rejects_three() -> None:
    assert level(P_VALUES, 0.05) == 0.0095
    assert sum(q <= 0.05 for q in adjusted(P_VALUES)) == 4
    assert sum(p <= 0.05 / len(P_VALUES) for p in P_VALUES) == 3


def test_the_order_of_the_p_values_does_not_matter() -> None:
    assert adjusted(P_VALUES[::-1]) == adjusted(P_VALUES)[::-1]
    assert level([0.2, 0.9], 0.05) == 0.0


def test_admissions_by_department_turn_the_odds_round() -> None:
    """Odds ratio .9047 within departments, 1.841 when they are thrown together (R, mantelhaen.test; from memory)."""
    within = odds_ratio(BERKELEY)
    together = odds_ratio([Table(*(sum(column) for column in zip(*BERKELEY, strict=True)))])
    assert within is not None
    assert together is not None
    assert within.ratio == pytest.approx(0.9047, abs=5e-5)
    assert together.ratio == pytest.approx(1.841, abs=5e-4)
    assert within.low < 1 < within.high
    assert together.low > 1


def test_the_variance_is_woolfs_where_there_is_one_table() -> None:
    """Of one table the variance of the logarithm is 1/a + 1/b + 1/c + 1/d (Woolf 1955; arithmetic)."""
    from math import exp, log, sqrt

    found = odds_ratio([Table(20, 80, 10, 90)])
    assert found is not None
    reach = 1.959964 * sqrt(1 / 20 + 1 / 80 + 1 / 10 + 1 / 90)
    assert (found.low, found.high) == pytest.approx((exp(log(2.25) - reach), exp(log(2.25) + reach)), rel=1e-5)


def test_odds_that_are_nothing_or_endless_are_none() -> None:
    assert odds_ratio([Table(0, 5, 3, 4)]) is None
    assert odds_ratio([]) is None
