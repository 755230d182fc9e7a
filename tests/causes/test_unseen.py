"""How small a loss is found: the tests on arrays against the tests of the book, and sizes against what is known."""

from __future__ import annotations

from math import inf, sqrt
from statistics import NormalDist

import numpy as np
import pytest

from ledger.balance.judging.power import distance_needed
from ledger.balance.judging.running_tests import Balance, run, thresholds
from ledger.balance.measurement.forms import Source, Tape
from ledger.causes.unseen import unseen
from ledger.causes.unseen_measures import by_sort, counted_twice, measures
from ledger.causes.unseen_running import signals
from ledger.causes.unseen_sizes import Balances, optimum_size, smallest
from tests.causes import rolled

LIMITS = thresholds(0.0125)
SURE = NormalDist().inv_cdf(0.95)


def balances(covariance: np.ndarray | None = None, **changes: object) -> Balances:
    """Return a year of independent balances, σ 1, without a tolerance."""
    c = np.eye(12) if covariance is None else covariance
    n = len(c)
    given = {"months": (1.0,) * n, "act": 3.0, "trivial": 0.0, "tolerance": (inf,) * n, "limits": LIMITS} | changes
    return Balances(c, **given)  # type: ignore[arg-type]


@pytest.mark.parametrize("shared", [0.0, 0.3])
def test_tests_on_arrays_are_the_tests_of_the_book(shared: float) -> None:
    rng = np.random.default_rng(1)
    c = np.eye(12) + 0.2 - shared * (np.eye(12, k=1) + np.eye(12, k=-1))
    months = np.array([1.0, 2.0, *[1.0] * 9, 1.0])
    lost = rng.choice([0.0, 0.7, 2.0], (150, 1)) + rng.choice([0.0, 6.0], (150, 12), p=[0.95, 0.05])
    u = np.round((rng.standard_normal((150, 12)) @ np.linalg.cholesky(c).T + lost) * 1e6)
    found = signals(u, c * 1e12, LIMITS, months, year_ends=True)
    for year, expected in zip(u, found, strict=True):
        row = [Balance(str(i), int(x), int(m), 0, i == 11) for i, (x, m) in enumerate(zip(year, months, strict=True))]
        steps = run(row, (c * 1e12).tolist(), LIMITS)
        assert [any(s.way > 0 for s in step.signals) for step in steps] == expected.tolist()
    assert 0.1 < found.any(axis=1).mean() < 0.9


def test_each_year_may_have_its_own_covariance() -> None:
    rng = np.random.default_rng(2)
    u, both = rng.standard_normal((2, 12)) * 3, np.stack([np.eye(12), 4 * np.eye(12)])
    months = np.ones((2, 12))
    together = signals(u, both, LIMITS, months, year_ends=True)
    for i in range(2):
        assert (together[i] == signals(u[i : i + 1], both[i], LIMITS, months[0], year_ends=True)[0]).all()


def test_at_once_within_one_period_is_the_action_level_and_what_chance_adds() -> None:
    """Found with 95 % where the mean is 1.645 σ beyond 3 σ: 4.645 σ (normal distribution)."""
    found = smallest(balances(), "single", 1)
    assert found.size == pytest.approx(3 + SURE, rel=0.02)
    assert found.false_alarm == pytest.approx(0.00135, abs=0.0006)


def test_the_optimum_is_neymans_and_pearsons() -> None:
    """Of independent balances a trickle of one each month is √n σ: at a false alarm α it needs (z₁₋α + 1.645) ÷ √n."""
    year = balances()
    for horizon in (1, 3, 12):
        size = optimum_size(year, "trickle", horizon, 0.01)
        assert size == pytest.approx(distance_needed(0.95, 0.01) / sqrt(horizon), rel=1e-6)
    assert optimum_size(year, "single", 12, 0.01) == pytest.approx(distance_needed(0.95, 0.01), rel=1e-6)


def test_no_test_does_better_than_the_optimum_and_longer_is_surer() -> None:
    year = balances(np.eye(12) - 0.2 * (np.eye(12, k=1) + np.eye(12, k=-1)))
    once = [smallest(year, "single", h) for h in (1, 3, 12)]
    trickle = [smallest(year, "trickle", h) for h in (1, 3, 12)]
    for one in (*once, *trickle):
        assert one.optimum <= one.size * 1.01
        assert one.optimum_power >= 0.945
    assert trickle[0].size > trickle[1].size > trickle[2].size
    assert once[2].size <= once[0].size * 1.001


def test_a_tolerance_finds_what_sigma_would_not_and_what_is_trivial_is_not_found() -> None:
    tight = smallest(balances(tolerance=(1.0,) * 12), "single", 1)
    assert tight.size == pytest.approx(1 + SURE, rel=0.03)
    trivial = smallest(balances(trivial=9.0), "single", 1)
    assert trivial.size == pytest.approx(LIMITS.month + SURE, rel=0.02)  # a running test signals whatever is trivial


def tape() -> tuple[Tape, list[dict[int, float]]]:
    """Return three balances: a ticket's reading each, a count between them, and a sensitivity shared by all."""
    made = Tape()
    readings = [made.single(Source("reading", "S", 4.0)) for _ in range(3)]
    counts = [made.single(Source("reading", "S", 1.0)) for _ in range(2)]
    shared = made.single(Source("sensitivity", "S", 0.25))
    rows = [{r: 1.0, shared: 2.0} for r in readings]
    for i, c in enumerate(counts):
        rows[i][c], rows[i + 1][c] = 1.0, -1.0
    return made, rows


def test_sorts_of_sources_add_up_to_the_covariance() -> None:
    made, rows = tape()
    parts = by_sort(made, rows)
    assert set(parts) == {("reading", "S"), ("sensitivity", "S")}
    assert sum(parts.values()).tolist() == [[6.0, 0.0, 1.0], [0.0, 7.0, 0.0], [1.0, 0.0, 6.0]]


def test_counting_twice_leaves_the_periods_as_they_were_and_halves_what_happens_between() -> None:
    made, rows = tape()
    c = sum(by_sort(made, rows).values())
    twice = counted_twice(balances(c), made, rows)
    summed = np.kron(np.eye(3), [1.0, 1.0])
    assert summed @ twice.covariance @ summed.T == pytest.approx(c)
    assert twice.covariance[2, 2] == pytest.approx(4 / 2 + 1 + 1 + 0.25)  # half the tickets, two counts, the scale
    assert twice.months == (0.5,) * 6


def test_the_measure_that_does_most_comes_first() -> None:
    made, rows = tape()
    c = sum(by_sort(made, rows).values())
    found = measures(balances(c), made, rows)
    assert (found[0].kind, found[0].of) == ("reading", "S")
    assert found[0].single == pytest.approx(sqrt((1 + 1 / 4 + 1 + 1 + 1 / 2 + 1 + 1 + 1 / 4 + 1) / 19), rel=1e-6)
    assert {m.kind for m in found} == {"reading", "sensitivity", "count"}


def test_an_area_that_is_not_counted_says_so() -> None:
    document = unseen(rolled.book(3).connection, "gold")
    assert {a["area"]: a["reason"] for a in document["areas"]}["ROLL"] == "no period is counted and rated"
