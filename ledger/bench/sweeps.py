"""A lot of sweeps: dry mass by moisture dishes, sampling, metallics screened out, assay, content and its σ.

    dry      = wet × (1 − moisture)
    fineness = Σ fraction's mass × its fineness ÷ Σ fractions' masses          content = dry × fineness

The assay is of *dried* matter: wet mass × assay of the dry counts water as gold. Metallics that stay on the sieve are
weighed and assayed apart, since no sample of the whole holds them in proportion. Common practice, no source.
Content is exact; σ is a float, to first order (JCGM 100:2008, 4.2 and 5.1.2, from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import fsum, sqrt
from statistics import stdev

from ledger.bench.settle_figures import grams, per_cent, per_mille
from ledger.bench.settle_forms import Samples
from ledger.bench.sweeps_terms import Lot, Part
from ledger.bench.working import Working
from ledger.plant.assumed import MOISTURE_SD, exact
from ledger.quantities.mass import decimal_text, mass_text


@dataclass(frozen=True, slots=True)
class Moisture:
    """Water as a share of the wet mass, its σ, and whether that is the scatter of dishes or assumed."""

    share: Fraction
    sigma: float
    assumed: bool


@dataclass(frozen=True, slots=True)
class Swept:
    """One metal of the lot: fineness of the dry matter, content in ng, exact, and its standard deviations in ng.

    ``by``: σ of the content by what makes it (mass, moisture, sampling, bias); ``sigma`` all of it, None where one
    sample alone was taken and nothing says what sampling is worth. ``trap``: wet mass × the assay of the dry.
    """

    metal: str
    fineness: Fraction
    content: Fraction
    trap: Fraction
    by: dict[str, float]
    sigma: float | None

    @property
    def fineness_sigma(self) -> float | None:
        """σ as fineness of the dry matter: what a ticket's line says under ``sd``."""
        return None if self.sigma is None or not self.content else self.sigma / float(self.content / self.fineness)


@dataclass(frozen=True, slots=True)
class SweepsLot:
    """A lot of sweeps worked out; masses in ng."""

    lot: Lot
    moisture: Moisture
    dry: Fraction
    metals: tuple[Swept, ...]
    working: Working
    remarks: tuple[str, ...]


def sweeps_lot(lot: Lot) -> SweepsLot:
    """Return a lot's dry mass, and of each metal its content and σ."""
    working = Working()
    moisture = _moisture(lot, working)
    dry = lot.wet * (1 - moisture.share)
    working.step(f"dry: {grams(lot.wet)} × (1 − {per_cent(moisture.share)})", _g(dry))
    remarks = ["moisture by one dish, or as stated: its σ is assumed"] if moisture.assumed else []
    metals = []
    for metal in lot.metals:
        one = _Metal(lot, metal, moisture, dry, working)
        metals.append(one.content())
        remarks += one.remarks
    return SweepsLot(lot, moisture, dry, tuple(metals), working, tuple(remarks))


def _moisture(lot: Lot, working: Working) -> Moisture:
    if lot.moisture is not None:
        return Moisture(lot.moisture, float(MOISTURE_SD), assumed=True)
    if not lot.dishes:
        return Moisture(Fraction(0), 0.0, assumed=False)
    shares = [1 - Fraction(dry, wet) for wet, dry in lot.dishes]
    for number, ((wet, dry), share) in enumerate(zip(lot.dishes, shares, strict=True), 1):
        working.step(f"dish {number}: ({grams(wet)} − {grams(dry)}) ÷ {grams(wet)}", per_cent(share))
    mean = sum(shares, Fraction(0)) / len(shares)
    if len(shares) == 1:
        return Moisture(mean, float(MOISTURE_SD), assumed=True)
    scatter = stdev(map(float, shares))
    sigma = scatter / sqrt(len(shares))
    working.step(f"moisture, mean of {len(shares)} dishes", per_cent(mean))
    working.step(f"its σ: {100 * scatter:.2g} % ÷ √{len(shares)}", f"{100 * sigma:.2g} %")
    return Moisture(mean, sigma, assumed=False)


