"""The search: which causes, one or several at once, make the evidence most probable.

One cause at a time is added, the best given those already taken; after each, every one of them is tried again given
the others, and exchanged where another does better; what the others make unneeded goes. Sizes that are free are fitted
together throughout.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations
from math import exp, log, log1p
from typing import Final

import numpy as np

from ledger.causes.case import Case, Direction, Given, Taken
from ledger.causes.families import all_families
from ledger.causes.odds import free, known, size
from ledger.causes.proposals import Proposal, View
from ledger.causes.reads import Reads

#: A cause is taken while the odds that any is there are above this; so many at most, exchanged so often.
_TAKE: Final = 0.05
_MOST: Final = 12
_ROUNDS: Final = 3
#: Two causes speak to one another where their directions' squared correlation is above this.
_SPEAKS: Final = 1e-4
#: Two proposals compete for the same evidence where one's odds fall by this much (log) once the other is taken.
_COMPETES: Final = 1.0
#: Families of which two may be one thing seen twice.
_OFTEN_ONE: Final = frozenset(("substituted", "determination", "other", "unticketed", "mass"))
#: A free size farther out than so many times its prior's reach is none of that family.
_FAR_OUT: Final = 4.0
#: Odds below this are not kept.
_FAINT: Final = 1e-4


@dataclass(slots=True)
class Weighed:
    """A proposal with its log odds given what else is taken, and its size."""

    proposal: Proposal
    odds: float
    theta: float
    sd: float
    q: float = 0.0

    @property
    def taken_most(self) -> float:
        """τ with which it is fitted together with others."""
        return max(self.proposal.most, abs(self.theta))


@dataclass(slots=True)
class Slot:
    """One thing that happened: the cause taken for it, and all that compete for it, each with its share."""

    best: Weighed
    rivals: list[Weighed] = field(default_factory=list)
    shares: list[float] = field(default_factory=list)
    chance: float = 0.0


class Search:
    """Looks for the causes of a case."""

    def __init__(self, case: Case, rates: Mapping[str, float]) -> None:
        self.case = case
        self.rates = rates
        self.reads = Reads(case)
        self._taken: dict[tuple[object, ...], Taken] = {}
        self._loosened: dict[tuple[object, ...], list[Taken]] = {}

    def weighed(self, given: Given, exclude: frozenset[tuple[object, ...]] = frozenset()) -> list[Weighed]:
        """Return every proposal worth naming, by falling odds."""
        view = View(self.case, given, self.rates, self.reads, [one.proposal for one in given.taken if one.proposal])
        view.look_no_lower()
        proposals = [
            p for family in all_families() for p in family.propose(view) if p.prior > 0 and p.name not in exclude
        ]
        if not proposals:
            return []
        directions: dict[int, int] = {}
        distinct: list[Direction] = []
        for p in proposals:
            if id(p.direction) not in directions:
                directions[id(p.direction)] = len(distinct)
                distinct.append(p.direction)
        b, q = given.weigh(distinct)
        found = []
        for p in proposals:
            at = directions[id(p.direction)]
            one = _weigh(p, float(b[at]), float(q[at]))
            if one is not None and one.odds > log(_FAINT):
                found.append(one)
        found.sort(key=lambda w: -w.odds)
        return _once_each(found)

    def taken(self, one: Weighed) -> Taken:
        """Return a weighed cause as taken."""
        key = one.proposal.name
        if key not in self._taken:
            p = one.proposal
            known_ = p.theta is not None
            self._taken[key] = Taken(self.case, p.direction, p.theta or 0.0, p.give if known_ else one.taken_most, p)
        return self._taken[key]

    def look(self) -> list[Weighed]:
        """Return the causes that together make the evidence most probable."""
        chosen: list[Weighed] = []
        seen: set[frozenset[tuple[object, ...]]] = set()
        while len(chosen) < _MOST:
            found = self.weighed(self.given(chosen))
            if not found or found[0].odds < log(_TAKE):
                break
            chosen = self._exchanged([*chosen, found[0]])
            state = frozenset(one.proposal.name for one in chosen)
            if state in seen:
                break
            seen.add(state)
        return self._as_one(chosen)

    def _as_one(self, chosen: list[Weighed]) -> list[Weighed]:
        """Put one cause in the place of two of a family, where it makes the evidence more probable than both."""
        for i, j in combinations(range(len(chosen)), 2):
            one, other = chosen[i], chosen[j]
            if one.proposal.family != other.proposal.family or one.proposal.family not in _OFTEN_ONE:
                continue
            rest = [w for k, w in enumerate(chosen) if k not in (i, j)]
            alone = self.weighed(self.given(rest))
            first = next((w for w in alone if w.proposal.name == one.proposal.name), None)
            if alone and first is not None and alone[0].odds > first.odds + other.odds and alone[0] is not first:
                return self._as_one(self._exchanged([*rest, alone[0]]))
        return chosen

    def told(self, chosen: Sequence[Weighed]) -> list[Slot]:
        """Return each cause with its rivals and shares, surest first; and what faintly competes beside them."""
        rest = self.weighed(self.given(chosen))
        faint = {w.proposal.name: w.odds for w in rest}
        slots = [self._slot(chosen, k, faint) for k in range(len(chosen))]
        if rest:
            slots.append(_slot_of(rest[0], rest))
        slots.sort(key=lambda slot: -max(slot.shares, default=0.0))
        return slots

    def given(self, chosen: Sequence[Weighed]) -> Given:
        """Return what the case says once causes are taken as true."""
        return Given(self.case, [taken for one in chosen for taken in (self.taken(one), *self._loose(one))])

    def _loose(self, one: Weighed) -> list[Taken]:
        """Return how far the work and assays that a large error touches may be off what first order says."""
        key = one.proposal.name
        if key not in self._loosened:
            p, theta = one.proposal, one.theta
            relative = abs(theta) / p.most * p.relative if p.theta is None else p.relative
            self._loosened[key] = [
                Taken(self.case, {i: 1.0}, 0.0, abs(theta * c) * relative)
                for i, c in p.direction.items()
                if i in self.case.place
                and self.case.components[i].kind in ("work", "revaluation")
                and abs(theta * c) * relative > self.case.sigma(i)
            ]
        return self._loosened[key]

    def _exchanged(self, chosen: list[Weighed]) -> list[Weighed]:
        """Try again each cause that the last one speaks to, given the others: keep it, exchange it, or drop it."""
        waiting = self._touched(chosen, len(chosen) - 1)
        for _ in range(_ROUNDS * len(chosen)):
            if not waiting:
                break
            k = waiting.pop(0)
            others = chosen[:k] + chosen[k + 1 :]
            found = self.weighed(self.given(others))
            if not found or found[0].odds < log(_TAKE):
                chosen, waiting = others, [i - (i > k) for i in waiting]
                continue
            changed = found[0].proposal.name != chosen[k].proposal.name
            chosen = [*others[:k], found[0], *others[k:]]
            if changed:
                waiting += [i for i in self._touched(chosen, k) if i not in waiting]
        return chosen

    def _touched(self, chosen: Sequence[Weighed], k: int) -> list[int]:
        new = self.taken(chosen[k])
        found = []
        for i, one in enumerate(chosen):
            if i != k:
                old = self.taken(one)
                gram = float(old.vector @ new.solved)
                size = float(old.vector @ old.solved) * float(new.vector @ new.solved)
                if gram * gram > _SPEAKS * size:
                    found.append(i)
        return found

    def _slot(self, chosen: Sequence[Weighed], k: int, faint: Mapping[tuple[object, ...], float]) -> Slot:
        without = self.weighed(self.given([*chosen[:k], *chosen[k + 1 :]]))
        rivals = [
            w
            for w in without
            if w.odds - faint.get(w.proposal.name, log(_FAINT)) > _COMPETES
            or w.proposal.name == chosen[k].proposal.name
        ]
        return _slot_of(rivals[0] if rivals else chosen[k], rivals or [chosen[k]])


def _slot_of(best: Weighed, rivals: list[Weighed]) -> Slot:
    most = max(w.odds for w in rivals)
    sum_ = sum(exp(w.odds - most) for w in rivals)
    whole = most + log(sum_)  # log odds that any of them is there
    chance = exp(-(whole + log1p(exp(-whole)))) if whole > -700 else 1.0
    there = 1 - chance
    return Slot(best, rivals, [there * exp(w.odds - most) / sum_ for w in rivals], chance)


def _weigh(p: Proposal, b: float, q: float) -> Weighed | None:
    if q <= 0:
        return None
    if p.theta is not None:
        return Weighed(p, log(p.prior) + known(p.theta, b, q, p.give), p.theta, p.give, q)
    gain = 0.5 * b * b / q
    if gain + log(p.prior) < log(_FAINT):
        return None
    theta, sd = size(b, q, p.most)
    if (p.way and theta * p.way < 0) or abs(b / q) > _FAR_OUT * p.most:
        return None
    return Weighed(p, log(p.prior) + float(np.squeeze(free(b, q, p.least, p.most, p.way))), theta, sd, q)


def _once_each(found: Sequence[Weighed]) -> list[Weighed]:
    """Return the proposals without those of the same family and tickets that a better one stands for."""
    seen: set[tuple[object, ...]] = set()
    kept = []
    for one in found:
        p = one.proposal
        many = "scale" in p.what or p.family == "substituted"  # one for each day: the best stands for all
        key = (p.family, p.what.get("scale"), p.lots) if many else (p.family, p.name)
        if key not in seen:
            seen.add(key)
            kept.append(one)
    return kept
