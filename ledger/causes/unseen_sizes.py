"""How small a loss an area's tests still find: by simulating them, and what the best test could find.

A loss is found when, within the horizon, an area's balance is short: beyond the action level (and the trivial mass) or
the set tolerance, or a running test signals. It begins in any of the periods looked at, each as often as the others;
the year goes on from there as they did, the earlier ones following on the last, and the tests begin with it. The
optimum knows the pattern of the loss, and has the same probability of a false alarm within the horizon (Neyman and
Pearson 1933).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from math import inf
from statistics import fmean
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from ledger.balance.judging.power import distance, distance_needed
from ledger.balance.judging.run_length import normal_below
from ledger.balance.judging.running_tests import YEAR, Thresholds
from ledger.causes.unseen_running import Flags, Floats, signals

#: The probability with which a loss is to be found, and the horizons in periods.
SURE: Final = 0.95
HORIZONS: Final = (1, 3, 12)

Kind = Literal["single", "trickle"]
Places = NDArray[np.intp]

_SEED: Final = 1954
_YEARS: Final = 2_000
_FAULTLESS_YEARS: Final = 20_000
_STEPS: Final = 12


@dataclass(frozen=True)
class Balances:
    """An area's balances in a row, and what they are judged by.

    ``covariance`` in ng²; ``months`` each takes together; ``act`` in σ, ``trivial`` and each balance's ``tolerance`` in
    ng (infinite where none is set); ``limits`` of the running tests.
    """

    covariance: Floats
    months: tuple[float, ...]
    act: float
    trivial: float
    tolerance: tuple[float, ...]
    limits: Thresholds

    @property
    def horizons(self) -> tuple[int, ...]:
        """The horizons that there are balances enough for."""
        return tuple(h for h in HORIZONS if h <= len(self.months))

    @cached_property
    def _root(self) -> Floats:
        """A square root of the covariance, which may be singular."""
        values, vectors = np.linalg.eigh(self.covariance)
        return np.asarray(vectors * np.sqrt(np.maximum(values, 0.0)))

    def order(self, years: int) -> Places:
        """Return which balance stands in each place of a year, year by year beginning with another."""
        n = len(self.months)
        return (np.arange(years)[:, None] + np.arange(n)) % n

    def short(self, lost: Floats, seed: int = _SEED) -> Flags:
        """Return where balances are short in simulated years, ``lost`` (ng, years × first places) being missing."""
        years, places = lost.shape
        order = self.order(years)[:, :places]
        chance = np.random.default_rng(seed).standard_normal((years, len(self.months))) @ self._root.T
        u = np.take_along_axis(chance, order, axis=1) + lost
        sigma, tolerance = np.sqrt(np.diag(self.covariance))[order], np.array(self.tolerance)[order]
        beyond = ((u > self.act * sigma) | (u > tolerance)) & (u > self.trivial)
        covariance = self.covariance[order[:, :, None], order[:, None, :]]
        months = np.array(self.months, dtype=np.float64)[order]
        year_ends = places == len(self.months) and sum(self.months) >= YEAR
        return beyond | signals(u, covariance, self.limits, months, year_ends=year_ends)

    def pattern(self, kind: Kind, years: int) -> Floats:
        """Return what is missing of a loss of 1 ng, at once or each month: years × places."""
        if kind == "trickle":
            return np.array(self.months, dtype=np.float64)[self.order(years)]
        first = np.zeros((years, len(self.months)))
        first[:, 0] = 1.0
        return first

    def found(self, lost: Floats, horizon: int) -> float:
        """Return in which share of years a balance is short within the horizon."""
        return float(self.short(lost[:, :horizon]).any(axis=1).mean())

    @cached_property
    def false_alarms(self) -> dict[int, float]:
        """The probability of a short balance within each horizon when nothing is lost."""
        short = self.short(np.zeros((_FAULTLESS_YEARS, len(self.months))), _SEED + 1)
        shares = {horizon: float(short[:, :horizon].any(axis=1).mean()) for horizon in self.horizons}
        return {horizon: max(share, 0.5 / _FAULTLESS_YEARS) for horizon, share in shares.items()}

    def distances(self, kind: Kind, horizon: int) -> list[float]:
        """Return √(mᵀC⁻¹m) of a loss of one σ (the root mean square of the balances') by where it begins."""
        n, unit = len(self.months), self.sigma
        covariance = self.covariance / unit**2
        found = []
        for order, lost in zip(self.order(n), self.pattern(kind, n), strict=True):
            places = order[:horizon]
            found.append(distance(lost[:horizon].tolist(), covariance[np.ix_(places, places)].tolist()))
        return found

    @property
    def sigma(self) -> float:
        """The root mean square of the balances' σ, ng."""
        return float(np.sqrt(np.diag(self.covariance).mean()))


@dataclass(frozen=True, slots=True)
class Smallest:
    """The smallest loss found surely within a horizon, in ng, of a trickle each month; and the optimum's."""

    kind: Kind
    horizon: int
    size: float
    optimum: float
    optimum_power: float
    false_alarm: float


def smallest(balances: Balances, kind: Kind, horizon: int) -> Smallest:
    """Return the smallest loss of a kind that is found with probability `SURE` within a horizon."""
    optimum = optimum_size(balances, kind, horizon)
    pattern = balances.pattern(kind, _YEARS)
    size = _where(lambda x: balances.found(pattern * x, horizon), optimum)
    alarm = balances.false_alarms[horizon]
    power = _power(balances.distances(kind, horizon), size / balances.sigma, alarm)
    return Smallest(kind, horizon, size, optimum, power, alarm)


def optimum_size(balances: Balances, kind: Kind, horizon: int, false_alarm: float | None = None) -> float:
    """Return the smallest loss that the best test finds with probability `SURE` within a horizon, ng."""
    alarm = balances.false_alarms[horizon] if false_alarm is None else false_alarm
    distances = balances.distances(kind, horizon)
    if min(distances) == inf:
        return 0.0
    return balances.sigma * _where(lambda x: _power(distances, x, alarm), 0.05, steps=40)


def _power(distances: list[float], size: float, alarm: float) -> float:
    return fmean(normal_below(size * d - distance_needed(0.5, alarm)) for d in distances)


def _where(found: Callable[[float], float], low: float, steps: int = _STEPS) -> float:
    """Return where a probability that grows with size reaches `SURE`, from a size at which it may not."""
    high = low
    while found(high) < SURE:
        low, high = high, high * 2
    for _ in range(steps):
        middle = (low + high) / 2
        low, high = (middle, high) if found(middle) < SURE else (low, middle)
    return high
