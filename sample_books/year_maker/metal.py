"""True metal: what is really there, in grams. The book never sees these figures; floats are good enough for a world."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Metal:
    """Metallic mass, and the fine gold and fine silver in it, grams."""

    mass: float = 0.0
    gold: float = 0.0
    silver: float = 0.0

    def __add__(self, other: Metal) -> Metal:
        return Metal(self.mass + other.mass, self.gold + other.gold, self.silver + other.silver)

    def __sub__(self, other: Metal) -> Metal:
        return Metal(self.mass - other.mass, self.gold - other.gold, self.silver - other.silver)

    def times(self, factor: float) -> Metal:
        """Return a share of it, alike in everything."""
        return Metal(self.mass * factor, self.gold * factor, self.silver * factor)

    def part(self, mass: float) -> Metal:
        """Return so many grams of it."""
        return self.times(mass / self.mass)

    @property
    def fineness(self) -> tuple[float, float]:
        """Shares of gold and of silver."""
        return (self.gold / self.mass, self.silver / self.mass)


def of_fineness(mass: float, gold: float, silver: float) -> Metal:
    """Return metal of so many grams at these shares."""
    return Metal(mass, mass * gold, mass * silver)


def total(parts: list[Metal]) -> Metal:
    """Return the sum of parts."""
    return sum(parts, Metal())
