"""Many comparisons at once: the false discovery rate.

Y. Benjamini and Y. Hochberg, Controlling the false discovery rate, J. R. Stat. Soc. B 57 (1995): of m p-values in order
the first k are rejected, k the largest with p_k ≤ k/m · rate. Among independent comparisons, and among those that go
with one another, the share of false ones among the rejected is then on average at most the rate.
"""

from __future__ import annotations

from collections.abc import Sequence


def adjusted(p_values: Sequence[float]) -> list[float]:
    """Return for each p-value the smallest rate at which it is rejected, in the order given."""
    order = sorted(range(len(p_values)), key=lambda i: p_values[i], reverse=True)
    found, least = [1.0] * len(p_values), 1.0
    for place, i in enumerate(order):
        least = min(least, p_values[i] * len(p_values) / (len(p_values) - place))
        found[i] = least
    return found


def level(p_values: Sequence[float], rate: float) -> float:
    """Return the largest p-value that is rejected at a false discovery rate; 0 where none is."""
    rejected = [p for p, q in zip(p_values, adjusted(p_values), strict=True) if q <= rate]
    return max(rejected, default=0.0)
