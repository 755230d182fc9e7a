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
from numpy.typing import NDArray

from ledger.balance.rates.robust import BOUND
from ledger.causes.patterns.benjamini_hochberg import adjusted, level
from ledger.causes.patterns.comparisons import Alias, Comparison, Untested, comparisons, correlation, matrix
from ledger.causes.patterns.mantel_haenszel import OddsRatio, Table, odds_ratio
from ledger.causes.patterns.permutation import SHUFFLES, Tested, against_shuffles
from ledger.causes.patterns.scores import Floats, Sheet, bounded, regression, sheet
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

_REACH: Final = NormalDist().inv_cdf(0.975)


@dataclass(frozen=True, slots=True)
class Effect:
    """What a comparison's tickets lose more than the others, as a share of their input, with its 95 % interval."""

    share: float
    low: float
    high: float


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
    """All that was found; ``compared``: comparisons, of mean and of scatter; ``level``: the p-value that decided."""

    patterns: list[Pattern]
    compared: int
    level: float
    untested: list[Untested]
    sheet: Sheet | None


def find(tickets: Sequence[Ticket], shuffles: int = SHUFFLES) -> Patterns:
    """Return the patterns in the residuals of tickets, in the order of their dates."""
    if not tickets:
        return Patterns([], 0, 0.0, [], None)
    numbers = sheet(tickets)
    compared, untested = comparisons(numbers)
    if not compared:
        return Patterns([], 0, 0.0, untested, numbers)
    return _Search(numbers, compared, untested, max(shuffles, ceil(4 * len(compared) / RATE))).run()


