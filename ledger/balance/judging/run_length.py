"""How long Page's cumulative sum runs until it signals: average run length, and the chance to signal within n.

The run length is exact but for rounding: its integral equation (E. S. Page, Biometrika 41 (1954)) with a standard
normal residual shifted by a mean, solved on Gauss–Legendre nodes (Nyström's method). With S the sum, and h the
threshold,

    L(u) = 1 + L(0)·Φ(k − µ − u) + ∫₀ʰ L(y)·φ(y + k − µ − u) dy

and P(no signal within n) by the same kernel applied n times.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from math import ceil, cos, erfc, exp, log, pi, sqrt

#: Nodes to one σ of the threshold's length, and the fewest: enough for ten digits.
_NODES_PER_SIGMA, _FEWEST_NODES = 4, 24
_STEPS = 60


def normal_below(x: float) -> float:
    """Return Φ(x), accurate in both tails."""
    return erfc(-x / sqrt(2)) / 2


class OneSided:
    """Page's sum one way: reference ``k``, threshold ``h``, residuals with mean ``shift`` and variance 1.

    The sum is max(0, S + z − k), and signals above h.
    """

    def __init__(self, k: float, h: float, shift: float = 0.0) -> None:
        self.k, self.h = k - shift, h
        nodes, weights = legendre(max(_FEWEST_NODES, ceil(_NODES_PER_SIGMA * h)))
        self.at = [0.0, *(h * (1 + x) / 2 for x in nodes)]
        self.weights = [h * w / 2 for w in weights]
        self.kernel = [self._row(u) for u in self.at]

    def _row(self, u: float) -> list[float]:
        """Return the chances, from u, of the sum at 0 and about each node after one residual."""
        density = [w * exp(-((y + self.k - u) ** 2) / 2) / sqrt(2 * pi)
                   for y, w in zip(self.at[1:], self.weights, strict=True)]  # fmt: skip
        return [normal_below(self.k - u), *density]

    def average(self, start: float = 0.0) -> float:
        """Return the average run length from a sum of ``start``."""
        run = solved([[(i == j) - q for j, q in enumerate(row)] for i, row in enumerate(self.kernel)])
        return 1 + sum(q * value for q, value in zip(self._row(start), run, strict=True))

    def within(self, n: int, start: float = 0.0) -> float:
        """Return the probability of a signal within ``n`` residuals from a sum of ``start``."""
        if n < 1:
            return 0.0
        survive = [1.0] * len(self.at)
        for _ in range(n - 1):
            survive = [sum(q * s for q, s in zip(row, survive, strict=True)) for row in self.kernel]
        return 1 - sum(q * s for q, s in zip(self._row(start), survive, strict=True))


def average_run_length(k: float, h: float, shift: float = 0.0, head_start: float = 0.0) -> float:
    """Return the average run length of both sums together, each from ``head_start``.

    Both never stand above zero long enough to signal at once (k > 0): the sums' run lengths combine as in Lucas and
    Crosier, Technometrics 24 (1982); without a head start 1/L = 1/L₊ + 1/L₋.
    """
    up, down = OneSided(k, h, shift), OneSided(k, h, -shift)
    plus, minus = up.average(), down.average()
    if not head_start:
        return plus * minus / (plus + minus)
    return (up.average(head_start) * minus + down.average(head_start) * plus - plus * minus) / (plus + minus)


@lru_cache(maxsize=256)
def threshold_for_average(k: float, run_length: float) -> float:
    """Return the threshold at which both sums together run ``run_length`` residuals on average without a shift."""
    return _root(lambda h: log(average_run_length(k, h)) - log(run_length), 3.0, 6.0)


def threshold_within(k: float, n: int, chance: float) -> float:
    """Return the threshold at which one sum, from zero, signals within ``n`` residuals with a probability."""
    return _root(lambda h: log(chance) - log(OneSided(k, h).within(n)), 2.0, 4.0)


def _root(f: Callable[[float], float], a: float, b: float) -> float:
    """Return where f is 0, by the secant method: log probabilities are all but straight in h."""
    fa, fb = f(a), f(b)
    for _ in range(_STEPS):
        if abs(fb) < 1e-10 or fb == fa:
            break
        a, b, fa = b, max(b - fb * (b - a) / (fb - fa), 1e-3), fb
        fb = f(b)
    return b


@lru_cache(maxsize=64)
def legendre(n: int) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return nodes and weights of Gauss–Legendre quadrature on (−1, 1); Abramowitz and Stegun 25.4.29 (from memory)."""
    nodes, weights = [], []
    for i in range(n):
        x = cos(pi * (i + 0.75) / (n + 0.5))
        for _ in range(8):
            value, slope = _polynomial(n, x)
            x -= value / slope
        _, slope = _polynomial(n, x)
        nodes.append(x)
        weights.append(2 / ((1 - x * x) * slope * slope))
    return tuple(nodes), tuple(weights)


def _polynomial(n: int, x: float) -> tuple[float, float]:
    """Return Legendre's polynomial of degree n and its slope."""
    before, now = 1.0, x
    for j in range(2, n + 1):
        before, now = now, ((2 * j - 1) * x * now - (j - 1) * before) / j
    return now, n * (x * now - before) / (x * x - 1)


def solved(matrix: list[list[float]]) -> list[float]:
    """Return x of matrix·x = (1, …, 1), by elimination with partial pivoting; the matrix is used up."""
    n = len(matrix)
    rows = [[*row, 1.0] for row in matrix]
    for i in range(n):
        best = max(range(i, n), key=lambda r: abs(rows[r][i]))
        rows[i], rows[best] = rows[best], rows[i]
        pivot = rows[i]
        for other in rows[i + 1 :]:
            share = other[i] / pivot[i]
            other[i:] = [a - share * b for a, b in zip(other[i:], pivot[i:], strict=True)]
    x = [0.0] * n
    for i in reversed(range(n)):
        x[i] = (rows[i][n] - sum(a * b for a, b in zip(rows[i][i + 1 : n], x[i + 1 :], strict=True))) / rows[i][i]
    return x
