"""Raising and lowering karat: the closed forms, exact.

Content is what a charge keeps: m₁f₁ + m₂f₂ = (m₁ + m₂)f. All else here follows from it (the rule of alligation).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import Final

from ledger.quantities.fineness import per_mille_text
from ledger.quantities.mass import decimal_text
from ledger.refusals import Impossible

#: Denominators up to which a karat is written as a common fraction, as a person would.
_LARGEST_DENOMINATOR: Final = 100


def karat_text(fineness: Fraction) -> str:
    """Return a fineness, or a difference of two, in karat: ``"18 10/13"``; three decimals where it is no short one."""
    karat = fineness * 24
    whole, rest = divmod(abs(karat), 1)
    if rest.denominator > _LARGEST_DENOMINATOR:
        return decimal_text(karat, 3)
    sign = "-" if karat < 0 else ""
    parts = [str(whole)] if whole or not rest else []
    return sign + " ".join([*parts, *([f"{rest.numerator}/{rest.denominator}"] if rest else [])])


def fineness_text(metal: str, fineness: Fraction) -> str:
    """Return a fineness for people: ‰, and for gold the karat beside it."""
    per_mille = f"{per_mille_text(fineness)} ‰"
    return f"{karat_text(fineness)} karat ({per_mille})" if metal == "gold" else per_mille


def mean_fineness(parts: Iterable[tuple[Fraction | int, Fraction]]) -> Fraction:
    """Return the fineness of (mass, fineness) pairs melted together, any one unit of mass; their sum is above zero."""
    pairs = list(parts)
    return sum((mass * fineness for mass, fineness in pairs), Fraction(0)) / sum(Fraction(mass) for mass, _ in pairs)


def to_add(mass: Fraction | int, fineness: Fraction, wanted: Fraction, addition: Fraction) -> Fraction:
    """Return how much of fineness ``addition`` brings a mass from ``fineness`` to ``wanted``, in the unit of ``mass``.

    m(f − F) / (F − g), with m the mass, f its fineness, F the one wanted and g the addition's. Raises Impossible, in
    karat, where the addition does not lie beyond the fineness wanted.
    """
    if fineness == wanted:
        return Fraction(0)
    added = Fraction(mass) * (fineness - wanted) / (wanted - addition) if addition != wanted else Fraction(-1)
    if added < 0:
        way, limit = ("short", "finer") if fineness < wanted else ("too fine", "poorer")
        raise Impossible(
            f"{karat_text(fineness)} karat cannot be made {karat_text(wanted)} karat by adding "
            f"{karat_text(addition)} karat: it falls {karat_text(abs(wanted - fineness))} karat {way}",
            f"add what is {limit} than {karat_text(wanted)} karat",
        )
    return added


def alligate(wanted: Fraction, finenesses: Sequence[Fraction]) -> list[Fraction]:
    """Return parts in which the finenesses mix to ``wanted``: the poorest linked with the finest, and so inwards.

    Each of a linked pair takes the other's distance from ``wanted`` as its parts (alligation alternate of the old
    arithmetics); one left over is linked once more with the innermost on the other side. Where more than two are mixed
    this is one answer of many. Raises Impossible where all lie on one side.
    """
    parts = [Fraction(0)] * len(finenesses)
    for exact in (place for place, fineness in enumerate(finenesses) if fineness == wanted):
        parts[exact] = Fraction(1)
    poorer = sorted((f, place) for place, f in enumerate(finenesses) if f < wanted)
    finer = sorted(((f, place) for place, f in enumerate(finenesses) if f > wanted), reverse=True)
    if not (poorer and finer) and (poorer or finer):
        nearest = (poorer or finer)[-1][0]
        raise Impossible(
            f"nothing here can be mixed to {karat_text(wanted)} karat: the nearest is {karat_text(nearest)} karat",
            f"add what is {'finer' if poorer else 'poorer'} than {karat_text(wanted)} karat",
        )
    for link in range(max(len(poorer), len(finer))):
        (low, low_place), (high, high_place) = poorer[min(link, len(poorer) - 1)], finer[min(link, len(finer) - 1)]
        parts[low_place] += high - wanted
        parts[high_place] += wanted - low
    return parts
