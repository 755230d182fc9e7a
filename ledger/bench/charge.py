"""A charge: so much of each source, and what is poured of it, exact, and rounded once to what the scale can show.

What is finer than the alloy wanted is rounded up and what is poorer down, so that the bar is never below its mark; a
lot taken whole is not rounded. The charge weighs, to the nanogram, what its lines add up to, and the bar what fume
and loss leave of that.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from ledger.bench.charge_choice import First, choose, fumed, usable
from ledger.bench.charge_forms import Figures, Source, Step, Wanted
from ledger.bench.charge_refusal import impossible
from ledger.bench.charge_working import Told, worked
from ledger.bench.working import Working
from ledger.quantities.fineness import content_ng
from ledger.quantities.rounding import half_even
from ledger.refusals import Impossible


@dataclass(frozen=True, slots=True)
class Line:
    """What is taken of one source: ``exact`` before rounding; ``all``: the whole lot."""

    source: Source
    exact: Fraction
    mass_ng: int

    @property
    def all(self) -> bool:
        """Whether the lot is emptied by it."""
        return self.mass_ng == self.source.on_hand_ng

    def content_ng(self, metal: str) -> int:
        """Return the line's content of a metal that the source states, rounded once."""
        return content_ng(self.mass_ng, self.source.share(metal) or Fraction(0))


@dataclass(frozen=True, slots=True)
class Charge:
    """A charge as it is to be weighed, and what it comes to.

    ``mass_ng`` = ``fume_ng`` + ``loss_ng`` + ``poured_ng``, to the nanogram. ``fineness``: of the poured alloy, by each
    metal that every line states, exact. ``left_out``: sources that could not be used, and why.
    """

    wanted: Wanted
    lines: tuple[Line, ...]
    left_out: tuple[tuple[Source, str], ...]
    mass_ng: int
    fume_ng: int
    loss_ng: int
    fineness: Mapping[str, Fraction]
    working: Working

    @property
    def poured_ng(self) -> int:
        """The mass of the bar."""
        return self.mass_ng - self.fume_ng - self.loss_ng

    @property
    def bought_ng(self) -> int:
        """The marked metal that has to be bought for it, fine."""
        return sum(line.content_ng(self.wanted.metal) for line in self.lines if line.source.bought)


def make_charge(
    wanted: Wanted, sources: Sequence[Source], first: First = "least", step: Step | None = None,
    figures: Figures | None = None,
) -> Charge:  # fmt: skip
    """Return the charge for an alloy from sources, those on hand oldest first.

    ``first`` says what goes first where there is a choice (``charge_choice.choose``), ``step`` what the scale can show,
    ``figures`` how the working writes masses. Raises Impossible, with the nearest possible and what is missing, where
    the target cannot be met.
    """
    step = step or Step()
    figures = figures or Figures(step.unit, step.places)
    taken, left_out = usable(wanted, sources)
    exact = choose(wanted, taken, first)
    if exact is None:
        raise impossible(wanted, taken, left_out, figures)
    lines = [Line(source, x, _rounded(wanted, source, x, step)) for source, x in zip(taken, exact, strict=True) if x]
    lines = [line for line in lines if line.mass_ng]
    charge = _charged(wanted, lines, left_out)
    charge.working.extend(worked(_told(charge, step), figures).steps)
    return charge


def _rounded(wanted: Wanted, source: Source, exact: Fraction, step: Step) -> int:
    if source.on_hand_ng is not None and exact == source.on_hand_ng:
        return source.on_hand_ng
    needed = wanted.windows[wanted.metal].low * wanted.furnace.poured_share
    if (source.share(wanted.metal) or Fraction(0)) < needed:
        return step.down(exact)
    up = step.up(exact)
    return up if source.on_hand_ng is None else min(up, source.on_hand_ng)


def _charged(wanted: Wanted, lines: Sequence[Line], left_out: Sequence[tuple[Source, str]]) -> Charge:
    """Return what lines come to, with an empty working; raises Impossible where nothing would be poured."""
    mass = sum(line.mass_ng for line in lines)
    furnace = wanted.furnace
    fume = _part(mass, furnace.fume)
    loss = _part(mass - fume, furnace.loss) + furnace.each_ng
    if mass - fume - loss <= 0:
        raise Impossible("the furnace would keep all of it: nothing would be poured", "charge more, or check the loss")
    stated = [metal for metal in _metals(lines) if all(line.source.share(metal) is not None for line in lines)]
    fineness = {metal: _poured_share(wanted, lines, metal, mass) for metal in (*wanted.windows, *stated)}
    return Charge(wanted, tuple(lines), tuple(left_out), mass, fume, loss, fineness, Working())


def _part(mass_ng: int, share: Fraction) -> int:
    return half_even(mass_ng * share.numerator, share.denominator)


def _metals(lines: Sequence[Line]) -> list[str]:
    return list(dict.fromkeys(metal for line in lines for metal in line.source.holds))


def _poured_share(wanted: Wanted, lines: Sequence[Line], metal: str, mass: int) -> Fraction:
    held = sum(((line.source.share(metal) or Fraction(0)) * line.mass_ng for line in lines), Fraction(0))
    return (held / mass - fumed(metal, wanted)) / wanted.furnace.poured_share


def _told(charge: Charge, step: Step) -> Told:
    rows = [(line.source, line.exact, line.mass_ng, line.content_ng(charge.wanted.metal)) for line in charge.lines]
    return Told(charge.wanted, rows, charge.mass_ng, charge.fume_ng, charge.loss_ng, charge.fineness, step)
