"""Lay-up: weight ratio and thickness ratio, what a clad sandwich holds, and what it holds above its mark.

By weight w and density ρ the volume shares are v = (w/ρ) / Σ(w/ρ), and back w = vρ / Σ(vρ): exact both ways. Rolling
and drawing leave them as they are (common practice, no source), so that a layer is the same share of any gauge.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from ledger.bench.charge_forms import Step
from ledger.bench.gauge import NM_PER_UNIT, PI, mass_of, root
from ledger.bench.layup_forms import Faces, Part, Stated
from ledger.refusals import Impossible


def volume_shares(weights: Sequence[Fraction], densities: Sequence[Fraction]) -> tuple[Fraction, ...]:
    """Return the shares of the volume, which add up to one, from weights in any one unit and densities in another."""
    return _shares([w / density for w, density in zip(weights, densities, strict=True)])


def weight_shares(volumes: Sequence[Fraction], densities: Sequence[Fraction]) -> tuple[Fraction, ...]:
    """Return the shares of the weight, which add up to one, from volumes in any one unit and densities in another."""
    return _shares([v * density for v, density in zip(volumes, densities, strict=True)])


def _shares(parts: Sequence[Fraction]) -> tuple[Fraction, ...]:
    return tuple(part / sum(parts) for part in parts)


@dataclass(frozen=True, slots=True)
class Layup:
    """A sandwich: layer, bond and base with their shares of the weight, which add up to one.

    ``bond_counts``: whether the bonding medium counts towards the layer of the mark; its own fineness then counts too.
    ``mass_ng``: the whole, where it was weighed.
    """

    parts: tuple[Part, Part, Part]
    weights: tuple[Fraction, ...]
    faces: Faces = 1
    bond_counts: bool = False
    mass_ng: int | None = None

    @property
    def layer_share(self) -> Fraction:
        """The layer's share of the weight, with the bond where it counts."""
        return self.weights[0] + (self.weights[1] if self.bond_counts else 0)

    def layer_fineness(self, metal: str) -> Fraction:
        """Return the fineness of the layer, with the bond where it counts."""
        counted = zip(self.parts, self.weights[: 2 if self.bond_counts else 1], strict=False)
        return sum((part.fineness(metal) * w for part, w in counted), Fraction(0)) / self.layer_share

    def fineness(self, metal: str) -> Fraction:
        """Return the fineness of the whole: all that is in it, whether it counts towards the mark or not."""
        return sum((p.fineness(metal) * w for p, w in zip(self.parts, self.weights, strict=True)), Fraction(0))

    @property
    def volumes(self) -> tuple[Fraction, ...] | None:
        """The shares of the volume, or None where a density is not known."""
        used = [(w, p.density) for w, p in zip(self.weights, self.parts, strict=True)]
        if any(density is None for w, density in used if w):
            return None
        return volume_shares([w for w, _ in used], [density or Fraction(1) for _, density in used])

    @property
    def density(self) -> Fraction | None:
        """The density of the whole, g/cm³, or None where one of a part is not known."""
        if self.volumes is None:
            return None
        return sum(((p.density or Fraction(0)) * v for p, v in zip(self.parts, self.volumes, strict=True)), Fraction(0))


def laid_up(layer: Stated, base: Stated, bond: Stated | None = None, faces: Faces = 1, *,
            bond_counts: bool = False) -> Layup:  # fmt: skip
    """Return the lay-up of stated parts: all weighed, or all measured.

    Measured, thicknesses are those on one face; round, those of the walls over a core of the base's diameter. Raises
    Impossible where a part lacks its mass or thickness, or a thickness its density.
    """
    bond = bond or Stated(Part("bond", {}), *((0, None) if layer.mass_ng is not None else (None, 0)))
    stated = (layer, bond, base)
    parts = (layer.part, bond.part, base.part)
    masses = [one.mass_ng for one in stated if one.mass_ng is not None]
    if len(masses) == len(stated):
        weights = _shares([Fraction(mass) for mass in masses])
        return Layup(parts, weights, faces, bond_counts, sum(masses))
    widths = [one.thickness_nm for one in stated if one.thickness_nm is not None]
    if len(widths) < len(stated):
        raise Impossible("layer, bond and base are not all stated alike", "state all masses, or all thicknesses")
    missing = [part.name for part, width in zip(parts, widths, strict=True) if width and part.density is None]
    if missing:
        raise Impossible(f"the density of the {' and of the '.join(missing)} is not stated",
                         'a thickness has no weight without it: add "13.07 g/cm³"')  # fmt: skip
    densities = [part.density or Fraction(1) for part in parts]
    return Layup(parts, weight_shares(_sections(widths, faces), densities), faces, bond_counts)


