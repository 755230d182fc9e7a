"""How surely a loss of a known pattern can be found at all: the ceiling that no test of the same size goes beyond."""

from __future__ import annotations

from collections.abc import Sequence
from math import fsum, hypot, inf
from statistics import NormalDist

from ledger.balance.judging.run_length import normal_below
from ledger.balance.judging.sequential import Matrix, factor

_NORMAL = NormalDist()

#: A shift below this share of itself, after what earlier balances say of it, is rounding.
_ROUNDING = 1e-6


def detection_probability(shift: Sequence[float], covariance: Matrix, alpha: float) -> float:
    """Return Φ(√(mᵀC⁻¹m) − z₁₋α): the power of the best one-sided test of size ``alpha`` for a loss m.

    ``shift``: m, what the loss adds to each balance, in the unit of the balances; ``covariance``: C, in its square,
    symmetric and positive semi-definite. Where the balances without error would show the loss exactly it is 1: nothing
    is added to C to make it invertible. Neyman and Pearson, Philosophical Transactions A 231 (1933): for normal
    balances the likelihood ratio is the matched filter mᵀC⁻¹U, and its mean √(mᵀC⁻¹m) σ.
    """
    return normal_below(distance(shift, covariance) - _NORMAL.inv_cdf(1 - alpha))


def distance(shift: Sequence[float], covariance: Matrix) -> float:
    """Return √(mᵀC⁻¹m), the shift's size in σ of the matched filter; infinite where C has no error on its way."""
    found: list[float] = []
    for row, size in zip(factor(covariance), shift, strict=True):
        rest = size - fsum(a * z for a, z in zip(row, found, strict=False))
        if not row[-1] and abs(rest) > _ROUNDING * abs(size):
            return inf
        found.append(rest / row[-1] if row[-1] else 0.0)
    return hypot(*found)


def distance_needed(power: float, alpha: float) -> float:
    """Return the √(mᵀC⁻¹m) at which the best test of size ``alpha`` has a power: z₁₋α + z_power."""
    return _NORMAL.inv_cdf(1 - alpha) + _NORMAL.inv_cdf(power)
