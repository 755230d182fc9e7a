"""What is found in tables of tickets: planted losses, nothing where there is nothing, and what cannot be parted."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest

from ledger.causes.patterns.comparisons import Name, comparisons
from ledger.causes.patterns.found import find
from ledger.causes.patterns.permutation import against_shuffles
from ledger.causes.patterns.scores import independent, sheet
from ledger.causes.patterns.tickets import Level
from tests.causes.ticket_tables import BUFF, ROLL, by, drawn, shop, ticket, worked

SHUFFLES = 1_999


def test_p_values_are_those_of_all_orders() -> None:
    """Of 7! orders in one stratum and 3! in another, by listing all (arithmetic)."""
    scores = np.array([1.2, -0.4, 0.3, 0.9, -1.1, 0.2, -0.6, 2.0, 0.1, -0.3])
    columns = np.array([[1.0], [0], [0], [1], [0], [0], [1], [1], [0], [0]])
    strata = np.array([0] * 7 + [1] * 3)
    first = [sum(scores[list(order)] * columns[:7, 0]) for order in permutations(range(7))]
    second = [sum(scores[[7 + i for i in order]] * columns[7:, 0]) for order in permutations(range(3))]
    sums = np.add.outer(first, second).ravel()
    off = abs(float(scores @ columns[:, 0]) - sums.mean())
    exact = float((np.abs(sums - sums.mean()) >= off * (1 - 1e-9)).mean())
    found = against_shuffles(scores, columns, strata, 40_000)
    assert found.p[0] == pytest.approx(exact, abs=0.03)
    assert found.z[0] == pytest.approx((scores @ columns[:, 0] - sums.mean()) / sums.std(), rel=1e-9)


def test_what_the_tickets_of_a_month_share_is_taken_out() -> None:
    """L⁻¹ makes the covariance diag(σ²) + drift·driftᵀ the identity (linear algebra by numpy)."""
    tickets = [ticket(n, ROLL, by(worker="A")) for n in range(5)] + [ticket(9, ROLL, by(worker="A"), "2026-11")]
    own, drift = ROLL[1], ROLL[2]
    covariance = np.diag([own**2] * 6)
    covariance[:5, :5] += drift**2
    covariance[5, 5] += drift**2
    expected = np.linalg.inv(np.linalg.cholesky(covariance))
    assert independent(tickets, np.eye(6)) == pytest.approx(expected, rel=1e-9)


def test_one_who_takes_a_little_of_every_ticket_is_named_with_the_size() -> None:
    tickets = drawn(shop(), 7, lambda t: 0.0005 * worked(t, "B"))
    (found,) = find(tickets, SHUFFLES).patterns
    assert found.comparison.name == Name(Level("worker", "B"), "roll")
    assert found.effect is not None
    assert found.effect.low < 0.0005 < found.effect.high
    assert found.effect.share == pytest.approx(0.0005, rel=0.3)


def test_one_who_works_in_two_operations_and_takes_in_one_is_named_there() -> None:
    tickets = drawn(shop(), 8, lambda t: 0.0006 * worked(t, "A", "roll"))
    named = [pattern.comparison.name for pattern in find(tickets, SHUFFLES).patterns]
    assert named == [Name(Level("worker", "A"), "roll")]


def test_a_worker_who_is_always_on_one_machine_cannot_be_told_from_it() -> None:
    tickets = drawn(shop(), 9, lambda t: 0.002 * worked(t, "D"))
    (found,) = find(tickets, SHUFFLES).patterns
    names = {found.comparison.name.level, *(a.name.level for a in found.inseparable if a.way == "with")}
    against = {a.name.level for a in found.inseparable if a.way == "against"}
    assert found.effect is not None
    assert found.effect.share > 0
    assert names >= {Level("worker", "D"), Level("machine", "buff of D")}
    assert Level("machine", "buff of A") in against


def test_a_ticket_keyed_wrong_smears_nobody_and_hides_nobody() -> None:
    tickets = drawn(shop(), 10)
    one = next(i for i, t in enumerate(tickets) if worked(t, "C"))
    wild = replace(tickets[one], excess=round(5000 * tickets[one].sigma))
    assert find([*tickets[:one], wild, *tickets[one + 1 :]], SHUFFLES).patterns == []
    taken = drawn(shop(), 10, lambda t: 0.0005 * worked(t, "B"))
    wild = replace(taken[one], excess=round(5000 * taken[one].sigma))
    named = [p.comparison.name for p in find([*taken[:one], wild, *taken[one + 1 :]], SHUFFLES).patterns]
    assert named == [Name(Level("worker", "B"), "roll")]


def test_one_who_takes_from_some_tickets_only_lies_wide() -> None:
    tickets = shop(months=6)
    chosen = {t.number for i, t in enumerate(tickets) if worked(t, "B") and i % 4 == 0}
    found = find(drawn(tickets, 11, lambda t: 0.002 * (t.number in chosen)), SHUFFLES).patterns
    wide = [p for p in found if p.what == "scatter"]
    assert [p.comparison.name.level for p in found] == [Level("worker", "B")] * len(found)
    assert wide or found
    for pattern in wide:
        assert pattern.odds is not None
        assert pattern.odds.low > 1


def test_an_alloy_that_loses_more_is_no_worker_who_does() -> None:
    """Stratify: whoever has the worse alloy more often must not be named for it."""
    rng = np.random.default_rng(3)
    tickets = []
    for n in range(120):
        material = "G14" if n % 3 == 0 else "G12"
        worker = "A" if rng.random() < (0.8 if material == "G14" else 0.2) else "B"
        tickets.append(ticket(n, ROLL, by(worker=worker), material=material))
    assert find(drawn(tickets, 4, lambda t: 0.001 * (t.stratum.material == "G14")), SHUFFLES).patterns == []


def test_a_bad_month_is_no_worker_who_had_most_of_it() -> None:
    """Drift: what an operation loses more for a month is not put down to who worked most then."""
    rng, drifting = np.random.default_rng(5), ("draw", 0.0002, 0.0002, 100)
    false = 0
    for seed in range(20):
        tickets = []
        for month in range(6):
            much = rng.random()
            for n in range(25):
                worker = "A" if rng.random() < much else "B"
                tickets.append(ticket(100 * month + n, drifting, by(worker=worker), f"2026-{month + 1:02d}"))
        false += bool(find(drawn(tickets, seed), SHUFFLES).patterns)
    assert false <= 3  # of twenty at one in twenty each: more than three in one of sixty (binomial)


def test_nothing_where_there_is_nothing() -> None:
    assert sum(bool(find(drawn(shop(seed), seed), SHUFFLES).patterns) for seed in range(12)) <= 2


def test_intervals_cover() -> None:
    covered = 0
    for seed in range(40):
        tickets = drawn(shop(seed), 100 + seed, lambda t: 0.0008 * worked(t, "B"))
        pattern = next(p for p in find(tickets, SHUFFLES).patterns if p.comparison.name.level == Level("worker", "B"))
        assert pattern.effect is not None
        covered += pattern.effect.low <= 0.0008 <= pattern.effect.high
    assert covered >= 34  # of forty at 95 %: fewer than one in three hundred (binomial)


def test_a_stated_spread_that_is_wrong_makes_no_pattern() -> None:
    """Shuffling takes the scatter from the tickets themselves."""
    tickets = [replace(t, excess=3 * t.excess) for t in drawn(shop(2), 12)]
    assert find(tickets, SHUFFLES).patterns == []


def test_the_two_levels_of_a_factor_are_one_comparison() -> None:
    tickets = [ticket(n, BUFF, by(worker="AB"[n % 2])) for n in range(20)]
    found, untested = comparisons(sheet(drawn(tickets, 1)))
    (one,) = found
    assert (one.name.level.code, [(a.name.level.code, a.way) for a in one.aliases]) == ("A", [("B", "against")])
    assert untested == []


def test_who_cannot_be_compared_is_said() -> None:
    alone = [ticket(n, BUFF, by(worker="A")) for n in range(20)]
    few = [ticket(100 + n, ROLL, by(worker="C" if n < 4 else "D")) for n in range(20)]
    _, untested = comparisons(sheet(drawn([*alone, *few], 1)))
    assert [(u.level.code, u.why) for u in untested] == [("A", "always"), ("C", "too few"), ("D", "too few")]


def test_the_same_tickets_give_the_same_answer() -> None:
    tickets = drawn(shop(), 7, lambda t: 0.0003 * worked(t, "B"))
    assert [p.p for p in find(tickets, SHUFFLES).patterns] == [p.p for p in find(tickets, SHUFFLES).patterns]
    assert find([]).patterns == []
