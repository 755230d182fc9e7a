"""The page of the study of causes: each row's figures against its mark, and a reliability diagram in numbers."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import sqrt

from tests.studies.causes_runs import ROWS, Outcome, Row
from tests.studies.evaluation_page import circumstances, table
from tests.studies.fault_worlds import named

Z95 = 1.959964
#: Shares, by tenths around whole tenths, as the reliability diagram groups them.
_BINS = (0.05, 0.15, 0.25, 0.35, 0.45, 0.55, 0.65, 0.75, 0.85, 0.95, 1.000001)


@dataclass(frozen=True)
class Share:
    """So many of so many, with its 95 % interval (Wilson 1927, J. Am. Stat. Assoc. 22, 209)."""

    count: int
    of: int

    @property
    def interval(self) -> tuple[float, float]:
        """The interval."""
        if not self.of:
            return 0.0, 1.0
        p, z2 = self.count / self.of, Z95 * Z95
        middle = (p + z2 / (2 * self.of)) / (1 + z2 / self.of)
        reach = Z95 * sqrt(p * (1 - p) / self.of + z2 / (4 * self.of**2)) / (1 + z2 / self.of)
        return max(middle - reach, 0.0), min(middle + reach, 1.0)

    def __str__(self) -> str:
        if not self.of:
            return "none"
        low, high = self.interval
        return f"{self.count / self.of:.1%} ({low:.1%} to {high:.1%}; {self.count} of {self.of})"

    def at_least(self, mark: float) -> bool:
        """Return whether a mark from below is met: the interval does not lie wholly beyond it."""
        return self.interval[1] >= mark

    def at_most(self, mark: float) -> bool:
        """Return whether a mark from above is met."""
        return self.interval[0] <= mark


@dataclass(frozen=True)
class Figure:
    """One figure of a row and its mark."""

    row: str
    says: str
    share: Share
    mark: str
    met: bool


def of_right(outcomes: Iterable[Outcome]) -> Share:
    """Return how many answers are right, of those about a fault."""
    all_ = [outcome.right for outcome in outcomes if outcome.faults]
    return Share(sum(all_), len(all_))


def of_first(outcomes: Iterable[Outcome]) -> Share:
    """Return how many answers are right where chance is set aside: what a person would look at first."""
    all_ = [outcome.first for outcome in outcomes if outcome.faults]
    return Share(sum(all_), len(all_))


def of_found(outcomes: Sequence[Outcome]) -> Share:
    """Return how many faults are named."""
    all_ = [one for outcome in outcomes for one in outcome.found]
    return Share(sum(all_), len(all_))


def of_false(outcomes: Sequence[Outcome]) -> Share:
    """Return how many of the causes named are false."""
    return Share(sum(o.false for o in outcomes), sum(o.named for o in outcomes))


def of_alarms(outcomes: Sequence[Outcome]) -> Share:
    """Return how many months name anything that is not so."""
    return Share(sum(o.false > 0 or bool(o.error) for o in outcomes), len(outcomes))


def of_unticketed(outcomes: Sequence[Outcome]) -> Share:
    """Return how many months name metal gone without a ticket where none is."""
    return Share(sum(o.unticketed for o in outcomes), len(outcomes))


def by_family(outcomes: Iterable[Outcome]) -> dict[str, Share]:
    """Return how many are right by the family planted."""
    found: dict[str, list[bool]] = {}
    for outcome in outcomes:
        if outcome.faults:
            found.setdefault(outcome.faults[0].family, []).append(outcome.right)
    return {family: Share(sum(all_), len(all_)) for family, all_ in found.items()}


def figures(row: Row, outcomes: Sequence[Outcome]) -> list[Figure]:
    """Return a row's figures against its marks."""
    return _FIGURES[row.name](row, outcomes)


def _least(measure: Callable[[Sequence[Outcome]], Share], says: str, mark: float) -> Callable[
    [Row, Sequence[Outcome]], list[Figure]
]:  # fmt: skip
    def one(row: Row, outcomes: Sequence[Outcome]) -> list[Figure]:
        share = measure(outcomes)
        return [Figure(row.says, says, share, f"≥ {mark:.1%}".replace(".0%", " %"), share.at_least(mark))]

    return one


