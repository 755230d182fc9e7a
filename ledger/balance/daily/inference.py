"""Small statistics of a few numbers: the mean with its interval, and the sign test.

Floats appear here and in what is printed from here, never in a mass.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import atan, comb, cos, erfc, fsum, pi, sin, sqrt, tan

#: Probability that an interval printed anywhere covers.
COVERAGE = 0.95


def student_within(t: float, degrees: int) -> float:
    """Return P(|T| ≤ t) of Student's T with a whole number of degrees of freedom, t ≥ 0.

    Abramowitz and Stegun, 26.7.3 and 26.7.4 (from memory): finite sums, exact but for rounding.
    """
    angle = atan(t / sqrt(degrees))
    if degrees == 1:
        return 2 * angle / pi
    odd = degrees % 2
    term = cos(angle) if odd else 1.0
    terms = [term]
    for i in range(2 + odd, degrees, 2):
        term *= cos(angle) ** 2 * (i - 1) / i
        terms.append(term)
    body = sin(angle) * fsum(terms)
    return 2 / pi * (angle + body) if odd else body


def student_t(degrees: int, coverage: float = COVERAGE) -> float:
    """Return the t that |T| stays within with a probability, found by halving the angle's range."""
    low, high = 0.0, pi / 2
    for _ in range(80):
        middle = (low + high) / 2
        if student_within(sqrt(degrees) * tan(middle), degrees) < coverage:
            low = middle
        else:
            high = middle
    return sqrt(degrees) * tan((low + high) / 2)


@dataclass(frozen=True, slots=True)
class Mean:
    """The mean of n values, their standard deviation, and the 95 % interval of the mean: mean ± t·s/√n.

    ``sd``, ``low`` and ``high`` are None for fewer than two values. The values are taken as independent draws of one
    normal distribution.
    """

    n: int
    mean: float
    sd: float | None
    low: float | None
    high: float | None


def mean_of(values: Sequence[float]) -> Mean:
    """Return the mean of one or more values with its interval."""
    n = len(values)
    mean = fsum(values) / n
    if n < 2:
        return Mean(n, mean, None, None, None)
    sd = sqrt(fsum((x - mean) ** 2 for x in values) / (n - 1))
    reach = student_t(n - 1) * sd / sqrt(n)
    return Mean(n, mean, sd, mean - reach, mean + reach)


@dataclass(frozen=True, slots=True)
class Signs:
    """How many differences are above nothing, below it, and nothing (left out), and what chance would do.

    ``p_positive``: probability of at least so many positive ones if either sign were equally likely, exact;
    ``p_either``: of so uneven a split in either direction. None without any difference.
    """

    positive: int
    negative: int
    nothing: int
    p_positive: Fraction | None
    p_either: Fraction | None

    def verdict(self, warn: Fraction, act: Fraction) -> str:
        """Return short (positive ones prevail), over, look or within: by chance no oftener than beyond so many σ."""
        if self.p_either is None or self.p_either > beyond(warn):
            return "within"
        if self.p_either > beyond(act):
            return "look"
        return "short" if self.positive > self.negative else "over"


def sign_test(differences: Sequence[int]) -> Signs:
    """Return the sign test of signed differences."""
    positive = sum(d > 0 for d in differences)
    negative = sum(d < 0 for d in differences)
    n = positive + negative
    nothing = len(differences) - n
    if not n:
        return Signs(0, 0, nothing, None, None)
    both = min(Fraction(1), 2 * at_least(max(positive, negative), n))
    return Signs(positive, negative, nothing, at_least(positive, n), both)


def at_least(k: int, n: int) -> Fraction:
    """Return the probability of k or more heads in n throws of a fair coin."""
    return Fraction(sum(comb(n, i) for i in range(k, n + 1)), 2**n)


def beyond(level: Fraction) -> float:
    """Return the probability that a standard normal lies beyond so many σ, either way."""
    return erfc(float(level) / sqrt(2))
