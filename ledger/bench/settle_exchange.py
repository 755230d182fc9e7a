"""Exchange of assays: which fineness two parties settle on when each has assayed the same lot.

The logic is that of refiners' published terms; the terms themselves are the contract's. Finenesses are exact fractions,
fine over settled mass, of one metal.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from ledger.refusals import FormRefused

#: mean: whatever the parties differ by. umpire: beyond the limit the middle of three. nearer mean: beyond the limit the
#: mean of the umpire and the nearer party. theirs: the refiner's assay alone.
Rule = Literal["mean", "umpire", "nearer mean", "theirs"]

#: Who pays the umpire; "" where there was none to pay.
Payer = Literal["", "ours", "theirs", "both"]


@dataclass(frozen=True, slots=True)
class Exchanged:
    """What an exchange of assays settles on, how, in words, and who pays the umpire."""

    agreed: Fraction
    how: str
    umpire_paid_by: Payer = ""


def exchange(
    rule: Rule, ours: Fraction | None, theirs: Fraction, umpire: Fraction | None = None, limit: Fraction | None = None
) -> Exchanged:
    """Return the fineness agreed under a rule.

    ``limit``: the splitting limit; a difference that equals it is within it. Beyond it the umpire decides: where his
    result lies between the two, it is taken, and outside them the nearer party's, which is in both cases the middle of
    the three. The farther party pays him; where both are as far, each pays half. Raises FormRefused where the rule
    wants an assay, or a limit, that is not there.
    """
    if rule == "theirs":
        return Exchanged(theirs, "the refiner's assay, as the terms say")
    if ours is None:
        raise FormRefused("our own assay is missing", 'give ours, or settle by exchange = "theirs" if the terms say so',
                          field="ours")  # fmt: skip
    if rule == "mean":
        return Exchanged((ours + theirs) / 2, "the mean of both, as the terms say")
    if limit is None:
        raise FormRefused("there is no splitting limit", 'give the limit of the terms: splitting = "0.5‰"',
                          field="splitting")  # fmt: skip
    if abs(ours - theirs) <= limit:
        return Exchanged((ours + theirs) / 2, "within the splitting limit: the mean of both")
    if umpire is None:
        raise FormRefused("the two assays differ by more than the splitting limit, and there is no umpire's",
                          "give umpire, or agree on a mean in writing and settle by it", field="umpire")  # fmt: skip
    return _by_umpire(rule, ours, theirs, umpire)


def _by_umpire(rule: Rule, ours: Fraction, theirs: Fraction, umpire: Fraction) -> Exchanged:
    far_ours, far_theirs = abs(umpire - ours), abs(umpire - theirs)
    payer: Payer = "both" if far_ours == far_theirs else "ours" if far_ours > far_theirs else "theirs"
    if rule == "nearer mean":
        if payer == "both":
            return Exchanged(umpire, "both are as far from the umpire: the umpire's", payer)
        nearer = theirs if payer == "ours" else ours
        whose = "the refiner's" if payer == "ours" else "ours"
        return Exchanged((umpire + nearer) / 2, f"the mean of the umpire's and the nearer, {whose}", payer)
    middle = sorted((ours, theirs, umpire))[1]
    if middle == umpire:
        return Exchanged(middle, "the umpire's, which lies between the two", payer)
    whose = "ours" if middle == ours else "the refiner's"
    return Exchanged(middle, f"the umpire's lies outside the two: the nearer, {whose}", payer)
