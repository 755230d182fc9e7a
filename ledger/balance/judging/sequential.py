"""Balances in sequence: independent residuals, Page's cumulative sum, and the matched filter.

Everything here is pure statistics on floats; a residual is in units of its own standard deviation, + where metal is
missing. Sources: E. S. Page, Continuous inspection schemes, Biometrika 41 (1954); J. M. Lucas and R. B. Crosier, Fast
initial response for CUSUM quality-control schemes, Technometrics 24 (1982); standardised independent residuals of
successive balances: Pike and Woods, Picard, Seifert (after the literature of materials accounting).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import fsum, inf, sqrt
from typing import NamedTuple

#: A balance whose variance, given the earlier ones, is below this share of its own tells nothing new.
NOTHING_NEW = 1e-12

Matrix = Sequence[Sequence[float]]


def factor(covariance: Matrix) -> list[list[float]]:
    """Return the rows of the lower triangle L of C = L·Lᵀ, each up to its diagonal.

    C is symmetric and positive semi-definite. Nothing is added to make it invertible: a balance that follows from the
    earlier ones (or has no variance) gets a diagonal of exactly 0, and nothing of later ones is ascribed to it.
    """
    rows: list[list[float]] = []
    for given in covariance:
        rows.append(_row(given, rows))
    return rows


def _row(given: Sequence[float], rows: Matrix) -> list[float]:
    """Return the next row of L below the rows so far."""
    row: list[float] = []
    i = len(rows)
    for j in range(i):
        rest = given[j] - fsum(a * b for a, b in zip(row, rows[j], strict=False))
        row.append(rest / rows[j][j] if rows[j][j] else 0.0)
    left = given[i] - fsum(a * a for a in row)
    row.append(sqrt(left) if left > NOTHING_NEW * given[i] else 0.0)
    return row


class InSequence(NamedTuple):
    """L, the independent residuals, and which balances stood out by themselves and were set aside."""

    rows: list[list[float]]
    z: list[float]
    aside: list[bool]


def in_sequence(covariance: Matrix, values: Sequence[float], limit: float) -> InSequence:
    """Return L and L⁻¹·values, balance by balance; one whose residual is beyond ``limit`` is set aside once it is seen.

    What stood out is a blunder or a loss and no measurement error: as if it were missing, nothing of later balances is
    ascribed to it (its diagonal is 0), or one wrong figure would make every later one look wrong the other way.
    """
    found = InSequence([], [], [])
    for given, value in zip(covariance, values, strict=True):
        row = _row(given, found.rows)
        rest = value - fsum(a * z for a, z in zip(row, found.z, strict=False))
        residual = rest / row[-1] if row[-1] else 0.0
        if abs(residual) > limit:
            row[-1] = 0.0
        found.rows.append(row)
        found.z.append(residual)
        found.aside.append(abs(residual) > limit)
    return found


def residuals(rows: Matrix, values: Sequence[float]) -> list[float]:
    """Return L⁻¹·values, of unit variance and independent where values has covariance L·Lᵀ; 0 where nothing is new.

    ``rows``: L as `factor` gives it.
    """
    found: list[float] = []
    for row, value in zip(rows, values, strict=True):
        rest = value - fsum(a * z for a, z in zip(row, found, strict=False))
        found.append(rest / row[-1] if row[-1] else 0.0)
    return found


def matched(z: Sequence[float], pattern: Sequence[float]) -> tuple[float, float] | None:
    """Return the matched filter's statistic and the strength of the pattern; None where the figures cannot show it.

    ``z`` = L⁻¹U and ``pattern`` = L⁻¹m of a loss m: the statistic mᵀC⁻¹U / √(mᵀC⁻¹m) is standard normal without loss,
    and its mean is θ·√(mᵀC⁻¹m), the strength, when θ·m is lost: no test of that size finds it more surely (Neyman and
    Pearson 1933).
    """
    strength = sqrt(fsum(m * m for m in pattern))
    return (fsum(m * r for m, r in zip(pattern, z, strict=True)) / strength, strength) if strength else None


class Page(NamedTuple):
    """Page's sums after one residual: what is missing, and what is over, both ≥ 0.

    ``missing_since``, ``over_since``: index of the residual after the sum's last zero, the estimated start of a drift;
    None while the sum is zero. ``signal``: +1 or −1 where a sum went beyond the threshold, which starts it anew.
    """

    missing: float
    over: float
    missing_since: int | None
    over_since: int | None
    signal: int

    @property
    def since(self) -> int | None:
        """Where the drift that is signalled is estimated to have begun."""
        return self.missing_since if self.signal > 0 else self.over_since if self.signal < 0 else None


def page(z: Iterable[float | None], k: float, h: float, *, head_start: float = 0.0, restart: bool = True) -> list[Page]:
    """Return both sums of max(0, S ± z − k) after each residual; a sum above ``h`` signals.

    ``head_start`` is what both begin with (h/2: the fast initial response). With ``restart`` a sum that has signalled
    begins again at 0, so that each signal is news; without, it goes on. None, a residual set aside, changes nothing.
    """
    found: list[Page] = []
    missing, over, since = head_start, head_start, _Since()
    for i, residual in enumerate(z):
        if residual is not None:
            missing, over = max(0.0, missing + residual - k), max(0.0, over - residual - k)
            since = _Since(_begin(since.missing, missing, i), _begin(since.over, over, i))
        signal = (missing > h) - (over > h)
        found.append(Page(missing, over, since.missing, since.over, signal))
        if restart and missing > h:
            missing, since = 0.0, since._replace(missing=None)
        if restart and over > h:
            over, since = 0.0, since._replace(over=None)
    return found


class _Since(NamedTuple):
    missing: int | None = None
    over: int | None = None


def _begin(before: int | None, now: float, i: int) -> int | None:
    if not now:
        return None
    return i if before is None else before


def after_shared(
    values: Sequence[float], spread: Sequence[float], shared: Sequence[float], limit: float = inf
) -> list[float]:
    """Return independent unit residuals of values with own sds ``spread`` and one common error with sds ``shared``.

    The same as `in_sequence` for C = diag(spread²) + shared·sharedᵀ, in time that grows with the number of values: the
    common error's mean and variance given the values so far are carried along. One beyond ``limit`` is set aside.
    """
    mean, variance, found = 0.0, 1.0, []
    for value, own, reach in zip(values, spread, shared, strict=True):
        error, total = value - reach * mean, own * own + reach * reach * variance
        residual = error / sqrt(total) if total else 0.0
        found.append(residual)
        if total and abs(residual) <= limit:
            mean, variance = mean + reach * variance / total * error, variance * own * own / total
    return found
