"""The running tests of many simulated years at once: what `running_tests.run` does, on arrays.

A test holds the two against each other, signal for signal.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ledger.balance.judging.running_tests import REFERENCE, Thresholds
from ledger.balance.judging.sequential import NOTHING_NEW

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


def signals(u: Floats, covariance: Floats, limits: Thresholds, months: Floats, *, year_ends: bool) -> Flags:
    """Return whether any running test signals that metal is missing, for each year and balance.

    ``u``: years × balances; ``covariance``, in the square of its unit, and ``months``, how many each balance takes
    together, are of all years, or each has its own; ``year_ends``: the trickle is judged at the last balance.
    """
    rows, z, aside = _in_sequence(u, covariance, limits.month)
    found = (z > limits.month) | _page(z, aside, limits.page)
    if year_ends:
        found[:, -1] |= _trickle(rows, z, months) > limits.trickle
    return found


def _in_sequence(u: Floats, covariance: Floats, limit: float) -> tuple[Floats, Floats, Flags]:
    """Return L of each year, its independent residuals, and which were set aside (see `in_sequence`)."""
    n = u.shape[1]
    rows, z = np.zeros((*u.shape, n)), np.zeros(u.shape)
    for i in range(n):
        for j in range(i):
            rest = covariance[..., i, j] - np.einsum("na,na->n", rows[:, i, :j], rows[:, j, :j])
            rows[:, i, j] = _over(rest, rows[:, j, j])
        left = covariance[..., i, i] - (rows[:, i, :i] ** 2).sum(axis=1)
        own = np.sqrt(np.where(left > NOTHING_NEW * covariance[..., i, i], left, 0.0))
        z[:, i] = _over(u[:, i] - (rows[:, i, :i] * z[:, :i]).sum(axis=1), own)
        rows[:, i, i] = np.where(np.abs(z[:, i]) > limit, 0.0, own)
    return rows, z, np.abs(z) > limit


def _over(value: Floats, by: Floats) -> Floats:
    return np.divide(value, by, out=np.zeros_like(by), where=by > 0)


def _page(z: Floats, aside: Flags, threshold: float) -> Flags:
    """Return where Page's sum of what is missing signals; it then begins anew."""
    found, total = np.zeros(z.shape, dtype=bool), np.zeros(len(z))
    for i in range(z.shape[1]):
        total = np.where(aside[:, i], total, np.maximum(0.0, total + z[:, i] - REFERENCE))
        found[:, i] = total > threshold
        total = np.where(found[:, i], 0.0, total)
    return found


def _trickle(rows: Floats, z: Floats, months: Floats) -> Floats:
    """Return the matched filter's statistic for the same loss in every month; 0 where the figures cannot show it."""
    pattern = np.zeros(z.shape)
    for i in range(z.shape[1]):
        rest = months[..., i] - (rows[:, i, :i] * pattern[:, :i]).sum(axis=1)
        pattern[:, i] = _over(rest, rows[:, i, i])
    return _over((pattern * z).sum(axis=1), np.sqrt((pattern**2).sum(axis=1)))
