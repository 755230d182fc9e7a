"""The power ceiling of a loss of known pattern; from Neyman and Pearson's lemma, figures computed (checks.md: C)."""

from __future__ import annotations

from math import sqrt
from statistics import NormalDist

import pytest

from ledger.balance.judging.power import detection_probability, distance, distance_needed

PHI = NormalDist().cdf


def test_ninety_five_per_cent_at_five_per_cent_false_alarm_needs_3_2897_sigma() -> None:
    assert distance_needed(0.95, 0.05) == pytest.approx(3.2897, abs=5e-5)
    assert detection_probability([3.2897], [[1.0]], 0.05) == pytest.approx(0.95, abs=5e-6)


def test_a_three_sigma_rule_finds_only_61_4_per_cent_there() -> None:
    assert PHI(3.2897 - 3) == pytest.approx(0.614, abs=5e-4)
    assert detection_probability([3.2897], [[1.0]], 1 - PHI(3.0)) == pytest.approx(0.614, abs=5e-4)


def test_independent_months_add_in_squares() -> None:
    """Twelve months of 1 σ each are √12 σ of the matched filter (arithmetic)."""
    twelve = [[float(i == j) for j in range(12)] for i in range(12)]
    assert distance([1.0] * 12, twelve) == pytest.approx(sqrt(12))


def test_shared_error_is_counted_once_and_cancels_where_it_can() -> None:
    """C = I + 4·11ᵀ: m = (1, 1) by the Sherman–Morrison formula 2/(1 + 8), m = (1, −1) as if nothing were shared."""
    shared = [[5.0, 4.0], [4.0, 5.0]]
    assert distance([1.0, 1.0], shared) == pytest.approx(sqrt(2 / 9))
    assert distance([1.0, -1.0], shared) == pytest.approx(sqrt(2))


def test_what_has_no_error_shows_everything() -> None:
    """Two balances with one and the same error: their difference has none, and a loss in one is seen for certain."""
    same = [[1.0, 1.0], [1.0, 1.0]]
    assert detection_probability([0.0, 1e-3], same, 0.0027) == 1.0
    assert distance([1.0, 1.0], same) == pytest.approx(1.0)


def test_no_loss_is_found_as_often_as_falsely_alarmed() -> None:
    assert detection_probability([0.0, 0.0], [[1.0, 0.0], [0.0, 2.0]], 0.0125) == pytest.approx(0.0125)