def _most(measure: Callable[[Sequence[Outcome]], Share], says: str, mark: float) -> Callable[
    [Row, Sequence[Outcome]], list[Figure]
]:  # fmt: skip
    def one(row: Row, outcomes: Sequence[Outcome]) -> list[Figure]:
        share = measure(outcomes)
        return [Figure(row.says, says, share, f"≤ {mark:.0%}".replace("%", " %"), share.at_most(mark))]

    return one


def _each_family(row: Row, outcomes: Sequence[Outcome]) -> list[Figure]:
    shares = by_family(outcomes)
    whole = of_right(outcomes)
    best = sorted(shares.values(), key=lambda s: -s.count / s.of)[:3]
    third = Share(sum(s.count for s in best), sum(s.of for s in best))
    return [
        Figure(row.says, "right, all families", whole, "≥ 98 %", whole.at_least(0.98)),
        Figure(row.says, "right, the three best families", third, "≥ 99.5 %", third.at_least(0.995)),
        *(Figure("", family, share, "≥ 98 %", share.at_least(0.98)) for family, share in shares.items()),
    ]


def _of_small(row: Row, outcomes: Sequence[Outcome]) -> list[Figure]:
    aside = of_first(outcomes)
    return [
        *_least(of_right, "right", 0.85)(row, outcomes),
        Figure(row.says, "right, chance set aside", aside, "≥ 85 %", aside.at_least(0.85)),
    ]


def _of_several(row: Row, outcomes: Sequence[Outcome]) -> list[Figure]:
    return [
        *_least(of_found, "faults named", 0.9)(row, outcomes),
        *_most(of_false, "causes named that are false", 0.05)(row, outcomes),
    ]


def _of_thin(row: Row, outcomes: Sequence[Outcome]) -> list[Figure]:
    share = Share(*reliability(outcomes)[8][:2])
    low, high = share.interval
    met = low <= 0.85 and high >= 0.75
    return [Figure(row.says, "true, of causes given 75 to 85 %", share, "75 to 85 %", met),
            Figure(row.says, "right", of_right(outcomes), "none", True)]  # fmt: skip


def _of_refiner(row: Row, outcomes: Sequence[Outcome]) -> list[Figure]:
    honest = [outcome for outcome in outcomes if not outcome.faults]
    return [
        *_least(of_right, "right", 0.9)(row, outcomes),
        *_most(of_alarms, "honest years in which anything is named", 0.01)(row, honest),
    ]


def reliability(outcomes: Iterable[Outcome]) -> list[tuple[int, int, float]]:
    """Return, by tenths of share, how many causes were true, of how many, and their mean share."""
    bins: list[list[tuple[bool, float]]] = [[] for _ in _BINS]
    for outcome in outcomes:
        for cause in outcome.causes:
            true = not outcome.faults if cause["family"] == "chance" else any(
                named.tells(cause, fault) for fault in (*outcome.faults, *outcome.also)
            )  # fmt: skip
            at = next(i for i, high in enumerate(_BINS) if cause["share"] < high)
            bins[at].append((true, cause["share"]))
    return [(sum(t for t, _ in b), len(b), sum(s for _, s in b) / len(b) if b else 0.0) for b in bins]


_FIGURES: Mapping[str, Callable[[Row, Sequence[Outcome]], list[Figure]]] = {
    "one": _each_family,
    "small": _of_small,
    "several": _of_several,
    "mistaken": _least(of_right, "right", 0.9),
    "mistaken-honest": _most(of_unticketed, "months with `unticketed` above 50 %", 0.02),
    "thin": _of_thin,
    "hidden": _least(of_right, "right", 0.9),
    "refiner": _of_refiner,
    "honest": _most(of_alarms, "months with a cause but chance above 50 %", 0.01),
}


def by_evidence(outcomes: Iterable[Outcome]) -> list[tuple[str, Share, Share]]:
    """Return how many are right, and first with chance set aside, by what all differences say of the fault together."""
    edges = (0.0, 4.0, 5.0, 6.0, 7.0, float("inf"))
    found = []
    for low, high in pairwise(edges):
        own = [o for o in outcomes if o.faults and low <= (o.faults[0].together or 0.0) < high]
        if own:
            says = f"{low:g} to {high:g}" if high < 100 else f"{low:g} and more"
            found.append((says, of_right(own), of_first(own)))
    return found


