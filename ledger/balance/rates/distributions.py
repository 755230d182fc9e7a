"""Quantiles of χ², and the factors of normal tolerance limits, by the standard library alone."""

from __future__ import annotations

from collections.abc import Callable
from math import exp, lgamma, log, sqrt
from statistics import NormalDist

_NORMAL = NormalDist()


def chi_square_below(x: float, degrees: float) -> float:
    """Return P(χ² ≤ x) with any number of degrees of freedom above 0.

    The series of the incomplete gamma function, Abramowitz and Stegun 6.5.29 (from memory): all its terms are positive.
    """
    if x <= 0:
        return 0.0
    a, half = degrees / 2, x / 2
    term = total = 1 / a
    step = a
    while term > 1e-17 * total:
        step += 1
        term *= half / step
        total += term
    return min(total * exp(a * log(half) - half - lgamma(a)), 1.0)


def chi_square(probability: float, degrees: float) -> float:
    """Return the x below which χ² lies with a probability strictly between 0 and 1."""
    high = degrees + 10.0
    while chi_square_below(high, degrees) < probability:
        high *= 2
    return falling_root(lambda x: probability - chi_square_below(x, degrees), 0.0, high)


def falling_root(function: Callable[[float], float], low: float, high: float, close: float = 1e-13) -> float:
    """Return where a function that falls from above 0 at ``low`` to 0 or below at ``high`` crosses 0.

    ``close``: to what part of itself it is to be found. False position with the Illinois rule (Dowell and Jarratt 1971;
    from memory), bisecting where that is slow.
    """
    at_low, at_high = function(low), function(high)
    for turn in range(200):
        if high - low <= close * abs(high) or at_high == 0:
            break
        middle = (low + high) / 2 if turn % 3 == 2 else (low * at_high - high * at_low) / (at_high - at_low)
        at_middle = function(middle)
        if at_middle > 0:
            low, at_low, at_high = middle, at_middle, at_high / 2
        else:
            high, at_high, at_low = middle, at_middle, at_low / 2
    return high


def tolerance_factor(mean_share: float, degrees: float, share: float, confidence: float) -> float:
    """Return k such that mean ± k·s holds a ``share`` of a normal population with a ``confidence``.

    ``mean_share``: variance of the mean ÷ that of one value, 1/N for N independent values; ``degrees``: of s. Howe's
    approximation (NIST/SEMATECH e-Handbook, 7.2.6.3).
    """
    z = _NORMAL.inv_cdf((1 + share) / 2)
    return z * sqrt(degrees * (1 + mean_share) / chi_square(1 - confidence, degrees))


def one_sided_tolerance_factor(mean_share: float, degrees: float, share: float, confidence: float) -> float:
    """Return k such that a ``share`` of a normal population lies below mean + k·s with a ``confidence``.

    Natrella's approximation (NIST/SEMATECH e-Handbook, 7.2.6.3). Too few degrees for it give infinity.
    """
    z, z_confidence = _NORMAL.inv_cdf(share), _NORMAL.inv_cdf(confidence)
    a = 1 - z_confidence**2 / (2 * degrees)
    b = z * z - z_confidence**2 * mean_share
    return (z + sqrt(z * z - a * b)) / a if a > 0 and z * z >= a * b else float("inf")
