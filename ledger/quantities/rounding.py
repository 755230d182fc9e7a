"""The one rounding of the book: half to even, once."""

from __future__ import annotations


def half_even(numerator: int, denominator: int) -> int:
    """Return ``numerator / denominator`` rounded half to even, in exact integers.

    ``denominator`` must be positive. Equal to ``round(Fraction(numerator, denominator))``.
    """
    quotient, remainder = divmod(numerator, denominator)
    twice = remainder + remainder
    if twice > denominator or (twice == denominator and quotient & 1):
        return quotient + 1
    return quotient