class _Search:
    """The comparisons of one set of tickets, tested; behind them, for reference alone, levels with too few tickets."""

    def __init__(
        self, numbers: Sheet, compared: list[Comparison], untested: list[Untested], shuffles: int
    ) -> None:  # fmt: skip
        self.sheet, self.untested, self.shuffles = numbers, untested, shuffles
        few = [u.comparison(numbers) for u in untested if u.why != "always"]
        self.compared, self.tested = [*compared, *few], len(compared)
        self.columns = matrix(self.compared)
        self.held = (np.column_stack([c.share for c in compared]) >= 0.5).astype(float)
        self.of_mean = self._test(bounded(numbers.epsilon), self.columns[:, : self.tested])

    def run(self) -> Patterns:
        """Test, choose, and measure."""
        of_mean = self.of_mean
        first = self._named(of_mean, level(of_mean.p.tolist(), RATE))
        wide = self._wide(list(first))
        of_scatter = self._test(wide, self.held)
        p_values = [*of_mean.p.tolist(), *of_scatter.p.tolist()]
        at, q_values = level(p_values, RATE), adjusted(p_values)
        named = self._named(of_mean, at)
        effects = self._effects(list(named))
        found = [
            self._pattern(i, "mean", p_values[i], q_values[i], effects[i], None, also, self._apart(named, i, at))
            for i, also in named.items()
        ]
        for i, also in self._named_wide(wide, of_scatter, at).items():
            j = i + self.tested
            odds = self._odds(wide, self.held[:, i])
            found.append(self._pattern(i, "scatter", p_values[j], q_values[j], None, odds, also, also))
        return Patterns(found, len(p_values), at, self.untested, self.sheet)

    def _test(self, scores: Floats, columns: Floats, strata: NDArray[np.int64] | None = None) -> Tested:
        return against_shuffles(scores, columns, self.sheet.strata if strata is None else strata, self.shuffles)

    def _named(self, tested: Tested, at: float) -> dict[int, list[int]]:
        """Return the comparisons that stand out even when the others named are allowed for, with what goes with each.

        The strongest first; one that a later one makes needless gives way to it.
        """
        left = sorted(np.flatnonzero(tested.p <= at).tolist(), key=lambda i: -abs(tested.z[i])) if at else []
        out, named = list(left), list[int]()
        while left:
            named.append(left.pop(0))
            named = [i for i in named if self._stays([j for j in named if j != i], i, at)] or named[-1:]
            beside = self._beside(named, left)
            left = [i for i in left if beside.get(i, 1.0) <= at]
        with_it: dict[int, list[int]] = {i: [] for i in named}
        for i in [i for i in out if i not in with_it]:
            with_it[max(named, key=lambda j: abs(self._alike(i, j)))].append(i)
        return with_it

    def _stays(self, others: list[int], i: int, at: float) -> bool:
        """Return whether one stands out beside others."""
        return self._beside(others, [i]).get(i, 1.0) <= at

    def _apart(self, named: dict[int, list[int]], i: int, at: float) -> list[int]:
        """Return which others explain as well what one stands for: beside them it stands out no longer.

        Those that go with it, and what goes along with it and has too few tickets, or shows at `_SHOWS` by itself.
        """
        others = [j for j in named if j != i]
        along = [k for k in range(len(self.compared)) if k not in named and abs(self._alike(i, k)) >= _ALONG]
        shown = [k for k in along if k >= self.tested or self.of_mean.p[k] <= _SHOWS]
        return [k for k in sorted({*named[i], *shown}) if not self._stays([*others, k], i, at)]

    def _alike(self, i: int, j: int) -> float:
        return correlation(self.columns[:, i], self.columns[:, j])

    def _beside(self, named: list[int], left: list[int]) -> dict[int, float]:
        """Return the p-values of comparisons when those named are allowed for."""
        if not left or not named:
            return dict.fromkeys(left, 0.0)
        known = np.linalg.qr(self.columns[:, named])[0]
        rest = self.columns[:, left] - known @ (known.T @ self.columns[:, left])
        own = (rest**2).sum(axis=0) >= _LEFT * (self.columns[:, left] ** 2).sum(axis=0)
        tested = self._test(bounded(self._residuals(named)), rest)
        return {i: p for i, p, enough in zip(left, tested.p.tolist(), own, strict=True) if enough}

    def _design(self, named: list[int]) -> Floats:
        return np.column_stack([self.sheet.basis, self.columns[:, named]])

    def _residuals(self, named: list[int]) -> Floats:
        design = self._design(named)
        return self.sheet.independent - design @ regression(self.sheet.independent, design)

    def _effects(self, named: list[int]) -> dict[int, Effect]:
        """Return the sizes of the comparisons named, together, by Huber's regression and its sandwich variance."""
        if not named:
            return {}
        design = self._design(named)
        coefficients = regression(self.sheet.independent, design)
        rest = self.sheet.independent - design @ coefficients
        inside = (np.abs(rest) <= BOUND).astype(float)
        bread = np.linalg.pinv((design * inside[:, None]).T @ design)
        free = max(len(rest) - design.shape[1], 1)
        meat = (design * (bounded(rest) ** 2)[:, None]).T @ design * len(rest) / free
        sds = np.sqrt(np.maximum(np.diag(bread @ meat @ bread), 0.0))
        first = self.sheet.basis.shape[1]
        return {
            i: Effect(float(b), float(b - _REACH * sd), float(b + _REACH * sd))
            for i, b, sd in zip(named, coefficients[first:], sds[first:], strict=True)
        }

    def _wide(self, named: list[int]) -> Floats:
        """Return 1 for each ticket that lies wide of its stratum, levels of another mean allowed for."""
        return (np.abs(self._residuals(named)) > WIDE).astype(float)

    def _named_wide(self, wide: Floats, tested: Tested, at: float) -> dict[int, list[int]]:
        """As `_named`, of scatter: compared within those that are alike in what is named already."""
        left = sorted(np.flatnonzero(tested.p <= at).tolist(), key=lambda i: -abs(tested.z[i])) if at else []
        named: dict[int, list[int]] = {}
        while left:
            named[left.pop(0)] = []
            strata = np.unique(np.column_stack([self.sheet.strata, self.held[:, list(named)]]), axis=0,
                               return_inverse=True)[1].ravel()  # fmt: skip
            p_values: list[float] = self._test(wide, self.held[:, left], strata).p.tolist() if left else []
            for i in [i for i, p in zip(left, p_values, strict=True) if p > at]:
                left.remove(i)
                named[max(named, key=lambda j: abs(self._alike(i, j)))].append(i)
        return named

    def _odds(self, wide: Floats, held: Floats) -> OddsRatio | None:
        tables = []
        for stratum in range(len(self.sheet.names)):
            own = self.sheet.strata == stratum
            w, h = wide[own], held[own]
            tables.append(Table(*(float(x) for x in (w @ h, (1 - w) @ h, w @ (1 - h), (1 - w) @ (1 - h)))))
        return odds_ratio(tables)

    def _pattern(
        self, i: int, what: Literal["mean", "scatter"], p: float, q: float, effect: Effect | None,
        odds: OddsRatio | None, also: list[int], apart: Collection[int],
    ) -> Pattern:  # fmt: skip
        comparison = self.compared[i]
        if (effect is not None and effect.share < 0) or (odds is not None and odds.ratio < 1):
            comparison = comparison.turned()
        if comparison is not self.compared[i]:
            effect, odds = _turned(effect), _turned_odds(odds)
        put_in = np.array([float(ticket.put_in) for ticket in self.sheet.tickets])
        told = np.abs(comparison.column) > 1e-12
        return Pattern(
            comparison, what, p, q, int((comparison.share[told] >= 0.5).sum()),
            float((put_in * comparison.share)[told].sum()), effect, odds,
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


def _turned(effect: Effect | None) -> Effect | None:
    return None if effect is None else Effect(-effect.share, -effect.high, -effect.low)


def _turned_odds(odds: OddsRatio | None) -> OddsRatio | None:
    return None if odds is None else OddsRatio(1 / odds.ratio, 1 / odds.high, 1 / odds.low)
