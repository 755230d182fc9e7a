"""Balances in sequence: what must hold whatever the figures."""

from __future__ import annotations

from itertools import pairwise
from math import sqrt
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.balance.judging.run_length import OneSided, average_run_length, legendre, threshold_for_average
from ledger.balance.judging.running_tests import YEAR, Balance, Thresholds, run, thresholds, together, words
from ledger.balance.judging.sequential import after_shared, factor, in_sequence, matched, page, residuals

Z = st.lists(st.floats(-6, 6), min_size=1, max_size=40)
MONTHS = st.integers(2, 14)


def covariance(n: int, seed: int) -> np.ndarray:
    """A positive definite matrix of balances, ng² in size."""
    forms = np.random.default_rng(seed).standard_normal((n, n + 3)) * 1e8
    return np.asarray(forms @ forms.T)


def balances(values: list[float]) -> list[Balance]:
    return [Balance(f"m{i}", round(v), 1, i // YEAR, i % YEAR == YEAR - 1) for i, v in enumerate(values)]


# ----------------------------------------------------------------------------------------------- independent residuals


@given(MONTHS, st.integers(0, 10_000))
def test_l_is_choleskys_and_the_residuals_are_its_solution(n: int, seed: int) -> None:
    # Reference: numpy (LAPACK).
    c, u = covariance(n, seed), np.random.default_rng(seed + 1).standard_normal(n) * 1e8
    rows = factor(c.tolist())
    lower = np.linalg.cholesky(c)
    assert np.allclose([[*row, *[0] * (n - len(row))] for row in rows], lower, rtol=1e-9, atol=lower.max() * 1e-12)
    assert residuals(rows, u.tolist()) == pytest.approx(np.linalg.solve(lower, u), rel=1e-6, abs=1e-9)


@given(MONTHS, st.integers(0, 10_000))
def test_the_matched_filter_is_the_quadratic_form(n: int, seed: int) -> None:
    # Reference: numpy; mᵀC⁻¹U / √(mᵀC⁻¹m).
    c, u, m = covariance(n, seed), np.arange(n) * 1e8 - 3e8, np.ones(n)
    rows = factor(c.tolist())
    found = matched(residuals(rows, u.tolist()), residuals(rows, m.tolist()))
    inverse = np.linalg.inv(c)
    assert found is not None
    assert found == pytest.approx((m @ inverse @ u / sqrt(m @ inverse @ m), sqrt(m @ inverse @ m)), rel=1e-5)


def test_a_balance_that_follows_from_the_others_tells_nothing_new() -> None:
    c = [[1.0, 0.5, 1.5], [0.5, 2.0, 2.5], [1.5, 2.5, 4.0]]  # the third is the sum of the other two
    rows = factor(c)
    assert rows[2][2] == 0.0
    assert residuals(rows, [1.0, 1.0, 2.0])[2] == 0.0
    assert residuals(factor([[0.0]]), [0.0]) == [0.0]


@given(st.lists(st.tuples(st.floats(-5, 5), st.floats(0.5, 3), st.floats(0, 2)), min_size=1, max_size=15))
def test_a_shared_error_taken_out_as_it_comes_is_the_same_as_by_matrix(rows: list[tuple[float, float, float]]) -> None:
    values, own, shared = map(list, zip(*rows, strict=True))
    c = np.diag(np.square(own)) + np.outer(shared, shared)
    assert after_shared(values, own, shared) == pytest.approx(residuals(factor(c.tolist()), values), abs=1e-8)


def test_what_stands_out_is_set_aside_and_later_months_are_not_blamed_for_it() -> None:
    c = [[1.0, 0.3, 0.3], [0.3, 1.0, 0.3], [0.3, 0.3, 1.0]]
    with_it, without = in_sequence(c, [0.5, 1000.0, 0.5], 4), in_sequence([[1.0, 0.3], [0.3, 1.0]], [0.5, 0.5], 4)
    assert with_it.aside == [False, True, False]
    assert [with_it.z[0], with_it.z[2]] == pytest.approx(without.z)
    assert residuals(factor(c), [0.5, 1000.0, 0.5])[2] < -200


# ------------------------------------------------------------------------------------------------------------- Page


@given(Z)
def test_turning_the_sign_changes_the_sides_and_nothing_else(z: list[float]) -> None:
    there, back = page(z, 0.5, 4), page([-x for x in z], 0.5, 4)
    assert [(p.missing, p.missing_since, p.signal) for p in there] == [(p.over, p.over_since, -p.signal) for p in back]


@given(Z, st.floats(0.1, 10))
def test_the_sums_scale_with_their_units(z: list[float], unit: float) -> None:
    plain, scaled = page(z, 0.5, 1e9), page([x * unit for x in z], 0.5 * unit, 1e9)
    assert [p.missing * unit for p in plain] == pytest.approx([p.missing for p in scaled], abs=1e-9)


@given(Z)
def test_the_sum_is_the_highest_excess_over_any_earlier_start(z: list[float]) -> None:
    """Page 1954: S is the largest of Σ(z − k) over the starts so far, and 0; its start is where that begins."""
    for i, p in enumerate(page(z, 0.5, 1e9)):
        sums = [sum(x - 0.5 for x in z[start : i + 1]) for start in range(i + 1)]
        assert p.missing == pytest.approx(max(0.0, *sums), abs=1e-9)
        if p.missing_since is not None:
            assert sums[p.missing_since] == pytest.approx(p.missing, abs=1e-9)


@given(Z, st.integers(0, 39))
def test_a_residual_set_aside_changes_nothing(z: list[float], at: int) -> None:
    at %= len(z)
    held = page([*z[:at], None, *z[at:]], 0.5, 4)
    del held[at]
    assert [(p.missing, p.over, p.signal) for p in held] == [(p.missing, p.over, p.signal) for p in page(z, 0.5, 4)]


def test_a_signal_starts_the_sum_anew() -> None:
    assert [p.signal for p in page([3.0] * 6, 0.5, 4)] == [0, 1, 0, 1, 0, 1]
    assert [p.signal for p in page([3.0] * 6, 0.5, 4, restart=False)] == [0, 1, 1, 1, 1, 1]


# ------------------------------------------------------------------------------------------------------- run lengths


def test_quadrature_is_numpys() -> None:
    nodes, weights = legendre(24)
    of_numpy = np.polynomial.legendre.leggauss(24)
    assert sorted(nodes) == pytest.approx(of_numpy[0], abs=1e-14)
    assert sum(weights) == pytest.approx(2)
    assert dict(zip(nodes, weights, strict=True))[max(nodes)] == pytest.approx(of_numpy[1][-1])


@pytest.mark.parametrize(("k", "h"), [(0.25, 4.0), (0.5, 5.0), (1.0, 2.0)])
def test_the_integral_equation_agrees_with_a_markov_chain(k: float, h: float) -> None:
    """Brook and Evans, Biometrika 59 (1972) (from memory): the sum in 400 steps; the error falls with the square."""
    cells, below = 400, np.vectorize(lambda x: NormalDist().cdf(x) if np.isfinite(x) else 0.0)
    width = 2 * h / (2 * cells - 1)
    edges = np.r_[-np.inf, (np.arange(cells) + 0.5) * width]
    move = np.array([np.diff(below(edges + k - i * width)) for i in range(cells)])
    chain = np.linalg.solve(np.eye(cells) - move, np.ones(cells))[0]
    assert OneSided(k, h).average() == pytest.approx(chain, rel=1e-3)


@given(st.floats(20, 1e5))
def test_a_threshold_gives_back_its_run_length(run_length: float) -> None:
    assert average_run_length(0.5, threshold_for_average(0.5, run_length)) == pytest.approx(run_length, rel=1e-6)


# -------------------------------------------------------------------------------------------------- the tests together


def test_rarer_alarms_want_higher_thresholds() -> None:
    rates = [0.7, 0.2, 0.05, 0.0125, 0.003, 1e-4, 1e-7]
    found = [thresholds(rate) for rate in rates]
    for often, rarely in pairwise(found):
        assert often.page < rarely.page
        assert often.month < rarely.month
        assert often.trickle < rarely.trickle
    assert thresholds(0.5) == thresholds(9.0)
    assert all(1 <= together(rate) < 1.5 for rate in rates)


@given(st.lists(st.floats(-5, 5), min_size=1, max_size=30), st.integers(0, 1000))
def test_sign_and_unit_of_mass_change_no_test(values: list[float], seed: int) -> None:
    n, limits = len(values), thresholds(0.1)
    c = covariance(n, seed)
    u = (np.linalg.cholesky(c) @ np.array(values)).round()
    plain = run(balances(u.tolist()), c.tolist(), limits)
    turned = run(balances((-u * 1024).tolist()), (c * 1024.0**2).tolist(), limits)
    assert [s.residual for s in plain] == pytest.approx([-s.residual for s in turned])
    assert [[(x.test, x.way, x.since) for x in s.signals] for s in plain] == [
        [(x.test, -x.way, x.since) for x in s.signals] for s in turned
    ]


def test_a_signal_says_which_way_since_when_and_by_how_much() -> None:
    limits = Thresholds(0.05, 3.0, 9.0, 9.0)
    steps = run(balances([0, -100, 250, 250]), np.diag([1e4] * 4).tolist(), limits)
    assert [len(s.signals) for s in steps] == [0, 0, 0, 1]
    told = "the running test has signalled since m2: missing (Page's sum of missing, 4.0 against 3.0)"
    assert words(steps[3].signals) == told
