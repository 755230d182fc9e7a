"""What is learned of a rate against a known truth: simulated tickets, no book."""

from __future__ import annotations

from math import sqrt
from random import Random
from statistics import fmean

import pytest

from ledger.balance.rates.learned import Deviation, Learned, Observed, Scatter, learn
from ledger.balance.rates.robust import theil_sen
from ledger.balance.rates.shrinkage import shrinkage

RATE, SPREAD, DRIFT = 0.0005, 0.0001, 0.00004
IN_FORCE = Scatter(SPREAD, DRIFT)


def tickets(random: Random, months: int, each_month: int, wild: float = 0.0) -> list[Observed]:
    """Return tickets of one true rate; their weighings differ in worth. ``wild``: share of blunders, mostly losses."""
    found = []
    for month in range(months):
        at = RATE + random.gauss(0, DRIFT)
        for _ in range(each_month):
            sd = random.uniform(0.2, 2) * SPREAD
            rate = at + random.gauss(0, SPREAD) + random.gauss(0, sd)
            if random.random() < wild:
                rate += random.choice((-1, 1, 1)) * random.uniform(5, 100) * SPREAD
            found.append(Observed(rate, sd * sd, str(month)))
    return found


def covered(learned: Learned) -> bool:
    assert learned.interval is not None
    low, high = learned.interval
    return low <= RATE <= high


@pytest.mark.parametrize(("months", "each_month", "wild"), [(12, 8, 0.0), (12, 2, 0.0), (12, 8, 0.03)])
def test_the_interval_covers_the_true_rate_in_95_of_100(months: int, each_month: int, wild: float) -> None:
    """200 simulated years; 95 % less three standard deviations of the count at least, and not all of them either."""
    random = Random(7)
    hits = sum(covered(learn(tickets(random, months, each_month, wild), IN_FORCE)) for _ in range(200))
    assert 181 <= hits < 200


@pytest.mark.parametrize("in_force", [IN_FORCE, None], ids=["stated", "unrated"])
def test_spread_and_drift_come_out(in_force: Scatter | None) -> None:
    random = Random(11)
    found = [learn(tickets(random, 12, 15), in_force) for _ in range(60)]
    assert sqrt(fmean(one.spread.sd**2 for one in found)) == pytest.approx(SPREAD, rel=0.05)
    assert sqrt(fmean(one.drift.sd**2 for one in found)) == pytest.approx(DRIFT, rel=0.2)
    assert sum(one.spread.low <= SPREAD <= one.spread.high for one in found) >= 50
    assert sum(one.drift.low <= DRIFT <= one.drift.high for one in found) >= 50


def test_one_theft_moves_nothing_and_is_named() -> None:
    honest = tickets(Random(3), 12, 10)
    robbed = [*honest]
    robbed[57] = Observed(honest[57].rate + 200 * SPREAD, honest[57].variance, honest[57].month)
    before, after = learn(honest, IN_FORCE), learn(robbed, IN_FORCE)
    assert abs(after.centre - before.centre) < 0.1 * SPREAD
    assert after.spread.sd < 1.2 * before.spread.sd
    assert [i for i, out in enumerate(after.standing_out) if out] == [57]
    assert not any(before.standing_out)
    assert abs(fmean(t.rate for t in robbed) - before.centre) > SPREAD  # what it does to the mean


def test_little_data_leans_on_what_is_in_force() -> None:
    """One ticket of one month: spread and drift are those in force, and the interval is as wide as t with 1 degree."""
    (ticket,) = tickets(Random(5), 1, 1)
    learned = learn([ticket], IN_FORCE)
    assert (learned.spread.sd, learned.drift.sd, learned.degrees) == (SPREAD, DRIFT, 1)
    assert learned.interval is not None
    assert learned.interval[1] - learned.centre > 12 * SPREAD


def test_a_month_alone_without_a_stated_rate_says_nothing_of_months() -> None:
    learned = learn(tickets(Random(5), 1, 20), None)
    assert (learned.interval, learned.next_ticket, learned.highest_ticket) == (None, None, None)
    assert learned.spread.sd == pytest.approx(SPREAD, rel=0.5)


def test_the_range_holds_95_of_100_tickets() -> None:
    """With a confidence of 95 %, as it says, the weighings taken as of the middle ticket."""
    random, held, below = Random(13), 0, 0
    for _ in range(60):
        learned = learn(tickets(random, 12, 10), IN_FORCE)
        more = tickets(random, 200, 1)
        assert learned.next_ticket is not None
        assert learned.highest_ticket is not None
        low, high = learned.next_ticket
        held += sum(low <= t.rate <= high for t in more) >= 0.93 * 200
        below += sum(t.rate <= learned.highest_ticket for t in more) >= 0.93 * 200
    assert held >= 54
    assert below >= 54


def test_a_shrunk_rate_errs_less_than_a_raw_one() -> None:
    """Twelve operations, stated rates off by half of what one ticket varies by, four tickets each; 100 plants."""
    random, raw, drawn = Random(17), 0.0, 0.0
    for _ in range(100):
        off = [random.gauss(0, 0.5) for _ in range(12)]
        seen = [x + random.gauss(0, 0.5) for x in off]
        shrunk = shrinkage(seen, [0.25] * 12, 0.0)
        assert shrunk is not None
        raw += sum((a - b) ** 2 for a, b in zip(seen, off, strict=True))
        drawn += sum((k * a - b) ** 2 for k, a, b in zip(shrunk.kept, seen, off, strict=True))
    assert drawn < 0.75 * raw


def test_shrinkage_wants_enough_rates_and_weighs_each_by_its_variance() -> None:
    assert shrinkage([1.0, 2.0], [1.0, 1.0], 0.0) is None
    assert shrinkage([1.0, 2.0, 3.0], [1.0, 1.0, 1.0]) is None
    shrunk = shrinkage([3.0, -2.0, 2.5, -3.0], [0.01, 0.01, 1.0, 4.0], 0.0)
    assert shrunk is not None
    assert shrunk.kept[0] > shrunk.kept[2] > shrunk.kept[3]


def test_loss_against_one_over_input_gives_the_fixed_part_though_some_tickets_are_wild() -> None:
    random = Random(19)
    inputs = [random.uniform(100, 1000) for _ in range(80)]
    rates = [0.0005 + 0.05 / x + random.gauss(0, 0.00005) for x in inputs]
    rates[5] += 0.1
    line = theil_sen([1 / x for x in inputs], rates)
    assert line is not None
    assert line.low < 0.05 < line.high
    assert line.slope == pytest.approx(0.05, abs=0.01)
    assert theil_sen([1.0, 1.0, 1.0], [1.0, 2.0, 3.0]) is None


def test_a_scatter_closer_than_chance_contradicts_nothing() -> None:
    assert not Deviation(0.0, 0.0, 0.0).leaves_out(SPREAD)
    assert Deviation(SPREAD, 0.8 * SPREAD, 1.2 * SPREAD).leaves_out(2 * SPREAD)
