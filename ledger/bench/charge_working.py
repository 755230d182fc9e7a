"""The working of a charge, step by step, in figures that a pencil can follow."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from ledger.bench.charge_forms import Figures, Furnace, Source, Step, Wanted
from ledger.bench.charge_karat import alligate, fineness_text, karat_text
from ledger.bench.working import Working
from ledger.quantities.fineness import per_mille_text
from ledger.quantities.mass import decimal_text


@dataclass(frozen=True, slots=True)
class Told:
    """What a working tells: rows of source, exact and rounded mass, and content of the marked metal, in nanograms."""

    wanted: Wanted
    rows: Sequence[tuple[Source, Fraction, int, int]]
    mass_ng: int
    fume_ng: int
    loss_ng: int
    fineness: Mapping[str, Fraction]
    step: Step


def worked(told: Told, figures: Figures) -> Working:
    """Return the working of a charge."""
    working = Working()
    for part in (_to_charge, _alligation, _lines, _came_to, _left):
        for text, value in part(told, figures):
            working.step(text, value)
    return working


def percent(share: Fraction) -> str:
    """Return a share in per cent with as many digits as it has, four at most."""
    return decimal_text(share * 100, 4).rstrip("0").rstrip(".") + " %"


def _to_charge(told: Told, figures: Figures) -> Iterator[tuple[str, str]]:
    wanted, furnace = told.wanted, told.wanted.furnace
    window = wanted.windows[wanted.metal]
    if wanted.poured_ng is None:
        yield "all that is on hand, and what has to be added to it", ""
    elif furnace != Furnace():
        poured = figures.mass(wanted.poured_ng)
        if furnace.each_ng:
            poured = f"({poured} + {figures.mass(furnace.each_ng)} that each melt keeps)"
        through = "".join(f" ÷ (1 − {percent(share)} {word})"
                          for share, word in ((furnace.loss, "loss"), (furnace.fume, "fume")) if share)  # fmt: skip
        charge = figures.mass(furnace.charge_for(wanted.poured_ng))
        yield f"to charge: {poured}{through}", charge
    else:
        yield "to charge: as much as is poured, no fume or loss stated", figures.mass(wanted.poured_ng)
    if furnace.fume:
        asked = f"{fineness_text(wanted.metal, window.low)} × (1 − {percent(furnace.fume)})"
        why = f"since the fume leaves its {wanted.metal} behind"
        yield f"{wanted.metal} to charge: {asked}, {why}", f"{per_mille_text(window.low * furnace.poured_share)} ‰"


def _alligation(told: Told, figures: Figures) -> Iterator[tuple[str, str]]:
    """Yield the old rule where two sources are mixed."""
    metal = told.wanted.metal
    needed = told.wanted.windows[metal].low * told.wanted.furnace.poured_share
    held = [source.share(metal) or Fraction(0) for source, *_ in told.rows]
    if metal != "gold" or len(held) != 2 or not min(held) < needed < max(held):
        return
    parts = [part * 24 for part in alligate(needed, held)]
    distances = " and ".join(f"{karat_text(abs(f - needed))} from {karat_text(f)}" for f in held)
    names = " to ".join(f"{karat_text(part / 24)} of {row[0].name}" for part, row in zip(parts, told.rows, strict=True))
    yield f"alligation, in karat: {karat_text(needed)} lies {distances}; each takes the other's distance", names


def _lines(told: Told, figures: Figures) -> Iterator[tuple[str, str]]:
    for source, exact, mass, content in told.rows:
        taken = f"{source.name}: {figures.mass(mass)}{_rounding(source, exact, mass, told.step)}"
        share = source.share(told.wanted.metal) or Fraction(0)
        yield f"{taken} × {per_mille_text(share)} ‰", f"{figures.content(content)} {told.wanted.metal}"


def _rounding(source: Source, exact: Fraction, mass: int, step: Step) -> str:
    if mass == source.on_hand_ng:
        return " (all of it)"
    if exact == mass:
        return ""
    way = "up, finer than wanted" if mass > exact else "down, poorer than wanted"
    return f" (rounded {way}, to {step.text})"


def _came_to(told: Told, figures: Figures) -> Iterator[tuple[str, str]]:
    metal, wanted = told.wanted.metal, told.wanted
    content = sum(row[3] for row in told.rows)
    left = figures.mass(told.mass_ng)
    yield "charged in all", f"{left}, {figures.content(content)} {metal}"
    if told.fume_ng:
        yield f"fume: {left} × {percent(wanted.furnace.fume)}", figures.content(told.fume_ng)
        left = f"({left} − {figures.content(told.fume_ng)})"
    yield f"fineness: {figures.content(content)} ÷ {left}", fineness_text(metal, told.fineness[metal])
    over = wanted.windows[metal].beyond(told.fineness[metal])
    yield "above what is wanted", f"{per_mille_text(over, 6)} ‰"
    for other, window in list(wanted.windows.items())[1:]:
        low, high = per_mille_text(window.low), per_mille_text(window.high)
        asked = f"{low} ‰" if window.exact else f"{low} to {high} ‰"
        yield f"{other}: {asked} wanted", f"{per_mille_text(told.fineness[other])} ‰"


def _left(told: Told, figures: Figures) -> Iterator[tuple[str, str]]:
    furnace = told.wanted.furnace
    left = told.mass_ng - told.fume_ng
    if told.loss_ng:
        each = f" + {figures.mass(furnace.each_ng)}" if furnace.each_ng else ""
        yield f"normal loss: {figures.mass(left)} × {percent(furnace.loss)}{each}", figures.mass(told.loss_ng)
    yield "to be poured", figures.mass(left - told.loss_ng)
