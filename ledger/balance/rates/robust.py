"""Location and spread that a few wild values do not move, and the slope that they do not turn.

Huber's M-estimates (P. J. Huber, Robust estimation of a location parameter, Annals of Mathematical Statistics 35, 1964;
the scale by his "proposal 2"): a value counts fully within `BOUND` standard deviations and no more than that beyond.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, fsum, inf, pi, sqrt
from statistics import NormalDist, median
from typing import NamedTuple

from ledger.balance.rates.distributions import chi_square, falling_root

_NORMAL = NormalDist()

#: Huber's k: standard deviations beyond which a value counts no more. Of normal errors it costs 4 % of efficiency.
BOUND = 1.5

#: Makes the median absolute deviation a standard deviation of normal values: 1 / 0.6745.
MAD_TO_SD = 1 / _NORMAL.inv_cdf(0.75)

#: Variance below which no rate is known: a billionth of what was put in, squared.
LEAST = 1e-18

#: Probability that an interval covers.
COVERAGE = 0.95

_TURNS, _CLOSE = 200, 1e-8


def mad(values: Sequence[float]) -> float:
    """Return the median absolute deviation from the median, as a standard deviation of normal values."""
    middle = median(values)
    return median(abs(x - middle) for x in values) * MAD_TO_SD


def huber_location(values: Sequence[float], bound: float = BOUND) -> float:
    """Return Huber's M-estimate of location, the scale held at the MAD; the median where that is nothing."""
    scale = mad(values)
    return location(values, [scale * scale] * len(values), bound) if scale else median(values)


def location(values: Sequence[float], variances: Sequence[float], bound: float = BOUND) -> float:
    """Return the M-estimate of location of values whose variances are known: the weighted mean for no bound."""
    inverse = [1 / max(v, LEAST) for v in variances]
    close = _CLOSE / sqrt(fsum(inverse))
    centre = median(values) if bound < inf else 0.0
    for _ in range(_TURNS):
        weights = [p * w for p, w in zip(inverse, influence(values, variances, centre, bound), strict=True)]
        last, centre = centre, fsum([w * x for w, x in zip(weights, values, strict=True)]) / fsum(weights)
        if bound == inf or abs(centre - last) <= close:
            break
    return centre


def influence(values: Sequence[float], variances: Sequence[float], centre: float, bound: float = BOUND) -> list[float]:
    """Return how much each value counts: 1 within the bound, less in proportion beyond."""
    found = []
    for value, variance in zip(values, variances, strict=True):
        reach, off = bound * sqrt(max(variance, LEAST)), abs(value - centre)
        found.append(1.0 if off <= reach else reach / off)
    return found


class _Moments(NamedTuple):
    """Of ψ(Z), Z standard normal: E ψ², Var ψ², and P(|Z| < k) = E ψ′."""

    square: float
    variance_of_square: float
    inside: float


def _moments(k: float) -> _Moments:
    if k == inf:
        return _Moments(1.0, 2.0, 1.0)
    density = exp(-k * k / 2) / sqrt(2 * pi)
    inside = 2 * _NORMAL.cdf(k) - 1
    square = inside - 2 * k * density + k * k * (1 - inside)
    fourth = 3 * inside - 2 * density * (k**3 + 3 * k) + k**4 * (1 - inside)
    return _Moments(square, fourth - square * square, inside)


def variance_of_location(variances: Sequence[float], bound: float = BOUND) -> float:
    """Return the variance of `location` for normal values: E ψ² ÷ (E ψ′)² ÷ Σ 1/variance."""
    moments = _moments(bound)
    return moments.square / moments.inside**2 / fsum(1 / max(v, LEAST) for v in variances)


@dataclass(frozen=True, slots=True)
class Common:
    """A variance that all values have beside their own, with its interval; ``degrees`` of freedom it rests on.

    ``centres``: the location of each group. Without any degrees of freedom the variance is 0, and nothing is known.
    """

    variance: float
    low: float
    high: float
    degrees: int
    centres: list[float]


Group = tuple[Sequence[float], Sequence[float]]


