"""Does a weighed sandwich meet its mark, by how much is it over, and what does that give away.

A mark ``1/20 12K`` promises that the layer is a twentieth of the weight of the metal in the article and 12 karat fine;
a fraction of a face is not the article's. "Gold filled" wants at least 1/20 and at least 10 karat; with less the
article is rolled gold plate, with its fraction stated. 16 CFR 23.3 and the Appendix to Part 23, which also exempts
joints, catches, screws, pin stems and the like from the assay. No legal advice.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from ledger.bench.layup import Layup
from ledger.quantities.marks import GOLD_FILLED_FINENESS, gold_filled_meets

TEXT: Final = "16 CFR 23.3 and the Appendix to Part 23"
EXEMPT: Final = "Joints, catches, screws, pin stems and the like are not assayed: leave them out of both weights."


@dataclass(frozen=True, slots=True)
class Marked:
    """A lay-up against a mark. Shares of the article's weight, finenesses of the layer; exact.

    ``over`` is fine content above what the mark promises, as a share of the article's weight, negative below it; it
    counts all metal in the article, the bond's too, since that is what leaves.
    """

    metal: str
    share: Fraction
    fineness: Fraction
    has_share: Fraction
    has_fineness: Fraction
    content: Fraction

    @property
    def enough_layer(self) -> bool:
        """Whether the layer is the fraction that the mark states."""
        return self.has_share >= self.share

    @property
    def fine_enough(self) -> bool:
        """Whether the layer is as fine as the mark states."""
        return self.has_fineness >= self.fineness

    @property
    def meets(self) -> bool:
        """Whether both hold."""
        return self.enough_layer and self.fine_enough

    @property
    def promised(self) -> Fraction:
        """Fine content that the mark promises, as a share of the article's weight."""
        return self.share * self.fineness

    @property
    def over(self) -> Fraction:
        """Fine content above the mark, as a share of the article's weight."""
        return self.content - self.promised

    @property
    def filled(self) -> bool:
        """Whether the layer as it is suffices for "gold filled", whatever the mark says."""
        return gold_filled_meets(self.has_share, self.has_fineness)

    def words(self) -> str:
        """Return the verdict in words, with the text it rests on."""
        wanted = {"less than the fraction stated": self.enough_layer, "poorer than stated": self.fine_enough}
        short = " and ".join(word for word, held in wanted.items() if not held)
        verdict = f"not met: its layer is {short}" if short else "met"
        return f"Mark {verdict}{self._kind()}"

    def _kind(self) -> str:
        if self.metal != "gold":
            return ""
        if self.filled:
            return f"; such a layer may be called gold filled ({TEXT}: at least 1/20 of the weight, at least 10 karat)"
        if self.has_fineness < GOLD_FILLED_FINENESS:
            return f"; such a layer is under 10 karat, and not gold filled ({TEXT})"
        return f"; such a layer is under 1/20 of the weight, and not gold filled but rolled gold plate ({TEXT})"


def marked(layup: Layup, metal: str, share: Fraction, fineness: Fraction) -> Marked:
    """Return a lay-up against a mark of ``share`` of the weight at ``fineness`` of ``metal``."""
    has_fineness = layup.layer_fineness(metal) if layup.layer_share else Fraction(0)
    return Marked(metal, share, fineness, layup.layer_share, has_fineness, layup.fineness(metal))


@dataclass(frozen=True, slots=True)
class GivenAway:
    """What leaves above the mark in so much shipped, in nanograms fine, exact, and its value where there is a price."""

    shipped_ng: int
    fine_ng: Fraction
    value: Fraction | None


def given_away(over: Fraction, shipped_ng: int, price_per_ng: Fraction | None = None) -> GivenAway:
    """Return what ``over`` × the mass shipped comes to; negative where it is under-delivery."""
    fine = over * shipped_ng
    return GivenAway(shipped_ng, fine, None if price_per_ng is None else fine * price_per_ng)
