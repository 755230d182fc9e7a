"""What tickets say of a rate: its centre over the months, its spread among tickets, its drift from month to month.

A ticket's rate is what it lost ÷ what was put in, less the fixed part. Rates of one month share that month's drift;
each has its own spread, and the error of its weighings, whose variance is known.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum, inf, sqrt
from statistics import median

from ledger.balance.daily.inference import student_t
from ledger.balance.rates.distributions import one_sided_tolerance_factor, tolerance_factor
from ledger.balance.rates.robust import (
    COVERAGE,
    Common,
    common_variance,
    influence,
    location,
    variance_of_location,
)

#: What is in force weighs as much as one month, of drift, and as one ticket, of spread.
WEIGHT_IN_FORCE = 1

#: Degrees of freedom below which nothing is said of single tickets.
FEWEST_DEGREES = 3.0

#: Standard deviations beyond which a ticket is named as one that stands out.
STANDS_OUT = 5.0


@dataclass(frozen=True, slots=True)
class Observed:
    """One ticket's rate, a share of its input; the variance of its own weighings; and its month."""

    rate: float
    variance: float
    month: str


@dataclass(frozen=True, slots=True)
class Scatter:
    """Standard deviations of a rate, from ticket to ticket and from month to month, as they are in force."""

    spread: float
    drift: float


@dataclass(frozen=True, slots=True)
class Deviation:
    """A standard deviation as learned, with the 95 % interval of the tickets alone."""

    sd: float
    low: float
    high: float

    def leaves_out(self, sd: float) -> bool:
        """Return whether the tickets contradict a standard deviation; that they lie closer than they can is chance."""
        return sd < self.low or 0 < self.high < sd


@dataclass(frozen=True, slots=True)
class Learned:
    """A rate learned from n tickets of some months, as a share of the input's content.

    ``variance``: of the centre; ``degrees`` of freedom its interval rests on, 0 where there is none. ``own``: median
    variance of one ticket's weighings. ``weights`` and ``standing_out`` by ticket.
    """

    n: int
    months: int
    centre: float
    variance: float
    degrees: int
    spread: Deviation
    drift: Deviation
    own: float
    weights: list[float]
    standing_out: list[bool]

    @property
    def interval(self) -> tuple[float, float] | None:
        """The 95 % interval of the rate, by Student's t; None where nothing says how far months lie apart."""
        if not self.degrees:
            return None
        reach = student_t(self.degrees) * sqrt(self.variance)
        return self.centre - reach, self.centre + reach

    @property
    def next_ticket(self) -> tuple[float, float] | None:
        """Between which rates 95 % of all tickets lie, with a confidence of 95 %: a normal tolerance interval."""
        if not self.degrees or self._of_one_ticket[1] < FEWEST_DEGREES:
            return None
        reach = tolerance_factor(*self._of_one_ticket, COVERAGE, COVERAGE) * self._sd
        return self.centre - reach, self.centre + reach

    @property
    def highest_ticket(self) -> float | None:
        """Below which rate 95 % of all tickets lie, with a confidence of 95 %; None where it cannot be said."""
        if not self.degrees or self._of_one_ticket[1] < FEWEST_DEGREES:
            return None
        factor = one_sided_tolerance_factor(*self._of_one_ticket, COVERAGE, COVERAGE)
        return self.centre + factor * self._sd if factor < inf else None

    @property
    def _sd(self) -> float:
        """One ticket's standard deviation: spread, drift and weighing."""
        return sqrt(self.spread.sd**2 + self.drift.sd**2 + self.own)

    @property
    def _of_one_ticket(self) -> tuple[float, float]:
        """Var centre ÷ var of one ticket, and the latter's degrees of freedom (Welch and Satterthwaite)."""
        one = self._sd**2
        within, between = self.spread.sd**2 + self.own, self.drift.sd**2
        parts = within**2 / max(self.n - self.months + WEIGHT_IN_FORCE, 1) + between**2 / self.degrees
        return (self.variance / one, one * one / parts) if parts else (0.0, float(self.n))


def learn(tickets: Sequence[Observed], in_force: Scatter | None) -> Learned:
    """Return what one or more tickets say of their rate.

    Within a month Huber's location of the rates, weighed by spread and weighing; over the months Huber's location of
    these, weighed by drift too. Spread and drift solve for the scatter within and between; what is in force counts as
    one more ticket and one more month. Without it, and with a single month, there is no interval.
    """
    places = _by_month(tickets)
    groups = [([tickets[i].rate for i in month], [tickets[i].variance for i in month]) for month in places]
    within = common_variance(groups)
    spread = _pooled(within, in_force.spread if in_force else None)
    of_tickets = [[v + spread.sd**2 for v in variances] for _, variances in groups]
    centres = [location(values, v) for (values, _), v in zip(groups, of_tickets, strict=True)]
    of_months = [variance_of_location(v) for v in of_tickets]
    between = common_variance([(centres, of_months)])
    drift = _pooled(between, in_force.drift if in_force else None)
    of_months = [v + drift.sd**2 for v in of_months]
    centre = location(centres, of_months)
    weights, standing_out = [0.0] * len(tickets), [False] * len(tickets)
    counts = _shares(centres, of_months, centre)
    for month, (values, _), v, at, count in zip(places, groups, of_tickets, centres, counts, strict=True):
        for i, share, value, variance in zip(month, _shares(values, v, at), values, v, strict=True):
            weights[i] = count * share
            standing_out[i] = abs(value - centre) > STANDS_OUT * sqrt(variance + drift.sd**2)
    return Learned(
        len(tickets), len(places), centre, variance_of_location(of_months),
        between.degrees + (WEIGHT_IN_FORCE if in_force else 0), spread, drift, median(t.variance for t in tickets),
        weights, standing_out,
    )  # fmt: skip


def _by_month(tickets: Sequence[Observed]) -> list[list[int]]:
    months: dict[str, list[int]] = {}
    for place, ticket in enumerate(tickets):
        months.setdefault(ticket.month, []).append(place)
    return list(months.values())


def _pooled(found: Common, in_force: float | None) -> Deviation:
    """Return a standard deviation as found, the one in force counted in."""
    variance = found.variance
    if in_force is not None:
        variance = (found.degrees * variance + WEIGHT_IN_FORCE * in_force**2) / (found.degrees + WEIGHT_IN_FORCE)
    return Deviation(sqrt(variance), sqrt(found.low), sqrt(found.high))


def _shares(values: Sequence[float], variances: Sequence[float], centre: float) -> list[float]:
    """Return by what share each value makes the location."""
    weights = [w / v if v else 1.0 for w, v in zip(influence(values, variances, centre), variances, strict=True)]
    whole = fsum(weights)
    return [w / whole for w in weights]
