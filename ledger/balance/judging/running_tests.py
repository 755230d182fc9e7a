"""The running tests of an area: Page's sums, the trickle over a year, the largest month; together at one rate.

They look at an area's balances in sequence, made independent (`sequential`). The rate is the plant's: one false alarm
in so many years over all its areas and both ways, hence in one area-year the chance 1 ÷ (years × areas). Each of the
three tests is given a third of it:

- Page's sums, reference 0.5 σ: the average run length of both together is twelve months over that third;
- the largest of twelve months: each residual beyond a two-sided Gaussian quantile;
- the trickle: the matched filter for the same loss in each of the twelve months of a year, judged once, at its end.

A month that stands out by itself is set aside: neither the sums, nor the trickle, nor what is expected of later months
takes it in. The tests often signal together, so the three thirds would signal more rarely than asked for. Each third is
therefore taken a little larger, by `_TOGETHER`: on faultless books that does not depend on what the book holds.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import pairwise
from math import expm1, log, log1p, sqrt
from statistics import NormalDist
from typing import Final, Literal, NamedTuple

from ledger.balance.judging.run_length import threshold_for_average
from ledger.balance.judging.sequential import InSequence, Matrix, Page, in_sequence, matched, page, residuals
from ledger.plant.setup import Setup

#: Months of a trickle, and of a year of tests; years begin with the book.
YEAR: Final = 12

#: Months the tests look back at least, beyond the year that is running: a sum begins there at zero.
LOOK_BACK: Final = 24

#: Page's reference: half the drift it finds soonest, about 1 σ a month.
REFERENCE: Final = 0.5

#: Chance of a false alarm in an area-year, and by how much each test's third of it may be larger, so that the three
#: together have that chance. Simulated, a million area-years or more each: python -m tests.studies.running_tests
_TOGETHER: Final = (
    (1e-6, 1.0), (0.001, 1.058), (0.002, 1.073), (0.005, 1.104), (0.0125, 1.136), (0.025, 1.163), (0.05, 1.206),
    (0.1, 1.269), (0.2, 1.368),
)  # fmt: skip

_OFTENEST: Final = 0.5

Test = Literal["month", "page", "trickle"]


class Thresholds(NamedTuple):
    """Where each test signals: Page's threshold in σ, one month's and the trickle's z, both ways; and the rate."""

    rate: float
    page: float
    month: float
    trickle: float


@lru_cache(maxsize=64)
def thresholds(rate: float) -> Thresholds:
    """Return the thresholds for a chance of a false alarm in one area-year, both ways; above ½ it is taken as ½."""
    rate = min(rate, _OFTENEST)
    third = rate / 3 * together(rate)
    once = -expm1(log1p(-third) / YEAR)
    return Thresholds(rate, threshold_for_average(REFERENCE, YEAR / third), quantile(once), quantile(third))


def area_limits(setup: Setup) -> Thresholds:
    """Return the thresholds that give the plant one false alarm in the years it wishes for, over all its areas."""
    return thresholds(1 / (float(setup.plant.false_alarm_years) * max(len(setup.area), 1)))


def together(rate: float) -> float:
    """Return by how much each third is larger, between the simulated rates straight over log rate."""
    for (low, at_low), (high, at_high) in pairwise(_TOGETHER):
        if low <= rate <= high:
            return at_low + (at_high - at_low) * log(rate / low) / log(high / low)
    return _TOGETHER[0 if rate < _TOGETHER[0][0] else -1][1]


def quantile(chance: float) -> float:
    """Return the z that a standard normal exceeds, either way, with a chance."""
    return -NormalDist().inv_cdf(chance / 2)


class Balance(NamedTuple):
    """One balance of an area: its period, what is unexplained in nanograms, and how many months it closes.

    ``year``: which year of tests it belongs to; ``last``: whether it is the year's last, at which a trickle is judged.
    """

    period: str
    unexplained: int
    months: int
    year: int
    last: bool


class Signal(NamedTuple):
    """A test that signalled: ``way`` +1 missing, −1 over; ``since``: when what it saw is estimated to have begun."""

    test: Test
    way: int
    since: str
    value: float
    threshold: float


@dataclass(frozen=True, slots=True)
class Step:
    """What the tests say after one balance, whose σ is in ng; ``trickle`` of the year so far, None where none shows."""

    balance: Balance
    sigma: float
    residual: float
    page: Page
    trickle: float | None
    signals: list[Signal] = field(default_factory=list)


def run(balances: Sequence[Balance], covariance: Matrix, limits: Thresholds) -> list[Step]:
    """Return the steps of the running tests through an area's balances, whose covariance is in ng²."""
    found = in_sequence(covariance, [float(b.unexplained) for b in balances], limits.month)
    kept = [None if aside else z for z, aside in zip(found.z, found.aside, strict=True)]
    sums = page(kept, REFERENCE, limits.page)
    steps: list[Step] = []
    for i, balance in enumerate(balances):
        step = Step(balance, sqrt(covariance[i][i]), found.z[i], sums[i], _trickle(balances, found, i))
        step.signals.extend(_signals(balances, step, limits))
        steps.append(step)
    return steps


def _trickle(balances: Sequence[Balance], found: InSequence, i: int) -> float | None:
    """Return the matched filter for the same loss in each month of balance ``i``'s year so far."""
    year = balances[i].year
    lost = [float(b.months) if b.year == year else 0.0 for b in balances[: i + 1]]
    statistic = matched(found.z[: i + 1], residuals(found.rows[: i + 1], lost))
    return statistic[0] if statistic else None


def _signals(balances: Sequence[Balance], step: Step, limits: Thresholds) -> list[Signal]:
    """Return the tests that signal at a step, the sharpest in time first."""
    found, now = [], step.balance
    if abs(step.residual) > limits.month:
        found.append(Signal("month", _way(step.residual), now.period, step.residual, limits.month))
    if step.page.since is not None:
        value = step.page.missing if step.page.signal > 0 else -step.page.over
        begun = balances[step.page.since].period
        found.append(Signal("page", step.page.signal, begun, value, limits.page))
    if now.last and step.trickle is not None and abs(step.trickle) > limits.trickle:
        first = next(b.period for b in balances if b.year == now.year)
        found.append(Signal("trickle", _way(step.trickle), first, step.trickle, limits.trickle))
    return found


def _way(value: float) -> int:
    return 1 if value > 0 else -1


_WORDS: Final = {
    "month": "the month by itself, {value:.1f} σ against {threshold:.1f}",
    "page": "Page's sum of {way}, {value:.1f} against {threshold:.1f}",
    "trickle": "the same each month of the year, {value:.1f} σ against {threshold:.1f}",
}


def words(signals: Sequence[Signal]) -> str:
    """Return one reason in words for the signals of one balance, which are at least one."""
    how = "; ".join(
        _WORDS[s.test].format(value=abs(s.value), threshold=s.threshold, way=way_name(s.way)) for s in signals
    )
    return f"the running test has signalled since {signals[0].since}: {way_name(signals[0].way)} ({how})"


def way_name(way: int) -> str:
    """Return what a sign says."""
    return "missing" if way > 0 else "over"
