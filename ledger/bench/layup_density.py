"""Densities of metals, and of an alloy by the rule of mixtures: for where nobody has measured one."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Final

#: g/cm³ near room temperature, rounded; compared with the periodictable library by a test.
DENSITY: Final[dict[str, Fraction]] = {
    metal: Fraction(density)
    for metal, density in {
        "gold": "19.3", "silver": "10.50", "copper": "8.96", "nickel": "8.90", "zinc": "7.13", "platinum": "21.45",
        "palladium": "12.02",
    }.items()
}  # fmt: skip

#: What is said wherever a density was mixed rather than measured.
TRAP: Final = (
    "density by the rule of mixtures, which alloys do not keep: 70/30 brass comes out at 8.32 where data sheets say "
    "8.53; state a measured one"
)


def by_mixture(holds: Mapping[str, Fraction]) -> Fraction | None:
    """Return 1 ÷ Σ(share ÷ density), or None where the shares do not add up to one or a metal's density is not known.

    An estimate: atoms of an alloy do not keep the room they have in the pure metals.
    """
    if sum(holds.values()) != 1 or any(share and metal not in DENSITY for metal, share in holds.items()):
        return None
    return 1 / sum((share / DENSITY[metal] for metal, share in holds.items() if share), Fraction(0))
