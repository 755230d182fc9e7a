"""Pass schedules for rolling and drawing, by constant volume.

What is rolled gets longer as it gets thinner: width is taken to stay as it is (common practice; narrow stock spreads a
little). What is drawn keeps length × diameter². A reduction is a share of the section: of the thickness where rolled.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Final, Literal

from ledger.bench.gauge import NM_PER_UNIT, PI, length_text, mass_of, powered
from ledger.refusals import Impossible

How = Literal["roll", "draw"]

#: Passes beyond which a schedule is no schedule.
MOST_PASSES: Final = 200


@dataclass(frozen=True, slots=True)
class Limits:
    """What one pass may take: ``share`` of the section; ``draft_nm`` of the thickness, by the bite of the rolls.

    ``anneal`` is the share that all passes together may take from one anneal to the next; ``step_nm``: gauges are
    multiples of it, but for the last.
    """

    share: Fraction | None = None
    draft_nm: Fraction | None = None
    anneal: Fraction | None = None
    step_nm: int = 10_000


@dataclass(frozen=True, slots=True)
class Pass:
    """One pass: gauge before and after in nanometres, its reduction, that since the last anneal, and the elongation.

    ``anneal_before``: anneal before this pass. ``longer``: length after it over the length at the start.
    """

    number: int
    before_nm: int
    after_nm: int
    reduction: Fraction
    since_anneal: Fraction
    anneal_before: bool
    longer: Fraction


def bite_nm(friction: Fraction, roll_diameter_nm: int) -> Fraction:
    """Return the greatest draft that rolls of a diameter take by themselves: µ²R."""
    return friction**2 * roll_diameter_nm / 2


def section(how: How, gauge_nm: int) -> int:
    """Return what the section is proportional to: thickness of a strip, diameter² of a wire."""
    return gauge_nm if how == "roll" else gauge_nm**2


def schedule(how: How, start_nm: int, finish_nm: int, limits: Limits) -> list[Pass]:
    """Return the passes from a gauge to a smaller one: as few as the limits allow.

    With a share alone each pass takes the same share, with a bite alone the same draft, with both as much as both
    allow; gauges rounded to the step, and one pass more where rounding would go beyond a limit. Raises Impossible,
    with the mend, where a limit is missing or no schedule keeps it.
    """
    if finish_nm >= start_nm:
        raise Impossible(f"{length_text(finish_nm)} is not thinner than {length_text(start_nm)}",
                         "write the gauge at the start first")  # fmt: skip
    if limits.share is None and limits.draft_nm is None:
        raise Impossible("nothing says what one pass may take", "state --share, or --friction and --rolls")
    if how == "draw" and limits.draft_nm is not None:
        raise Impossible("a die has no bite", "state --share alone; friction and rolls are for rolling")
    gauges = _gauges(how, start_nm, finish_nm, limits)
    return list(_passes(how, gauges, limits.anneal))


def _gauges(how: How, start: int, finish: int, limits: Limits) -> list[int]:
    if limits.share is not None and limits.draft_nm is not None:
        return _greedy(start, finish, limits.share, limits.draft_nm, limits.step_nm)
    spread = _equal_shares if limits.draft_nm is None else _equal_drafts
    for number in range(_fewest(how, start, finish, limits), MOST_PASSES + 1):
        gauges = spread(how, start, finish, number, limits.step_nm)
        if all(_within(how, *pair, limits) for pair in pairwise(gauges)):
            return gauges
    raise _too_many()


def _too_many() -> Impossible:
    return Impossible(f"more than {MOST_PASSES} passes would be needed", "allow more a pass, or a finer --step")


def _within(how: How, before: int, after: int, limits: Limits) -> bool:
    draft_kept = limits.draft_nm is None or before - after <= limits.draft_nm
    return after < before and draft_kept and (limits.share is None or _reduction(how, before, after) <= limits.share)


def _reduction(how: How, before: int, after: int) -> Fraction:
    return 1 - Fraction(section(how, after), section(how, before))


def _fewest(how: How, start: int, finish: int, limits: Limits) -> int:
    """Return the number of passes that the limits need, before rounding."""
    if limits.draft_nm is not None:
        return int(-((finish - start) // limits.draft_nm))
    left, number, keep = Fraction(section(how, start)), 0, 1 - (limits.share or Fraction(0))
    while left > section(how, finish) and number <= MOST_PASSES:
        left, number = left * keep, number + 1
    return number


def _equal_shares(how: How, start: int, finish: int, number: int, step: int) -> list[int]:
    ratio = Fraction(finish, start)
    between = [powered(ratio, Fraction(n, number), Fraction(start)) for n in range(1, number)]
    return [start, *(round(gauge / step) * step for gauge in between), finish]


def _equal_drafts(how: How, start: int, finish: int, number: int, step: int) -> list[int]:
    draft = Fraction(start - finish, number)
    return [start, *(round((start - draft * n) / step) * step for n in range(1, number)), finish]


def _greedy(start: int, finish: int, share: Fraction, draft: Fraction, step: int) -> list[int]:
    gauges = [start]
    while gauges[-1] > finish:
        least = gauges[-1] - min(share * gauges[-1], draft)
        after = max(int(-(-least // step)) * step, finish) if least > finish else finish
        if after >= gauges[-1] or len(gauges) > MOST_PASSES:
            raise _too_many()
        gauges.append(after)
    return gauges


def _passes(how: How, gauges: Sequence[int], limit: Fraction | None) -> Iterator[Pass]:
    """Yield the passes, each with an anneal before it where the limit would else be passed."""
    annealed = gauges[0]
    for number, (before, after) in enumerate(pairwise(gauges), 1):
        anneal = limit is not None and _reduction(how, annealed, after) > limit
        annealed = before if anneal else annealed
        since = _reduction(how, annealed, after)
        if limit is not None and since > limit:
            raise Impossible(f"pass {number} alone takes more than may be taken between two anneals",
                             "allow less a pass, or state a larger --anneal-after")  # fmt: skip
        longer = Fraction(section(how, gauges[0]), section(how, after))
        yield Pass(number, before, after, _reduction(how, before, after), since, anneal, longer)


def mass_per_metre(how: How, gauge_nm: int, density: Fraction, width_nm: int = 0) -> Fraction:
    """Return the mass of a metre in nanograms: of wire, or of strip of a width."""
    across = PI * gauge_nm**2 / 4 if how == "draw" else Fraction(gauge_nm * width_nm)
    return mass_of(across * NM_PER_UNIT["m"], density)
