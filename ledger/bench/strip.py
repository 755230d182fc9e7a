"""The strip test of clad metal: base dissolved off a weighed sample, and what the residue is worth by its own assay.

    article's fineness = residue ÷ sample × the residue's fineness        or        bead of the whole sample ÷ sample

Acid takes copper and silver out of a karat layer too, the more the lower the karat, and may leave bond behind: the
residue is not the layer, and its nominal fineness not its own. Without an assay or a bead there is an estimate only.
Common practice, no source. Content is exact; σ is a float, to first order (JCGM 100:2008, 5.1.2, from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import fsum, hypot, sqrt
from typing import Final

from ledger.bench.settle_figures import figure, grams, per_cent, per_mille
from ledger.bench.working import Working
from ledger.plant.assumed import ESTIMATE_SD
from ledger.plant.measuring import MethodWorth, Scale
from ledger.quantities.mass import mass_text
from ledger.refusals import WrongUsage

ASSAYED: Final = "measured"
ESTIMATED: Final = "estimated"

#: The bias of the test, in words, by what the fineness rests on.
BIAS: Final = {
    "residue": "The residue's own assay allows for what acid took out of the layer or left of the bond: gold in the "
    "solution, or fine residue washed away, it does not see, and then reads low.",
    "bead": "The bead of the whole sample holds all its gold: acid and bond do not act on it. Silver of the layer is "
    "not in a parted bead.",
    "layer": "Estimated: the residue is taken to be the layer at its nominal fineness. Acid takes copper and silver "
    "out of a low-karat layer, which reads low; bond left on it, or base not wholly dissolved, reads high. Assay the "
    "residue, or cupel a whole sample.",
    "silver": "Silver goes into nitric acid with the base: what the residue shows of it is a lower bound.",
}


@dataclass(frozen=True, slots=True)
class Sample:
    """One sample: its mass, and what was left of it, ng: the residue, or the bead where the whole sample was cupelled.

    ``fineness``: the residue's own, by assay; None where it was not assayed, or where what is left is a bead.
    """

    sample_ng: int
    left_ng: int
    fineness: Fraction | None = None


@dataclass(frozen=True, slots=True)
class Worth:
    """What the weighings and the assay are worth: a scale, and the method; None where they are not known."""

    scale: Scale | None = None
    method: MethodWorth | None = None


@dataclass(frozen=True, slots=True)
class Stripped:
    """What the test found: the article's fineness, fine over its metal, exact; σ of it, None where nothing says it.

    ``basis``: measured or estimated. ``rests_on``: residue, bead or layer. ``left_share``: residue ÷ sample, which is
    no layer's share of the weight.
    """

    metal: str
    fineness: Fraction
    basis: str
    rests_on: str
    left_share: Fraction
    by_test: tuple[Fraction, ...]
    sigma: float | None
    working: Working

    @property
    def bias(self) -> list[str]:
        """The sentences on the test's bias."""
        silver = [BIAS["silver"]] if self.metal == "silver" and self.rests_on != "bead" else []
        return [BIAS[self.rests_on], *silver]


def strip(
    tests: Sequence[Sample], *, metal: str = "gold", bead: bool = False, layer: Fraction | None = None,
    worth: Worth | None = None,
) -> Stripped:  # fmt: skip
    """Return the fineness of clad stock from one sample or more, and its σ.

    ``layer``: the layer's nominal fineness, for an estimate where residues were not assayed. Raises WrongUsage where
    what is left weighs as much as the sample, or nothing says what it holds.
    """
    if not tests:
        raise WrongUsage("no sample is given", "give --sample and --residue, or --bead", field="--sample")
    rests_on = "bead" if bead else "residue" if all(t.fineness is not None for t in tests) else "layer"
    working = Working()
    found = [_one(number, test, rests_on, layer, working) for number, test in enumerate(tests, 1)]
    mean = sum(found, Fraction(0)) / len(found)
    if len(found) > 1:
        working.step(f"mean of {len(found)} samples", per_mille(mean))
    share = sum((Fraction(t.left_ng, t.sample_ng) for t in tests), Fraction(0)) / len(tests)
    sigma = _sigma(tests, found, rests_on, layer, worth or Worth(), working)
    basis = ESTIMATED if rests_on == "layer" else ASSAYED
    return Stripped(metal, mean, basis, rests_on, share, tuple(found), sigma, working)


