"""What a charge is made of and made to: sources, the alloy wanted, what the furnace takes, the scale's step."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Final

from ledger.quantities.fineness import parse_fineness
from ledger.quantities.mass import NG_PER_UNIT, decimal_text, parse_mass, shown
from ledger.quantities.rounding import half_even
from ledger.refusals import QuantityRefused

#: From here on a source counts as fine metal rather than scrap: common practice, no source.
FINE: Final = Fraction(990, 1000)

_METAL = re.compile(r"([a-z]{2,20}) ?= ?(.+)", re.ASCII)
_MASS = re.compile(r"[\d.]+\s?[a-zµμA-Z]+", re.ASCII)
_STEP = re.compile(r"(\d{1,9}(?:\.\d{1,9})?) ?([a-zµμA-Z]{1,5})")
_LOT_MEND: Final = 'write "NAME: 640.18 g, 12K" or "NAME: 640.18 g, gold=500‰, silver=200‰"; to buy, leave the mass out'


@dataclass(frozen=True, slots=True)
class Source:
    """Metal that a charge can take: a lot on hand, or metal to be bought.

    ``holds``: share of the mass by metal, base metals too where they are known; a metal that is absent is not stated,
    unless the shares add up to one. ``on_hand_ng`` None: to be bought, as much as wanted.
    """

    name: str
    holds: Mapping[str, Fraction]
    on_hand_ng: int | None = None

    @property
    def bought(self) -> bool:
        """Whether it is still to be bought."""
        return self.on_hand_ng is None

    def share(self, metal: str) -> Fraction | None:
        """Return the metal's share of the mass; None where it is not stated and does not follow."""
        stated = self.holds.get(metal)
        return Fraction(0) if stated is None and sum(self.holds.values()) == 1 else stated


@dataclass(frozen=True, slots=True)
class Window:
    """What the poured alloy may hold of a metal, as shares of its mass; the same twice: exactly so much."""

    low: Fraction
    high: Fraction

    @property
    def exact(self) -> bool:
        """Whether it leaves no choice."""
        return self.low == self.high

    def beyond(self, share: Fraction) -> Fraction:
        """Return by how much a share lies above the window, negative below it, nothing within."""
        return max(share - self.high, Fraction(0)) - max(self.low - share, Fraction(0))


@dataclass(frozen=True, slots=True)
class Furnace:
    """What becomes of a charge on its way to the bar: handed in, since a loss is never assumed.

    ``fume``: share of the mass in that leaves as base metal, with nothing in it; ``loss``: share of the rest, and
    ``each_ng`` a fixed mass of every melt, lost at the mean fineness. ``fumes``: the base metal that leaves.
    """

    fume: Fraction = Fraction(0)
    loss: Fraction = Fraction(0)
    each_ng: int = 0
    fumes: str = "zinc"

    def __post_init__(self) -> None:
        if self.fume == 1 or self.loss == 1:
            raise QuantityRefused("a furnace that keeps all of it pours nothing", "check loss and fume")

    def charge_for(self, poured_ng: int) -> Fraction:
        """Return the mass to charge, in nanograms, of which so much is poured."""
        return Fraction(poured_ng + self.each_ng) / ((1 - self.loss) * (1 - self.fume))

    @property
    def poured_share(self) -> Fraction:
        """What the fume leaves of a mass."""
        return 1 - self.fume


