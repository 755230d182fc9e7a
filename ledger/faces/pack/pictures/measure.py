"""How a picture writes its figures: a mass as every page shows it, in the unit of the pack."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from ledger.faces.printing import mass
from ledger.quantities.mass import NG_PER_UNIT, grams_text

_GRAM = 1_000_000_000


@dataclass(frozen=True)
class Measure:
    """Of which metal, in which unit; ``warn`` and ``act`` are the plant's levels in σ."""

    metal: str
    unit: str
    warn: float
    act: float

    def text(self, grams: str) -> str:
        """Return plain decimal grams as people are shown them."""
        return mass(ng_of(grams), self.unit)

    def with_unit(self, grams: str) -> str:
        """Return the same and its unit."""
        return f"{self.text(grams)} {self.unit}"

    def size(self, grams: str) -> float:
        """Return plain decimal grams as a number in the unit, to draw by."""
        return float(Fraction(ng_of(grams)) / NG_PER_UNIT[self.unit])

    @property
    def what(self) -> str:
        """What is balanced: a metal, or the mass of all of them together."""
        return "metallic mass" if self.metal == "gross" else self.metal

    @property
    def act_words(self) -> str:
        """The action level, as ``±3 σ``."""
        return f"±{self.act:g} σ"


def lie(number: int) -> str:
    """Return the verb for so many."""
    return "lies" if number == 1 else "lie"


def ng_of(grams: str) -> int:
    """Return the nanograms of plain decimal grams."""
    return round(Fraction(grams) * _GRAM)


def grams_of(sigma: float) -> str:
    """Return a σ in grams, a number, as plain decimal grams to the nanogram."""
    return grams_text(round(sigma * _GRAM))


def times(factor: float, grams: str) -> str:
    """Return a multiple of plain decimal grams, to the nanogram."""
    return grams_text(round(Fraction(factor) * ng_of(grams)))


def added(*grams: str) -> str:
    """Return the exact sum of plain decimal grams."""
    return grams_text(sum(ng_of(one) for one in grams))


def turned(grams: str) -> str:
    """Return plain decimal grams with the other sign."""
    return grams_text(-ng_of(grams))
