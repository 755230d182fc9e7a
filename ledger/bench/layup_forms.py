"""What is laid up: layer, bonding medium and base, by mass or by thickness, with composition and density."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from ledger.bench.charge_forms import parse_holds
from ledger.bench.gauge import is_density, parse_density, parse_length
from ledger.bench.layup_density import by_mixture
from ledger.quantities.mass import parse_mass, shown
from ledger.refusals import QuantityRefused

#: How the layer lies: on one face, on two (of the same thickness), or round a wire or tube.
Faces = Literal[1, 2, "round"]


@dataclass(frozen=True, slots=True)
class Part:
    """One of layer, bonding medium and base: its fineness by metal, its density in g/cm³ where it is known.

    ``mixed``: nobody measured the density, it follows from the composition by the rule of mixtures.
    """

    name: str
    holds: Mapping[str, Fraction]
    density: Fraction | None = None
    mixed: bool = False

    def fineness(self, metal: str) -> Fraction:
        """Return the fineness of a metal, none where it is not stated."""
        return self.holds.get(metal, Fraction(0))


@dataclass(frozen=True, slots=True)
class Stated:
    """A part as it was stated: with a mass in nanograms, or a thickness in nanometres, or neither."""

    part: Part
    mass_ng: int | None = None
    thickness_nm: int | None = None


def parse_part(text: str, name: str, metal: str, known: Mapping[str, Part] | None = None) -> Stated:
    """Return a part written ``100.20 g, 12K, 13.07 g/cm³``: mass or thickness, composition, density; each optional.

    A composition is what ``charge_forms.parse_holds`` reads, or the code of a ``known`` alloy. Raises QuantityRefused.
    """
    mass = thickness = density = None
    written: list[str] = []
    code: Part | None = None
    for piece in (piece.strip() for piece in text.split(",")):
        if piece in (known or {}):
            code = (known or {})[piece]
        elif is_density(piece):
            density = parse_density(piece)
        elif (read := _amount(piece)) is not None:
            mass, thickness = (read[0] or mass, read[1] or thickness)
        elif piece:
            written.append(piece)
    if mass and thickness:
        raise QuantityRefused(f"{shown(text)} states a mass and a thickness", "state one of them")
    holds = parse_holds(written, metal) if written else code.holds if code else {}
    known_density = density or (code.density if code else None)
    by_rule = None if known_density else by_mixture(holds)
    return Stated(Part(name, holds, known_density or by_rule, by_rule is not None), mass, thickness)


def _amount(piece: str) -> tuple[int | None, int | None] | None:
    """Return (mass, thickness) of a piece that is one of them."""
    for place, read in enumerate((parse_mass, parse_length)):
        try:
            value = read(piece)
        except QuantityRefused:
            continue
        return (value, None) if place == 0 else (None, value)
    return None
