"""Marks and bar weights: what a text of law or a market's rule makes of an exact fineness or weight.

Arithmetic only, and no legal advice: each function names the text it follows; whether that text applies to an
article, in which version and with which exemptions, is for licensed practice and counsel to say.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from typing import Final

from ledger.quantities.mass import in_unit
from ledger.quantities.rounding import half_even

BAR_STEP_OZT: Final = Fraction(25, 1000)
TURN_OF_SCALE_OZT: Final = Fraction(2, 1000)
GOLD_FILLED_SHARE: Final = Fraction(1, 20)
GOLD_FILLED_FINENESS: Final = Fraction(10, 24)


def london_gross(mass_ng: int) -> Fraction:
    """Return the gross weight, in troy ounces, at which a gold bar of ``mass_ng`` nanograms is taken in London.

    In steps of 0.025 ozt downwards; the bar must turn the scale by 0.002 ozt, else the step below is taken (London Good
    Delivery Rules, Annex B). Nothing for what does not turn the scale at all. No legal advice.
    """
    steps = (in_unit(mass_ng, "ozt") - TURN_OF_SCALE_OZT) // BAR_STEP_OZT
    return max(steps, 0) * BAR_STEP_OZT


def fine_ounces(gross_ozt: Fraction, fineness: Fraction) -> Fraction:
    """Return the fine weight in troy ounces, gross × fineness, to the nearest 0.001 ozt (Good Delivery Rules, Annex C).

    Half to even on a tie, the book's one rounding; what London does on a tie is not stated where we read it.
    """
    fine = gross_ozt * fineness * 1000
    return Fraction(half_even(fine.numerator, fine.denominator), 1000)


def lower_mark(fineness: Fraction, marks: Iterable[Fraction]) -> Fraction | None:
    """Return the highest of ``marks`` that the fineness reaches, or None below all of them.

    A mark never promises more than is there (Finnish fineness requirements, Tukes). No legal advice.
    """
    return max((mark for mark in marks if mark <= fineness), default=None)


def gold_article_meets(
    mark: Fraction, assay_free_of_solder: Fraction, assay_whole: Fraction, *, watchcase: bool = False
) -> bool:
    """Return whether both assays of a gold article hold its mark: 15 U.S.C. 295, as amended in 1976.

    Free of solder not below the mark by more than 3/1000; the whole article with its solder not by more than 7/1000,
    for a watchcase or flatware 3/1000. All three as fine over metallic mass. No legal advice.
    """
    whole_below = 3 if watchcase else 7
    return _within(mark, assay_free_of_solder, 3) and _within(mark, assay_whole, whole_below)


def silver_article_meets(mark: Fraction, assay_free_of_solder: Fraction, assay_whole: Fraction) -> bool:
    """Return whether both assays of a silver article hold its mark: 15 U.S.C. 296.

    Free of solder not below the mark by more than 4/1000, with its solder not by more than 10/1000. No legal advice.
    """
    return _within(mark, assay_free_of_solder, 4) and _within(mark, assay_whole, 10)


def gold_filled_meets(layer_share: Fraction, layer_fineness: Fraction) -> bool:
    """Return whether a karat layer suffices for "gold filled": 16 CFR 23.3 and the Appendix to Part 23.

    ``layer_share`` is the layer's weight over that of all metal in the article, at least 1/20; the layer is at least
    10K. With less, the article is rolled gold plate and its fraction is stated. Joints, catches, screws and pin stems
    are not assayed: leave them out of both weights. No legal advice.
    """
    return layer_share >= GOLD_FILLED_SHARE and layer_fineness >= GOLD_FILLED_FINENESS


def _within(mark: Fraction, assay: Fraction, thousandths_below: int) -> bool:
    return assay >= mark - Fraction(thousandths_below, 1000)