def _sections(widths: Sequence[int], faces: Faces) -> list[Fraction]:
    """Return sections in proportion: thicknesses of layer, bond (each on a face) and base; round, ring areas."""
    layer, bond, base = (Fraction(width) for width in widths)
    if faces != "round":
        return [layer * faces, bond * faces, base]
    core, bonded, whole = ((base / 2 + wall) ** 2 for wall in (Fraction(0), bond, bond + layer))
    return [whole - bonded, bonded - core, core]


@dataclass(frozen=True, slots=True)
class AtGauge:
    """A lay-up rolled or drawn to a gauge: thicknesses on one face (or of the wall) in nanometres, masses in nanograms.

    ``mass_ng`` and, by metal, ``content_ng`` are those of a square metre where flat and no width is stated, else of a
    metre. Exact but for round stock, where roots are taken to 12 decimals.
    """

    gauge_nm: int
    layer_nm: Fraction
    bond_nm: Fraction
    mass_ng: Fraction
    per: str
    content_ng: dict[str, Fraction]


def at_gauge(layup: Layup, gauge_nm: int, width_nm: int | None = None) -> AtGauge:
    """Return a lay-up at a finished gauge: sheet's thickness, wire's diameter. Raises Impossible without densities."""
    volumes, density = layup.volumes, layup.density
    if volumes is None or density is None:
        raise Impossible("a density is not stated", 'the thickness of a layer needs all of them: add "13.07 g/cm³"')
    metre = NM_PER_UNIT["m"]
    layer, bond = _walls(layup.faces, gauge_nm, volumes)
    if layup.faces == "round":
        section, per = PI * gauge_nm**2 / 4, "m"
    else:
        section, per = Fraction(gauge_nm * (width_nm or metre)), "m" if width_nm else "m²"
    mass = mass_of(section * metre, density)
    metals = dict.fromkeys(metal for part in layup.parts for metal in part.holds)
    return AtGauge(gauge_nm, layer, bond, mass, per, {metal: mass * layup.fineness(metal) for metal in metals})


def _walls(faces: Faces, gauge_nm: int, volumes: Sequence[Fraction]) -> tuple[Fraction, Fraction]:
    """Return the thickness of layer and of bond, on one face or in the wall."""
    if faces != "round":
        return gauge_nm * volumes[0] / faces, gauge_nm * volumes[1] / faces
    whole, bonded, core = (Fraction(gauge_nm, 2) * root(1 - share) for share in (
        Fraction(0), volumes[0], volumes[0] + volumes[1]))  # fmt: skip
    return whole - bonded, bonded - core


def planned(share: Fraction, mass_ng: int, layer: Part, base: Part, bond: Stated | None = None, faces: Faces = 1, *,
            bond_counts: bool = False, step: Step | None = None) -> tuple[Stated, Stated]:  # fmt: skip
    """Return layer and base to weigh out for a sandwich of a mass, of which ``share`` has to be layer.

    The layer is rounded up to what the scale can show, the base down, so that the mark is met. Raises Impossible where
    nothing is left for one of them.
    """
    step = step or Step()
    bonded = (bond.mass_ng or 0) if bond else 0
    plate = step.up(share * mass_ng - (bonded if bond_counts else 0))
    core = step.down(Fraction(mass_ng - plate - bonded))
    if plate <= 0 or core <= 0:
        raise Impossible(f"of such a sandwich nothing is left for the {'layer' if plate <= 0 else 'base'}",
                         "state a larger mass, or less bond")  # fmt: skip
    return Stated(layer, plate), Stated(base, core)