class _Metal:
    """The sum of one metal."""

    def __init__(self, lot: Lot, metal: str, moisture: Moisture, dry: Fraction, working: Working) -> None:
        self.lot, self.metal, self.moisture, self.dry, self.working = lot, metal, moisture, dry, working
        self.remarks: list[str] = []
        self.whole = sum(part.mass or 0 for part in lot.parts)

    def content(self) -> Swept:
        weighted = [(self._share(part), self._fineness(part), part) for part in self.lot.parts]
        fineness = sum((share * f for share, f, _ in weighted), Fraction(0))
        if len(weighted) > 1:
            terms = " + ".join(f"{per_cent(share)} × {per_mille(f)}" for share, f, _ in weighted)
            self.working.step(f"{self.metal}, weighted: {terms}", per_mille(fineness))
        content, trap = self.dry * fineness, self.lot.wet * fineness
        self.working.step(f"{self.metal} content: {_g(self.dry)} × {per_mille(fineness)}", _g(content))
        if trap > content:
            wrong = f"not {grams(self.lot.wet)} wet × {per_mille(fineness)}: water would count as {self.metal}"
            self.working.step(wrong, f"{_g(trap - content)} too much")
        by, known = self._sigmas(float(fineness), weighted)
        sigma = sqrt(fsum(s * s for s in by.values())) if known else None
        if sigma is not None:
            parts = ", ".join(f"{name} {s / 1e9:.2g} g" for name, s in by.items())
            self.working.step(f"{self.metal}, σ of the content: {parts}; together the root of their squares",
                              f"{sigma / 1e9:.2g} g")  # fmt: skip
        return Swept(self.metal, fineness, content, trap, by, sigma)

    def _share(self, part: Part) -> Fraction:
        return Fraction(part.mass or 1, self.whole or 1)

    def _fineness(self, part: Part) -> Fraction:
        samples = part.assay[self.metal]
        mean = sum(means_of(samples), Fraction(0)) / len(samples)
        self.working.step(f"{self.metal}, {part.name}: {_counted(samples)}", per_mille(mean))
        return mean

    def _sigmas(
        self, fineness: float, weighted: Sequence[tuple[Fraction, Fraction, Part]]
    ) -> tuple[dict[str, float], bool]:
        """Return σ of the content by source, ng, and whether sampling is known; each part's samples by themselves."""
        lot, dry = self.lot, float(self.dry)
        sampling = [(float(share), self._sampling(part)) for share, _, part in weighted]
        known = all(sd is not None for _, sd in sampling)
        by = {
            "mass": lot.mass_sd_ng * float(1 - self.moisture.share) * fineness,
            "moisture": lot.wet * self.moisture.sigma * fineness,
            "sampling": dry * sqrt(fsum((share * (sd or 0.0)) ** 2 for share, sd in sampling)),
            "bias": dry * float(lot.bias),
        }
        return {name: sigma for name, sigma in by.items() if sigma}, known

    def _sampling(self, part: Part) -> float | None:
        """Return σ of a part's mean fineness: the scatter of its samples; with one sample what is stated, or None."""
        means = means_of(part.assay[self.metal])
        if len(means) > 1:
            scatter = stdev(map(float, means))
            sigma = scatter / sqrt(len(means))
            self.working.step(f"{self.metal}, {part.name}: σ of {len(means)} samples {_per_mille(scatter)} ÷ "
                              f"√{len(means)}", _per_mille(sigma))  # fmt: skip
            return sigma
        if self.lot.sampling is not None:
            return float(self.lot.sampling)
        if not means[0]:
            return 0.0
        self.remarks.append(f"{self.metal}, {part.name}: one sample, and sampling is not stated: no σ. Replicates of "
                            "one sample say nothing of the lot: take a second")  # fmt: skip
        return None


def means_of(samples: Samples) -> list[Fraction]:
    """Return the mean of each sample's replicates."""
    return [sum(sample, Fraction(0)) / len(sample) for sample in samples]


def for_a_ticket(worked: SweepsLot) -> dict[str, object]:
    """Return what a ticket's line says of the lot: wet mass, moisture, content, sd where every metal's is known.

    One ``sd`` stands for all metals of a line: the largest.
    """
    line: dict[str, object] = {"lot": worked.lot.lot, "mass": grams(worked.lot.wet)}
    if worked.moisture.share:
        line["moisture"] = f"{_places(worked.moisture.share * 100, 4)}%"
    line["content"] = {m.metal: grams(round(m.content)) for m in worked.metals}
    line["basis"] = "measured"
    sigmas = [m.fineness_sigma for m in worked.metals if m.content]
    if sigmas and all(sigma is not None for sigma in sigmas):
        line["sd"] = f"{_significant(max(s for s in sigmas if s is not None) * 1000)}‰"
    return line


def _places(value: Fraction, places: int) -> str:
    return exact(Fraction(decimal_text(value, places)))


def _significant(value: float) -> str:
    """Return a number with two significant digits, in plain decimals."""
    return exact(Fraction(f"{value:.1e}"))


def _counted(samples: Samples) -> str:
    determinations = sum(len(sample) for sample in samples)
    if determinations == 1:
        return "one determination"
    return f"mean of {len(samples)} samples, {determinations} determinations"


def _g(mass: Fraction) -> str:
    return f"{mass_text(round(mass), 'g', 4)} g"


def _per_mille(sigma: float) -> str:
    return f"{1000 * sigma:.2g} ‰"

