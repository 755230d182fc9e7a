"""Which of many comparisons to name when they go with one another: step by step, at one false discovery rate.

What stands out most, all that is named already allowed for, is named next; one that a later one makes needless gives
way to it. At every step the p-values of all comparisons, given those named, are held to the rate together.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from ledger.causes.patterns.benjamini_hochberg import adjusted, level


class Seen(NamedTuple):
    """A comparison's p-value and how far out it is, others allowed for."""

    p: float
    z: float


#: Tests some comparisons when others are named: by their places.
Test = Callable[[Collection[int], Collection[int]], Mapping[int, Seen]]


class Named(NamedTuple):
    """The p-value of one that is named, and the least rate at which it is, at its step."""

    p: float
    q: float


@dataclass(frozen=True, slots=True)
class Steps:
    """What is named; what stood out by itself and is not; and the p-value that decided at the last step that named."""

    named: dict[int, Named]
    loose: list[int]
    level: float


@dataclass(frozen=True, slots=True)
class Rate:
    """A false discovery rate over ``whole`` comparisons; ``known``: p-values of some that are rejected already."""

    rate: float
    whole: int
    known: tuple[float, ...] = ()

    def level(self, p_values: Iterable[float]) -> float:
        """Return the largest p-value rejected; comparisons without one are taken as nothing."""
        return level(self._all(p_values), self.rate)

    def q(self, p: float, others: Iterable[float]) -> float:
        """Return the least rate at which one is rejected, beside others."""
        return adjusted(self._all([p, *others]))[0]

    def _all(self, p_values: Iterable[float]) -> list[float]:
        given = [*p_values, *self.known]
        return [*given, *[1.0] * (self.whole - len(given))]


def stepwise(test: Test, count: int, rate: Rate) -> Steps:
    """Return which of ``count`` comparisons are named."""
    named: dict[int, Named] = {}
    gone: set[int] = set()
    seen = test((), range(count))
    first = rate.level(s.p for s in seen.values())
    loose, at = [i for i, s in seen.items() if s.p <= first and first], 0.0
    while True:
        others = [n.p for n in named.values()]
        now = rate.level([*(s.p for s in seen.values()), *others])
        out = [i for i, s in seen.items() if s.p <= now and i not in gone]
        if not now or not out:
            break
        at, best = now, max(out, key=lambda i: abs(seen[i].z))
        rest = [s.p for i, s in seen.items() if i != best]
        named[best] = Named(seen[best].p, rate.q(seen[best].p, [*rest, *others]))
        for i in [i for i in named if i != best]:
            if test([j for j in named if j != i], (i,))[i].p > at:
                gone.add(i)
                del named[i]
        seen = test(named, [i for i in range(count) if i not in named])
    return Steps(named, [i for i in loose if i not in named], at)