class Step:
    """The step of a scale, as it is written: ``0.01 g``. Its multiples are what the scale can show."""

    def __init__(self, text: str = "0.01 g") -> None:
        match = _STEP.fullmatch(text)
        unit = match.group(2).replace("μ", "µ") if match else ""
        if match is None or unit not in NG_PER_UNIT or not Fraction(match.group(1)):
            raise QuantityRefused(f"{shown(text)} is not the step of a scale", 'write "0.01 g"')
        self.text, self.unit = f"{match.group(1)} {unit}", unit
        self.places = len(match.group(1).partition(".")[2])
        self.ng = Fraction(match.group(1)) * NG_PER_UNIT[unit]

    def up(self, mass: Fraction) -> int:
        """Return the least reading, in nanograms, that is not below a mass."""
        steps = -(-mass // self.ng)
        return next(ng for extra in range(3) if (ng := self._reading(steps + extra)) >= mass)

    def down(self, mass: Fraction) -> int:
        """Return the greatest reading, in nanograms, that is not above a mass."""
        steps = mass // self.ng
        return next(ng for fewer in range(3) if (ng := self._reading(steps - fewer)) <= mass)

    def _reading(self, steps: int) -> int:
        exact = steps * self.ng
        return half_even(exact.numerator, exact.denominator)


@dataclass(frozen=True, slots=True)
class Figures:
    """How masses are written in a working: unit, and digits after the point."""

    unit: str = "g"
    places: int = 3

    def mass(self, mass_ng: Fraction | int) -> str:
        """Return a mass with its unit."""
        return self._written(mass_ng, self.places)

    def content(self, mass_ng: Fraction | int) -> str:
        """Return a content, or another mass that nobody weighs, with the digits that a fineness is worked out from."""
        return self._written(mass_ng, self.places + 2)

    def _written(self, mass_ng: Fraction | int, places: int) -> str:
        return f"{decimal_text(Fraction(mass_ng) / NG_PER_UNIT[self.unit], places)} {self.unit}"


@dataclass(frozen=True, slots=True)
class Wanted:
    """The alloy to be poured: its windows by metal, the marked metal first, and how much; None: all that is on hand."""

    metal: str
    windows: Mapping[str, Window]
    poured_ng: int | None = None
    name: str = ""
    furnace: Furnace = field(default_factory=Furnace)

    def __post_init__(self) -> None:
        if sum(window.low for window in self.windows.values()) > 1:
            raise QuantityRefused("what is wanted adds up to more than pure", "check each fineness")


def parse_holds(parts: list[str], metal: str) -> dict[str, Fraction]:
    """Return the shares written as ``12K`` (of ``metal``) or ``gold=500‰``, one a part; raises QuantityRefused."""
    holds: dict[str, Fraction] = {}
    for part in parts:
        match = _METAL.fullmatch(part)
        name, text = (match.group(1), match.group(2)) if match else (metal, part)
        if name in holds:
            raise QuantityRefused(f"{name} is stated twice", "state each metal once")
        holds[name] = parse_fineness(text)
    if sum(holds.values()) > 1:
        raise QuantityRefused("its metals add up to more than pure", "check each fineness: together they are 1 at most")
    return holds


def parse_window(text: str) -> tuple[str, Window]:
    """Return metal and window of ``silver=180‰..220‰`` or ``silver=200‰``; raises QuantityRefused."""
    match = _METAL.fullmatch(text)
    if match is None:
        raise QuantityRefused(f"{shown(text)} is not a window", 'write "silver=180‰..220‰", or "silver=200‰" exactly')
    low, _, high = match.group(2).partition("..")
    window = Window(parse_fineness(low), parse_fineness(high or low))
    if window.low > window.high:
        raise QuantityRefused(f"{shown(text)} runs backwards", "write the lower fineness first")
    return match.group(1), window


def parse_source(text: str, metal: str, known: Mapping[str, Mapping[str, Fraction]] | None = None) -> Source:
    """Return a source written ``NAME: MASS, COMPOSITION``; raises QuantityRefused.

    The name may be left out, and the mass where the metal is to be bought. A composition is fineness by fineness as
    ``parse_holds`` reads it, or the code of a ``known`` alloy.
    """
    name, colon, rest = text.rpartition(":")
    parts = [part.strip() for part in rest.split(",")]
    mass = parse_mass(parts.pop(0)) if _MASS.fullmatch(parts[0]) and not _is_fineness(parts[0]) else None
    written = ", ".join(parts)
    if not written and name.strip() in (known or {}):
        written = name.strip()
    if not written:
        raise QuantityRefused(f"{shown(text)} does not say what it holds", _LOT_MEND)
    holds = (known or {}).get(written) or parse_holds(parts, metal)
    return Source(name.strip() if colon and name.strip() else written, holds, mass)


def _is_fineness(text: str) -> bool:
    try:
        parse_fineness(text)
    except QuantityRefused:
        return False
    return True
