"""What stands out: the tests of all comparisons, the discoveries of which five in a hundred are false, and their size.

Two things are asked of each comparison: whether its tickets lose more or less, share for share of what was put in
(*mean*), and whether more of them lie far from where they should (*scatter*), as where something is taken now and then.
Of levels that go together the one that explains most is named; another is named beside it only if it still stands out
when the first is allowed for.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from math import ceil
from statistics import NormalDist
from typing import Final, Literal

import numpy as np

from ledger.causes.patterns.comparisons import (
    FEWEST,
    Alias,
    Comparison,
    Name,
    Untested,
    comparisons,
    correlation,
    matrix,
)
from ledger.causes.patterns.effects import Effect, effects, misfit, odds, residuals
from ledger.causes.patterns.mantel_haenszel import OddsRatio
from ledger.causes.patterns.permutation import SHUFFLES, against_shuffles
from ledger.causes.patterns.scores import Floats, Sheet, bounded, sheet
from ledger.causes.patterns.stepwise import Named, Rate, Seen, Steps, stepwise
from ledger.causes.patterns.tickets import Ticket

#: False discovery rate over all comparisons.
RATE: Final = 0.05

#: A ticket lies wide of its stratum beyond so many standard deviations: one in ten by chance.
WIDE: Final = NormalDist().inv_cdf(0.95)

#: A column of which less than this share of its square is left, others allowed for, is no comparison of its own.
_LEFT: Final = 0.1

#: What might be meant as well: a column that goes so much along with one that stands out, and shows at this p-value.
_ALONG: Final = 0.5
_SHOWS: Final = 0.05

#: Fits that differ by less than this part are alike.
_ALIKE: Final = 1e-6

_NOTHING: Final = Seen(1.0, 0.0)


@dataclass(frozen=True, slots=True)
class Pattern:
    """One discovery. ``p``: its own; ``q``: the least false discovery rate at which it is one.

    ``effect`` of the mean; of scatter ``odds``: of lying wide, over those of the others. ``put_in``: ng of input worked
    under it, in the operations compared. ``inseparable``: other names of the same, and what stands out as well in
    its place: these tickets do not part them. ``with_it``: what stood out by itself and no longer does beside it.
    """

    comparison: Comparison
    what: Literal["mean", "scatter"]
    p: float
    q: float
    tickets: int
    put_in: float
    effect: Effect | None
    odds: OddsRatio | None
    with_it: list[Alias] = field(default_factory=list)
    inseparable: list[Alias] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Patterns:
    """All that was found; ``compared``: comparisons made, of mean and of scatter."""

    patterns: list[Pattern]
    compared: int
    untested: list[Untested]


def find(tickets: Sequence[Ticket], shuffles: int = SHUFFLES) -> Patterns:
    """Return the patterns in the residuals of tickets, in the order of their dates.

    Where something is named the search is made again, led by the names that fit best, and how much an operation
    scatters is judged without it.
    """
    if not tickets:
        return Patterns([], 0, [])
    search = _Search(sheet(tickets), shuffles)
    if search.of_mean.named:
        search = _Search(sheet(tickets, search.explained()), shuffles, search.fitting())
    return search.patterns()


class _Search:
    """The comparisons of one set of tickets; behind them, for reference alone, levels with too few tickets."""

    def __init__(self, numbers: Sheet, shuffles: int, first: Sequence[Name] = ()) -> None:
        compared, self.untested = comparisons(numbers, first)
        few = [u.comparison(numbers) for u in self.untested if u.why != "always"]
        self.sheet, self.compared, self.count = numbers, [*compared, *few], len(compared)
        self.shuffles = max(shuffles, ceil(4 * self.count / RATE))
        self.columns = matrix(self.compared) if self.compared else np.zeros((len(numbers.tickets), 0))
        self.rate = Rate(RATE, 2 * self.count)
        self.of_mean = stepwise(self._mean, self.count, self.rate)

    def _mean(self, named: Collection[int], others: Collection[int]) -> dict[int, Seen]:
        """Test the means of others, those named allowed for."""
        known, wanted = list(named), list(others)
        rest = self.columns[:, wanted]
        left = residuals(self.sheet, self.columns[:, known]) if known else self.sheet.epsilon
        if known:
            basis = np.linalg.qr(self.columns[:, known])[0]
            rest = rest - basis @ (basis.T @ rest)
        enough = (rest**2).sum(axis=0) >= _LEFT * (self.columns[:, wanted] ** 2).sum(axis=0)
        tested = against_shuffles(bounded(left), rest, self.sheet.strata, self.shuffles)
        return {
            i: Seen(float(p), float(z)) if own else _NOTHING
            for i, p, z, own in zip(wanted, tested.p, tested.z, enough, strict=True)
        }

    def explained(self) -> Floats:
        """Return what those named explain of each ticket's excess, as a share of its input."""
        sizes = zip(self.of_mean.named, self._effects(), strict=True)
        return np.asarray(sum(effect.share * self.compared[i].share for i, effect in sizes))

    def fitting(self) -> list[Name]:
        """Return of each one named that of its names which fits best beside those named before it."""
        found, named = list[Name](), list(self.of_mean.named)
        for place, i in enumerate(named):
            before = self.columns[:, named[:place]]
            fits = [
                (misfit(self.sheet, np.column_stack([before, self.sheet.columns(share[:, None])])), name)
                for name, share in self.compared[i].named
            ]
            least = min(fit for fit, _ in fits)
            found.append(next(name for fit, name in fits if fit <= least * (1 + _ALIKE) + _ALIKE))
        return found

    def _effects(self) -> list[Effect]:
        return effects(self.sheet, self.columns[:, list(self.of_mean.named)])

    def patterns(self) -> Patterns:
        """Return all that was found."""
        sizes = dict(zip(self.of_mean.named, self._effects(), strict=True))
        loose = self._nearest(self.of_mean)
        found = [
            self._pattern(i, "mean", one, sizes[i], None, loose[i], self._apart(i))
            for i, one in self.of_mean.named.items()
        ]
        return Patterns([*found, *self._scattered()], self.rate.whole, self.untested)

    def _scattered(self) -> list[Pattern]:
        """Return the levels whose tickets lie wide more often than others', levels of another mean allowed for."""
        left = residuals(self.sheet, self.columns[:, list(self.of_mean.named)])
        wide = (np.abs(left) > WIDE).astype(float)
        held = (np.column_stack([c.share for c in self.compared]) >= 0.5).astype(float)
        known = tuple(one.p for one in self.of_mean.named.values())

        def test(named: Collection[int], others: Collection[int]) -> dict[int, Seen]:
            """Test within those that are alike in what is named."""
            alike = np.column_stack([self.sheet.strata, held[:, list(named)]])
            strata = np.unique(alike, axis=0, return_inverse=True)[1].ravel()
            enough = [i for i in others if held[:, i].sum() >= FEWEST]
            tested = against_shuffles(wide, held[:, enough], strata, self.shuffles)
            seen = {i: Seen(float(p), float(z)) for i, p, z in zip(enough, tested.p, tested.z, strict=True)}
            return dict.fromkeys(others, _NOTHING) | seen

        steps = stepwise(test, self.count, Rate(RATE, self.rate.whole, known)) if self.count else Steps({}, [], 0.0)
        loose = self._nearest(steps)
        return [
            self._pattern(i, "scatter", one, None, odds(self.sheet, wide, held[:, i]), [], loose[i])
            for i, one in steps.named.items()
        ]

    def _nearest(self, steps: Steps) -> dict[int, list[int]]:
        """Return by each one named what stood out by itself and goes along with it most."""
        found: dict[int, list[int]] = {i: [] for i in steps.named}
        for i in steps.loose if found else ():
            found[max(found, key=lambda j: abs(self._alike(i, j)))].append(i)
        return found

    def _alike(self, i: int, j: int) -> float:
        return correlation(self.columns[:, i], self.columns[:, j])

    def _apart(self, i: int) -> list[int]:
        """Return which others explain as well what one stands for: beside them it stands out no longer.

        They stand out by themselves, or go along with it and show at `_SHOWS`, or have too few tickets to.
        """
        named = self.of_mean.named
        others = [j for j in named if j != i]
        along = [k for k in range(len(self.compared)) if k not in named and abs(self._alike(i, k)) >= _ALONG]
        shows = self._mean(others, [k for k in along if k < self.count])
        meant = {k for k in along if k >= self.count or shows[k].p <= _SHOWS}
        return [k for k in sorted(meant) if self._mean([*others, k], [i])[i].p > self.of_mean.level]

    def _pattern(
        self, i: int, what: Literal["mean", "scatter"], named: Named, effect: Effect | None,
        odds_ratio: OddsRatio | None, also: Collection[int], apart: Collection[int],
    ) -> Pattern:  # fmt: skip
        comparison = self.compared[i]
        if (effect is not None and effect.share < 0) or (odds_ratio is not None and odds_ratio.ratio < 1):
            comparison = comparison.turned()
        if comparison is not self.compared[i]:
            effect, odds_ratio = effect and effect.turned(), odds_ratio and odds_ratio.turned()
        put_in = np.array([float(ticket.put_in) for ticket in self.sheet.tickets])
        told = np.abs(comparison.column) > 1e-12
        return Pattern(
            comparison, what, named.p, named.q, int((comparison.share[told] >= 0.5).sum()),
            float((put_in * comparison.share)[told].sum()), effect, odds_ratio,
            self._aliases(comparison, [j for j in also if j not in apart]),
            [*comparison.aliases, *self._aliases(comparison, apart)],
        )  # fmt: skip

    def _aliases(self, comparison: Comparison, others: Collection[int]) -> list[Alias]:
        """Return other comparisons as names that go with one, or against it."""
        found = []
        for other in (self.compared[j] for j in others):
            along = correlation(other.column, comparison.column) > 0
            for alias in (Alias(other.name, other.share, "with"), *other.aliases):
                found.append(alias._replace(way="with" if (alias.way == "with") == along else "against"))
        return found