def common_variance(groups: Sequence[Group], bound: float = BOUND, about: float | None = None) -> Common:
    """Return the variance s² that makes values scatter about their group's location as they do.

    A group is its values and their known variances v: Σ ψ²(z) = E ψ² · n, with z = (x − location)/√((s² + v)(1 − h)), h
    the value's own share in its location (Huber's proposal 2, for small groups too; without a bound, equal groups and
    v = 0 it is the mean square within, and for their means the one-way random effect). ``about``: the one location,
    where it is known. The interval takes Σ ψ² as a multiple of χ², degrees being the values less the groups.
    """
    moments = _moments(bound)
    degrees = sum(len(values) for values, _ in groups) - (len(groups) if about is None else 0)
    if degrees <= 0:
        return Common(0.0, 0.0, inf, 0, [_centre(group, 0.0, bound, about) for group in groups])
    variance = 0.0
    for _ in range(_TURNS):
        centres = [_centre(group, variance, bound, about) for group in groups]
        squares = _squares(groups, centres, variance, known=about is not None)
        wanted = moments.square * len(squares)
        last, variance = variance, _scatter(squares, bound, wanted)
        if abs(variance - last) <= 1e-7 * variance:
            break
    degrees_of_sum = 2 * moments.square**2 / moments.variance_of_square * degrees
    low, high = (
        _scatter(squares, bound, wanted * chi_square(p, degrees_of_sum) / degrees_of_sum)
        for p in ((1 + COVERAGE) / 2, (1 - COVERAGE) / 2)
    )
    return Common(variance, low, high, degrees, centres)


def _centre(group: Group, extra: float, bound: float, about: float | None) -> float:
    values, variances = group
    return about if about is not None else location(values, [v + extra for v in variances], bound)


#: Squared deviation from the location ÷ (1 − h), and the known variance, of one value.
Square = tuple[float, float]


def _squares(groups: Sequence[Group], centres: Sequence[float], extra: float, *, known: bool) -> list[Square]:
    """Return the deviations of all values but those that make a location alone."""
    found = []
    for (values, variances), centre in zip(groups, centres, strict=True):
        inverse = [1 / max(v + extra, LEAST) for v in variances]
        whole = inf if known else fsum(inverse)
        if len(values) > 1 or known:
            found += [
                ((x - centre) ** 2 / (1 - part / whole), max(v, LEAST))
                for x, v, part in zip(values, variances, inverse, strict=True)
            ]
    return found


def _scatter(squares: Sequence[Square], bound: float, wanted: float) -> float:
    """Return the variance beside the known ones at which Σ ψ² is as wanted; 0 where it is less without any."""
    most = bound * bound

    def excess(extra: float) -> float:
        return sum([min(square / (v + extra), most) for square, v in squares]) - wanted

    if excess(0.0) <= 0:
        return 0.0
    high = max(fsum(square for square, _ in squares) / wanted, LEAST)
    while excess(high) > 0:
        high *= 4
    return falling_root(excess, 0.0, high, 1e-8)


@dataclass(frozen=True, slots=True)
class Slope:
    """A slope, and the interval that Kendall's tau gives it."""

    slope: float
    low: float
    high: float


def theil_sen(x: Sequence[float], y: Sequence[float], coverage: float = COVERAGE) -> Slope | None:
    """Return the median of the slopes of all pairs; None where x is the same everywhere.

    P. K. Sen, Estimates of the regression coefficient based on Kendall's tau, J. Am. Stat. Assoc. 63 (1968), with his
    interval by the normal approximation, ties of x allowed for.
    """
    slopes = sorted((y[j] - y[i]) / (x[j] - x[i]) for i in range(len(x)) for j in range(i + 1, len(x)) if x[i] != x[j])
    if not slopes:
        return None
    reach = _NORMAL.inv_cdf((1 + coverage) / 2) * sqrt(_kendall_variance(x))
    low = max(round((len(slopes) - reach) / 2) - 1, 0)
    high = min(round((len(slopes) + reach) / 2), len(slopes) - 1)
    return Slope(median(slopes), slopes[low], slopes[high])


def _kendall_variance(x: Sequence[float]) -> float:
    """Return the variance of the number of rising less falling pairs, were there no slope."""
    n = len(x)
    ties = [x.count(value) for value in set(x)]
    return (n * (n - 1) * (2 * n + 5) - sum(t * (t - 1) * (2 * t + 5) for t in ties)) / 18
