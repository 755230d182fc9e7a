"""Amounts: one integer of nanograms for gross and for each booked metal, in the book's order.

The order is ``("gross", *plant.metals)``; index 0 is metallic mass, the others fine content. A composition is the
tuple of finenesses in the same order, its first member exactly 1.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

from ledger.quantities.fineness import content_ng
from ledger.quantities.rounding import half_even

Amounts = list[int]
Composition = tuple[Fraction, ...]

ONE = Fraction(1)


def content(mass_ng: int, composition: Composition) -> Amounts:
    """Return gross and fine contents of a metallic mass, each rounded half-even once."""
    return [mass_ng, *(content_ng(mass_ng, fineness) for fineness in composition[1:])]


def plus(a: Sequence[int], b: Sequence[int]) -> Amounts:
    """Return a + b, member by member."""
    return [x + y for x, y in zip(a, b, strict=True)]


def minus(a: Sequence[int], b: Sequence[int]) -> Amounts:
    """Return a − b, member by member."""
    return [x - y for x, y in zip(a, b, strict=True)]


def negative(a: Sequence[int]) -> Amounts:
    """Return −a."""
    return [-x for x in a]


def total(many: Iterable[Sequence[int]], size: int) -> Amounts:
    """Return the sum of many amounts, ``size`` members each; zeros when there are none."""
    out = [0] * size
    for amounts in many:
        for i, x in enumerate(amounts):
            out[i] += x
    return out


def composition_of(amounts: Sequence[int]) -> Composition:
    """Return content over mass, exactly; all zero fine where there is no mass."""
    mass = amounts[0]
    if mass <= 0:
        return (ONE, *(Fraction(0) for _ in amounts[1:]))
    return (ONE, *(Fraction(x, mass) for x in amounts[1:]))


def shared_by_mass(amounts: Sequence[int], masses: Sequence[int]) -> list[Amounts]:
    """Share fine contents over outputs in proportion to their masses; gross is each output's own mass.

    All but the last share are rounded half-even, the last takes the rest, so that nothing is made or lost.
    """
    whole = sum(masses)
    left = list(amounts)
    shares = []
    for mass in masses[:-1]:
        share = [mass, *(half_even(x * mass, whole) for x in amounts[1:])]
        left = minus(left, share)
        shares.append(share)
    return [*shares, [masses[-1], *left[1:]]]
