"""Empirical Bayes: what was found, drawn towards what was held before by as much as chance made it stand out.

Normal values about normal means (W. James and C. Stein 1961; B. Efron and C. Morris, J. Am. Stat. Assoc. 70, 1975; for
unequal variances C. Morris, J. Am. Stat. Assoc. 78, 1983; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf

from ledger.balance.rates.robust import common_variance


@dataclass(frozen=True, slots=True)
class Shrinkage:
    """The variance of the true means about the point, and what part of its deviation from it each value keeps."""

    between: float
    kept: list[float]


def shrinkage(values: Sequence[float], variances: Sequence[float], towards: float | None = None) -> Shrinkage | None:
    """Return how far values with known variances are drawn towards a point, or towards their own mean.

    For equal variances: kept = 1 − (k − 3)·variance/S, S the sum of squares about the mean of k values; k − 2 about a
    known point. None for too few values: 3, or 2 about a known point, say nothing.
    """
    k = len(values)
    lost, degrees = (3, k - 1) if towards is None else (2, k)
    if k <= lost:
        return None
    between = common_variance([(values, variances)], inf, towards).variance
    part = (k - lost) / degrees
    return Shrinkage(between, [1 - part * v / (v + between) for v in variances])