def _one(number: int, test: Sample, rests_on: str, layer: Fraction | None, working: Working) -> Fraction:
    sample, left = test.sample_ng, test.left_ng
    if left >= sample:
        raise WrongUsage(f"sample {number}: what is left weighs {grams(left)}, as much as the sample, {grams(sample)}",
                         "check both readings: nothing was dissolved", field="--sample")  # fmt: skip
    share = Fraction(left, sample)
    of = f"sample {number}: {grams(left)} ÷ {grams(sample)}"
    if rests_on == "bead":
        working.step(f"{of}, the bead", per_mille(share))
        return share
    fineness = test.fineness if rests_on == "residue" else layer
    if fineness is None:
        raise WrongUsage(f"sample {number}: nothing says what the residue holds",
                         'give its own assay: --assay "540‰"; or the bead of a whole sample: --bead; or, for an '
                         "estimate, --layer 12K", field="--assay")  # fmt: skip
    working.step(f"{of}, left of the weight", per_cent(share))
    held = "by its own assay" if rests_on == "residue" else "the layer's nominal, an estimate"
    working.step(f"sample {number}: × {per_mille(fineness)}, {held}", per_mille(share * fineness))
    return share * fineness


# ---- σ -------------------------------------------------------------------------------------------------------


def _sigma(
    tests: Sequence[Sample], found: Sequence[Fraction], rests_on: str, layer: Fraction | None, worth: Worth,
    working: Working,
) -> float | None:  # fmt: skip
    """Return σ of the mean: from the scatter of samples where there are several, else from scale and method.

    One sample by itself shows no segregation: the method's sampling is then taken as stated. A laboratory's bias is
    the same in all samples and is never averaged. The scale's sensitivity error cancels in residue ÷ sample.
    """
    mean = float(sum(found, Fraction(0)) / len(found))
    if rests_on == "layer":
        sigma = float(ESTIMATE_SD) * mean
        working.step(f"σ of an estimate, {per_cent(ESTIMATE_SD)} of it, assumed", _per_mille(sigma))
        return sigma
    shared = _bias(tests, rests_on, worth)
    if len(found) > 1:
        scatter = sqrt(fsum((float(f) - mean) ** 2 for f in found) / (len(found) - 1))
        own = scatter / sqrt(len(found))
        words = f"σ by the scatter of {len(found)} samples: {_per_mille(scatter)} ÷ √{len(found)}"
        working.step(words, _per_mille(own))
    else:
        by_scale = single_sigma(tests[0], rests_on, worth)
        if by_scale is None:
            return None
        own = by_scale
        working.step("σ of one sample, from scale and method", _per_mille(own))
    if shared:
        working.step(f"with the laboratory's bias, ± {_per_mille(shared)}", _per_mille(hypot(own, shared)))
    return hypot(own, shared)


def single_sigma(test: Sample, rests_on: str, worth: Worth) -> float | None:
    """Return σ of one sample's fineness f = r/s·a: (f/r)²u²(r) + (f/s)²u²(s) + (r/s)²u²(a), without the bias.

    ``rests_on`` residue or bead. None without a scale, and of a residue's assay without its method.
    """
    if worth.scale is None or (rests_on == "residue" and worth.method is None):
        return None
    u = worth.scale.weighing_sd_ng
    share = test.left_ng / test.sample_ng
    fineness = share * float(test.fineness or 1) if rests_on == "residue" else share
    weighing = hypot(fineness / test.left_ng * u, fineness / test.sample_ng * u)
    if worth.method is None:
        return weighing
    own = hypot(float(worth.method.repeatability), float(worth.method.sampling))
    return hypot(weighing, own * share if rests_on == "residue" else own)


def _bias(tests: Sequence[Sample], rests_on: str, worth: Worth) -> float:
    if worth.method is None:
        return 0.0
    share = fsum(t.left_ng / t.sample_ng for t in tests) / len(tests)
    return float(worth.method.bias) * (share if rests_on == "residue" else 1.0)


def _per_mille(sigma: float) -> str:
    return f"{1000 * sigma:.2g} ‰"


# ---- what follows ----------------------------------------------------------------------------------------------


def against_mark(stripped: Stripped, share: Fraction, layer: Fraction) -> Fraction:
    """Return by how much the fineness lies above what a mark promises, share × layer; minus: below it."""
    promised = share * layer
    over = stripped.fineness - promised
    stripped.working.step(f"the mark promises {figure(share)} × {per_mille(layer)}", per_mille(promised))
    word = "above" if over >= 0 else "below"
    stripped.working.step(f"found {word} the mark by", per_mille(abs(over)))
    return over


def of_lot(stripped: Stripped, mass_ng: int) -> Fraction:
    """Return the content of a lot at the fineness found, ng, exact."""
    content = mass_ng * stripped.fineness
    shown = mass_text(round(content), "g", 4)
    stripped.working.step(f"content of {grams(mass_ng)} × {per_mille(stripped.fineness)}", f"{shown} g")
    return content
