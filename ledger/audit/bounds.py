"""Sizes of samples and what a sample bounds: binomial for attributes, Poisson for units of content or value.

Computed anew each time, in plain Python; printed tables are where the tests come from. Risk is the probability of
relying upon a record that is as wrong as what is tolerable. Floats appear here and in what is printed from here, never
in a mass.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from itertools import count
from math import ceil, exp, fsum, lgamma, log

#: Halvings of an interval: more than a double can tell apart.
_HALVINGS = 100

#: A size beyond this is no sample: the plan is refused.
LARGEST_SIZE = 10_000


def binomial_at_most(k: int, n: int, p: float) -> float:
    """Return P(X ≤ k) of X binomial with n trials of probability p: I(1 − p; n − k, k + 1)."""
    if k >= n or p <= 0:
        return 1.0
    if p >= 1 or k < 0:
        return 0.0
    return _beta_below(n - k, k + 1, 1 - p, p)


def _beta_below(a: float, b: float, x: float, y: float) -> float:
    """Return I(x; a, b), the regularised incomplete beta function, y = 1 − x given apart so that no digit is lost.

    The continued fraction 26.5.8 (Abramowitz and Stegun, from memory), on the side where it converges fast.
    """
    if x > (a + 1) / (a + b + 2):
        return 1 - _beta_below(b, a, y, x)
    front = exp(lgamma(a + b) - lgamma(a) - lgamma(b) + a * log(x) + b * log(y)) / a
    return front / _continued(1.0, (_beta_step(a, b, x, m) for m in count(1)))


def _beta_step(a: float, b: float, x: float, m: int) -> tuple[float, float]:
    half = m // 2
    if m % 2:
        return -(a + half) * (a + b + half) * x / ((a + m - 1) * (a + m)), 1.0
    return half * (b - half) * x / ((a + m - 1) * (a + m)), 1.0


def _continued(first: float, steps: Iterable[tuple[float, float]]) -> float:
    """Return b₀ + a₁/(b₁ + a₂/(b₂ + …)) from b₀ and the pairs (a, b), each step kept in range (Lentz 1976)."""
    tiny = 1e-300
    value = c = first or tiny
    d = 0.0
    for numerator, b in steps:
        d = 1 / (b + numerator * d or tiny)
        c = b + numerator / c or tiny
        value *= c * d
        if abs(c * d - 1) < 1e-15:
            return value
    raise AssertionError("the steps end nowhere")


def attribute_upper_limit(n: int, deviations: int, risk: float) -> float:
    """Return the upper limit of the rate of deviations: P(X ≤ deviations) = risk there (Clopper and Pearson 1934)."""
    if deviations >= n:
        return 1.0
    low, high = 0.0, 1.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        if binomial_at_most(deviations, n, middle) > risk:
            low = middle
        else:
            high = middle
    return high


def attribute_size(risk: float, tolerable: Fraction, expected: Fraction = Fraction(0)) -> int | None:
    """Return the least n that, with n·expected deviations (rounded up), still bounds the rate below ``tolerable``.

    AICPA Audit Guide "Audit Sampling" (2017), Tables A-1 and A-2. None where no size up to ten thousand does.
    """
    if binomial_at_most(ceil(LARGEST_SIZE * expected), LARGEST_SIZE, float(tolerable)) > risk:
        return None
    n = 0
    for allowed in count():
        n = _size_allowing(allowed, risk, float(tolerable), n)
        if ceil(n * expected) <= allowed:
            return n
    raise AssertionError("count() does not end")


def _size_allowing(allowed: int, risk: float, tolerable: float, more_than: int) -> int:
    """Return the least n with P(X ≤ allowed; n, tolerable) ≤ risk, above the size that allows one less."""
    low, step = more_than, 1
    while binomial_at_most(allowed, low + step, tolerable) > risk:
        low, step = low + step, 2 * step
    high = low + step
    while high - low > 1:
        middle = (low + high) // 2
        if binomial_at_most(allowed, middle, tolerable) > risk:
            low = middle
        else:
            high = middle
    return high


def gamma_above(a: float, x: float) -> float:
    """Return Q(a, x), the regularised upper incomplete gamma function; for whole a it is P(Poisson(x) ≤ a − 1).

    The series 6.5.29 below a + 1, the continued fraction 6.5.31 above (Abramowitz and Stegun, from memory).
    """
    if x <= 0:
        return 1.0
    front = exp(a * log(x) - x - lgamma(a))
    if x < a + 1:
        term = total = 1 / a
        for n in count(1):
            term *= x / (a + n)
            total += term
            if term < total * 1e-17:
                break
        return 1 - front * total
    return front / _continued(x + 1 - a, ((-i * (i - a), x + 2 * i + 1 - a) for i in count(1)))


def confidence_factor(risk: float, errors: float) -> float:
    """Return the Poisson factor: the mean at which so few as ``errors``, or a fraction, have probability ``risk``."""
    low, high = 0.0, 1.0
    while gamma_above(errors + 1, high) > risk:
        high *= 2
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        if gamma_above(errors + 1, middle) > risk:
            low = middle
        else:
            high = middle
    return high


def unit_factor(risk: float, ratio: Fraction) -> float | None:
    """Return F = n × tolerable of a unit sample that expects ``ratio`` of the tolerable: factor(risk, F × ratio) = F.

    None where the expected is so near to the tolerable that no sample tells them apart.
    """
    share = float(ratio)
    low, high = 0.0, 1.0
    while gamma_above(1 + high * share, high) > risk:
        low, high = high, high * 2
        if high > LARGEST_SIZE:
            return None
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        if gamma_above(1 + middle * share, middle) > risk:
            low = middle
        else:
            high = middle
    return high


def unit_size(risk: float, tolerable: Fraction, expected: Fraction = Fraction(0)) -> int | None:
    """Return how many units to draw: both shares of the whole (AICPA 2017, Table C-1). None where no size suffices."""
    factor = unit_factor(risk, expected / tolerable) if expected < tolerable else None
    if factor is None or factor / tolerable > LARGEST_SIZE:
        return None
    return ceil(factor / tolerable - Fraction(1, 10**9))


def stringer_bound(interval: float, taints: Sequence[float], risk: float, factors: Sequence[float] = ()) -> float:
    """Return Stringer's upper bound of the error in what was sampled by units, in the interval's own unit.

    J × (F₀ + Σ (Fᵢ − Fᵢ₋₁)·tᵢ), taints t in falling order, F the Poisson factors (Stringer 1963, as audit courses
    print it). Taints lie in 0 … 1: a greater one counts as 1. ``factors``: those of a printed table.
    """
    falling = sorted((min(t, 1.0) for t in taints if t > 0), reverse=True)
    known = factors or [confidence_factor(risk, i) for i in range(len(falling) + 1)]
    steps = ((known[i + 1] - known[i]) * t for i, t in enumerate(falling))
    return interval * fsum((known[0], *steps))
