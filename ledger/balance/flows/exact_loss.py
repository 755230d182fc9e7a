"""E of work tickets in whole numbers: the rule is asked once for each material, not for each ticket.

E is linear in what was weighed in, unless its fixed part follows from another metal's, or what wears off from the lot
itself: for those tickets the rule is asked one by one. Either way it is exact.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import lcm
from typing import NamedTuple

from ledger.balance.flows.evidence import Weighing
from ledger.book.amounts import Composition, composition_of
from ledger.book.expected import ExpectedIn, Worked, expected_loss_in
from ledger.book.setups import Setups
from ledger.book.stored import composition_from
from ledger.plant.process import Operation
from ledger.plant.setup import Setup
from ledger.quantities.rounding import half_even


class Loss(NamedTuple):
    """E in one metal and what of it becomes dust, rounded to the nanogram, with its standard deviations."""

    allowed: int | None
    accrued: int
    spread: float
    drift: float


class _Slopes(NamedTuple):
    """E of one material: ``fixed``, and of a nanogram of each metal weighed in that it goes with, by its place.

    Each are numerators of loss, recoverable dust, spread and drift, over one ``denominator``.
    """

    denominator: int
    fixed: Sequence[int]
    by_metal: Sequence[tuple[int, Sequence[int]]]


class Rule:
    """What the set-ups state of normal loss, asked in one metal; ``metal``: its place in the book's order."""

    def __init__(self, setups: Setups, metals: tuple[str, ...], metal: int) -> None:
        self.setups = setups
        self.metals = metals
        self.metal = metal
        self._slopes: dict[tuple[object, ...], _Slopes | None] = {}

    def of(self, inputs: Sequence[Weighing]) -> Loss:
        """Return E of a ticket or job from its input lines, at the rates in force on the first one's date."""
        setup, operation = in_force(self.setups, inputs[0])
        parts: list[tuple[_Slopes, Sequence[int]]] = []
        for line in inputs:
            slopes = self._slopes_of(setup, operation, line)
            if slopes is None:
                return _rounded(self._ask(setup, operation, [worked(operation, each) for each in inputs]))
            parts.append((slopes, line.content))
        return _loss(parts)

    def fixed(self, inputs: Sequence[Weighing]) -> Loss:
        """Return the part of E that does not depend on how much went in."""
        return self.of([line._replace(content=[0] * len(self.metals)) for line in inputs])

    def _slopes_of(self, setup: Setup, operation: Operation, line: Weighing) -> _Slopes | None:
        surface = line.layer if operation.composition == "surface" else None
        key = (id(setup), operation.code, line.alloy, line.class_, surface)
        if key not in self._slopes:
            self._slopes[key] = self._asked(setup, operation, line)
        return self._slopes[key]

    def _asked(self, setup: Setup, operation: Operation, line: Weighing) -> _Slopes | None:
        """Return what the rule says of nothing, and of a nanogram of each metal; None where E is not linear."""
        if operation.composition == "surface" and not line.layer:
            return None
        none, size = [0] * len(self.metals), len(self.metals)
        one = worked(operation, line._replace(content=none))
        asked = [self._ask(setup, operation, [one._replace(weighed=none)])]
        asked += [
            self._ask(setup, operation, [one._replace(weighed=[int(i == k) for i in range(size)])]) for k in range(size)
        ]
        if any(each.loss is None for each in asked):
            return None
        figures = [(each.loss or Fraction(0), each.recoverable, each.spread, each.drift) for each in asked]
        fixed = figures[0]
        by_metal = [[x - y for x, y in zip(each, fixed, strict=True)] for each in figures[1:]]
        denominator = lcm(*(x.denominator for each in (fixed, *by_metal) for x in each))
        whole = [[int(x * denominator) for x in each] for each in (fixed, *by_metal)]
        return _Slopes(denominator, whole[0], [(k, each) for k, each in enumerate(whole[1:]) if any(each)])

    def _ask(self, setup: Setup, operation: Operation, inputs: Sequence[Worked]) -> ExpectedIn:
        return expected_loss_in(setup, operation, inputs, self.metals, self.metal)


def in_force(setups: Setups, line: Weighing) -> tuple[Setup, Operation]:
    """Return the set-up on a work line's date, and its operation in it."""
    setup = setups.at(line.instant)
    return setup, setup.operations[line.operation or ""]


def worked(operation: Operation, line: Weighing) -> Worked:
    """Return an input as the rule asks for it; what wears off only where anything does."""
    surface: Composition = ()
    if operation.composition == "surface":
        surface = composition_from(line.layer) if line.layer else composition_of(line.content)
    return Worked(line.content, line.alloy, line.class_, surface)


def _rounded(expected: ExpectedIn) -> Loss:
    loss = expected.loss
    return Loss(None if loss is None else round(loss), round(expected.recoverable), float(expected.spread),
                float(expected.drift))  # fmt: skip


def _loss(parts: Sequence[tuple[_Slopes, Sequence[int]]]) -> Loss:
    """Return E of inputs, each by its own slopes; what is fixed is the first one's."""
    denominator = lcm(*(slopes.denominator for slopes, _ in parts))
    first = parts[0][0]
    sums = [x * (denominator // first.denominator) for x in first.fixed]
    for slopes, content in parts:
        times = denominator // slopes.denominator
        for metal, each in slopes.by_metal:
            ng = content[metal] * times
            sums = [x + ng * slope for x, slope in zip(sums, each, strict=True)]
    loss, dust, spread, drift = sums
    return Loss(half_even(loss, denominator), half_even(dust, denominator), spread / denominator, drift / denominator)