def print_row(row: Row, outcomes: Sequence[Outcome]) -> str:
    """Return a row in plain words."""
    lines = [f"{f.row or ' '}: {f.says}: {f.share}, mark {f.mark}: {'met' if f.met else 'NOT met'}"
             for f in figures(row, outcomes)]  # fmt: skip
    if row.name == "thin":
        lines += [f"  given {mean:.2f}: {Share(true, of)}" for true, of, mean in reliability(outcomes)]
    if row.name in ("small", "mistaken", "hidden"):
        lines += [f"    {family}: {share}" for family, share in sorted(by_family(outcomes).items())]
    if row.name == "small":
        lines += [f"  together {says} σ: {right}; chance aside {first}" for says, right, first in by_evidence(outcomes)]
    slow = sorted(o.seconds for o in outcomes)
    errors = sum(bool(o.error) for o in outcomes)
    middle = slow[len(slow) // 2]
    lines.append(f"  {len(outcomes)} answers, median {middle:.2f} s, slowest {slow[-1]:.2f} s; {errors} crashed")
    return "\n".join(lines)


def section(
    found: Mapping[str, Sequence[Outcome]], command: str, states: Mapping[str, Sequence[str]] | None = None
) -> str:
    """Return the section of docs/evaluation.md; ``states``: rows by the digest of the code that answered."""
    all_ = [f for name, outcomes in found.items() for f in figures(ROWS[name], outcomes)]
    main: list[tuple[str, ...]] = [
        (f.row, f.says, str(f.share), f.mark, "yes" if f.met else "no") for f in all_ if f.row
    ]
    families: list[tuple[str, ...]] = [(f.says, str(f.share), "yes" if f.met else "no") for f in all_ if not f.row]
    diagram: list[tuple[str, ...]] = [
        (f"{mean:.2f}", str(of), str(Share(true, of))) for true, of, mean in reliability(found.get("thin", ())) if of
    ]
    together: list[tuple[str, ...]] = [
        (says, str(right), str(first)) for says, right, first in by_evidence(found.get("small", ()))
    ]
    slow = sorted(o.seconds for outcomes in found.values() for o in outcomes)
    seeds = ", ".join(f"{name} {ROWS[name].seed:,}".replace(",", " ") for name in found)
    return f"""\
## Causes

{circumstances(command, min(ROWS[name].seed for name in found))}

Months of the invented plant of sample_books, run anew from a seed each (first seeds: {seeds}): thirteen areas, about
580 tickets, human slips that are mended the same day, forms spoiled. Faults are planted at random places, of sizes
drawn log-uniformly; of a single one the area that shows it is asked about, of several or none the whole plant. Runs of
one seed share their chances of weighing and loss. *Right*: first, or in the first group declared inseparable, with the
right ticket, lot, scale, operation or party. *Named*: more than half, together with what cannot be told apart.
Intervals are 95 %; a mark is met unless the interval lies wholly beyond it.{_of_states(states or {})}

{table(("row", "figure", "measured", "mark", "met"), main)}

One fault of 5 σ and more, by family:

{table(("family", "right", "98 % met"), families)}

One fault of 3 to 5 σ, by what all differences of the month say of it together, √(ΔᵀΣ⁻¹Δ). The
largest of 900 normal draws, as many as a month has differences, is beyond 3.4 σ every other time: what shows once, at
3 or 4 σ, is not apart from chance.

{table(("σ together", "right", "right, chance set aside"), together)}

Thin records (moves not weighed; or only outputs and counts), a third of the months honest, a fault planted in the
others, of families drawn as often as the rates say that every answer prints: shares are odds given those. How often
what was given a share was so (reliability diagram in numbers):

{table(("mean share given", "causes", "true"), diagram)}

An answer took {slow[len(slow) // 2]:.2f} s in the middle; one of a hundred took more than
{slow[len(slow) * 99 // 100]:.2f} s.
"""


def _of_states(states: Mapping[str, Sequence[str]]) -> str:
    """Return which rows are of which state of the code, where they are not all of one."""
    if len(states) < 2:
        return ""
    said = "; ".join(f"{digest[:8]}: {', '.join(names)}" for digest, names in states.items())
    return f"""

Not all rows are of one state of the code that answers (`ledger/balance` and `ledger/causes`; SHA-256, first digits):
{said}."""
