"""The working of a lay-up, step by step."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Final

from ledger.bench.charge_forms import Figures
from ledger.bench.charge_karat import fineness_text
from ledger.bench.gauge import length_text
from ledger.bench.layup import AtGauge, Layup
from ledger.bench.layup_density import TRAP
from ledger.bench.layup_mark import GivenAway, Marked
from ledger.bench.working import Step
from ledger.quantities.fineness import per_mille_text
from ledger.quantities.mass import decimal_text

_WHERE: Final = {1: "on one face", 2: "on each of two faces", "round": "all round"}


def share_text(share: Fraction) -> str:
    """Return a share in per cent for people, four decimals."""
    return f"{decimal_text(share * 100, 4)} %"


def weights(layup: Layup, figures: Figures) -> Iterator[Step]:
    """Yield each part's share of the weight, and what the parts hold together."""
    for part, weight in zip(layup.parts, layup.weights, strict=True):
        if weight:
            ratio = "" if layup.mass_ng is None else (
                f": {figures.mass(weight * layup.mass_ng)} ÷ {figures.mass(layup.mass_ng)}")  # fmt: skip
            yield Step(f"{part.name}, share of the weight{ratio}", share_text(weight))


def metals(layup: Layup, figures: Figures, metal: str) -> Iterator[Step]:
    """Yield the fineness of the whole, from the parts."""
    pairs = [(p, w) for p, w in zip(layup.parts, layup.weights, strict=True) if w and p.fineness(metal)]
    sums = " + ".join(f"{share_text(w)} × {per_mille_text(p.fineness(metal))} ‰" for p, w in pairs)
    yield Step(f"{metal} in the whole: {sums or 'none'}", f"{per_mille_text(layup.fineness(metal))} ‰")
    if layup.mass_ng is not None:
        yield Step(f"{metal} in {figures.mass(layup.mass_ng)}",
                   figures.content(layup.fineness(metal) * layup.mass_ng))  # fmt: skip


def volumes(layup: Layup) -> Iterator[Step]:
    """Yield the shares of the thickness, from weights and densities; nothing where a density is not known."""
    if layup.volumes is None or layup.density is None:
        return
    used = [(p, w) for p, w in zip(layup.parts, layup.weights, strict=True) if w]
    for part, _ in used:
        if part.mixed:
            yield Step(f"{part.name}: {TRAP}", f"{decimal_text(part.density or Fraction(1), 2)} g/cm³")
    over = " + ".join(f"{share_text(w)}/{decimal_text(p.density or Fraction(1), 2)}" for p, w in used)
    for part, weight, volume in zip(layup.parts, layup.weights, layup.volumes, strict=True):
        if weight:
            of = "section" if layup.faces == "round" else "thickness"
            one = f"{share_text(weight)}/{decimal_text(part.density or Fraction(1), 2)}"
            yield Step(f"{part.name}, share of the {of}: ({one}) ÷ ({over})", share_text(volume))
    yield Step("density of the whole: 1 ÷ the same sum", f"{decimal_text(layup.density, 3)} g/cm³")


def against_mark(checked: Marked, mark: str, layup: Layup) -> Iterator[Step]:
    """Yield the comparison with a mark."""
    bond = "with the bond" if layup.bond_counts else "the bond not counted"
    yield Step(f"{mark} wants a layer of {share_text(checked.share)} of the weight; this has ({bond})",
               share_text(checked.has_share))  # fmt: skip
    yield Step(f"{mark} wants a layer of {fineness_text(checked.metal, checked.fineness)}; this is",
               fineness_text(checked.metal, checked.has_fineness))  # fmt: skip
    side = "below" if checked.over < 0 else "above"
    yield Step(f"{mark} promises {per_mille_text(checked.promised)} ‰ of {checked.metal}; {side} that",
               f"{per_mille_text(abs(checked.over))} ‰")  # fmt: skip


def gauge(at: AtGauge, layup: Layup, figures: Figures, metal: str) -> Iterator[Step]:
    """Yield what a lay-up is at a finished gauge."""
    where = _WHERE[layup.faces]
    across = "diameter" if layup.faces == "round" else "gauge"
    yield Step(f"at {length_text(at.gauge_nm)} {across}: layer {where}", length_text(at.layer_nm, "µm", 2))
    if at.bond_nm:
        yield Step("  bond under it", length_text(at.bond_nm, "µm", 2))
    yield Step(f"  mass of a {_metre(at.per)}", figures.content(at.mass_ng))
    yield Step(f"  {metal} in a {_metre(at.per)}", figures.content(at.content_ng.get(metal, Fraction(0))))


def _metre(per: str) -> str:
    return "metre" if per == "m" else "square metre"


def month(given: GivenAway, checked: Marked, figures: Figures, price: str) -> Iterator[Step]:
    """Yield what a month's shipments give away, or are short."""
    what = "given away" if given.fine_ng >= 0 else "under-delivered"
    shipped = figures.mass(given.shipped_ng)
    yield Step(f"{what} in a month: {shipped} × {per_mille_text(abs(checked.over), 6)} ‰",
               figures.content(abs(given.fine_ng)))  # fmt: skip
    if given.value is not None:
        currency = price.split()[1].partition("/")[0]
        yield Step(f"  at {price}", f"{decimal_text(abs(given.value), 2)} {currency}")
