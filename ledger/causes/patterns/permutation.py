"""Permutation tests within strata.

Were a level nothing to the result, the scores of a stratum could as well stand beside any of its tickets: T = Σ q·score
is set against its values when the scores of each stratum are shuffled. The p-value is exact for any number of
shuffles: (1 + those at least as far from the middle) ÷ (1 + all) (Phipson and Smyth, Stat. Appl. Genet. Mol. Biol. 9
(2010); of residuals after what else is fitted: Freedman and Lane, J. Bus. Econ. Stat. 1 (1983); both from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

#: Shuffles: at five in a hundred they tell up to a thousand comparisons apart.
SHUFFLES: Final = 19_999

#: A comparison is told when so many shuffles were as far out: no more of them make it stand out (Besag and Clifford,
#: Biometrika 78 (1991), from memory).
_TOLD: Final = 50

_SEED: Final = 1937
_AT_ONCE: Final = 2_000


class Tested(NamedTuple):
    """Of each column its two-sided p-value, and T less its middle in units of its standard deviation."""

    p: Floats
    z: Floats


def against_shuffles(
    scores: Floats, columns: Floats, strata: NDArray[np.int64], shuffles: int = SHUFFLES, seed: int = _SEED
) -> Tested:
    """Return the tests of columns, tickets × comparisons, against scores shuffled within strata; seeded."""
    middle, variance = _moments(scores, columns, strata)
    off = scores @ columns - middle
    members = [np.flatnonzero(strata == stratum) for stratum in range(int(strata.max(initial=-1)) + 1)]
    far, done = np.zeros(columns.shape[1]), np.zeros(columns.shape[1])
    rng = np.random.default_rng(seed)
    for first in range(0, shuffles, _AT_ONCE):
        open_ = np.flatnonzero(far < _TOLD)
        n = min(_AT_ONCE, shuffles - first)
        shuffled = _shuffled(rng, scores, columns[:, open_], members, n) - middle[open_]
        far[open_] += (np.abs(shuffled) >= np.abs(off[open_]) * (1 - 1e-9)).sum(axis=0)
        done[open_] += n
    sd = np.sqrt(variance)
    return Tested((1 + far) / (1 + done), np.divide(off, sd, out=np.zeros_like(off), where=sd > 0))


def _shuffled(
    rng: np.random.Generator, scores: Floats, columns: Floats, members: Sequence[NDArray[np.intp]], n: int
) -> Floats:
    """Return T of n shuffles, n × columns; a stratum in which no column says anything is left as it is."""
    found = np.zeros((n, columns.shape[1]))
    for own in members:
        inside = columns[own]
        if len(own) > 1 and inside.any():
            found += rng.permuted(np.tile(scores[own], (n, 1)), axis=1) @ inside
        else:
            found += scores[own] @ inside
    return found


def _moments(scores: Floats, columns: Floats, strata: NDArray[np.int64]) -> tuple[Floats, Floats]:
    """Return mean and variance of T over all shuffles."""
    mean, variance = np.zeros(columns.shape[1]), np.zeros(columns.shape[1])
    for stratum in range(int(strata.max(initial=-1)) + 1):
        own = strata == stratum
        n, of_scores, of_columns = int(own.sum()), scores[own], columns[own]
        if not n:
            continue
        mean += of_scores.sum() * of_columns.mean(axis=0)
        if n > 1:
            variance += of_scores.var(ddof=1) * ((of_columns - of_columns.mean(axis=0)) ** 2).sum(axis=0)
    return mean, variance
