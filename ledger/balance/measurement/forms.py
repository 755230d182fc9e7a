"""Linear forms over error sources, and the sums that carry them.

To first order every content, fineness and balance of the book is a linear form in its error sources (JCGM 100:2008,
5.1.2). A form holds coefficients by reference: a source (negative) or a node (from 0 on), a form of earlier ones. So
what many quantities share is written once; the way back from a balance to its sources multiplies the coefficients
along (reverse accumulation of derivatives, the chain rule).
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from heapq import heapify, heappop, heappush
from math import fsum, sqrt
from typing import Final, NamedTuple

#: Coefficient by reference.
Form = dict[int, float]

#: A form of more terms than this is kept as a node of its own.
_SHORT: Final = 8


class Source(NamedTuple):
    """One independent random quantity of mean zero: what sort it is, of which instrument or operation, its variance.

    ``kind``: reading, sensitivity, tare, moisture, measured, nominal, estimated, bias, settlement, spread, drift or
    recoverable. ``of``: the scale, container, method, party or operation, "" where there is none. ``variance`` in the
    square of the source's own unit: ng² of a reading or tare, otherwise pure numbers. ``ticket``, ``line``, ``metal``:
    where it entered, for one that is not shared.
    """

    kind: str
    of: str
    variance: float
    ticket: str = ""
    line: int = 0
    metal: str = ""


class Tape:
    """All sources and nodes of one pass over the book, in the order of making."""

    def __init__(self) -> None:
        self.sources: list[Source] = []
        self.variances: list[float] = []
        self.keys: dict[Hashable, int] = {}
        self.nodes: list[Form] = []

    def shared(self, key: Hashable, make: Callable[[], Source]) -> int:
        """Return the reference of the source of that key, made when first asked for."""
        reference = self.keys.get(key)
        if reference is None:
            reference = self.keys[key] = self.single(make())
        return reference

    def single(self, source: Source) -> int:
        """Return the reference of a source that nothing else will ask for."""
        self.sources.append(source)
        self.variances.append(source.variance)
        return -len(self.sources)

    def node(self, form: Form) -> Form:
        """Keep a form as a node; returns the form that names it."""
        self.nodes.append(form)
        return {len(self.nodes) - 1: 1.0}

    def short(self, form: Form) -> Form:
        """Return the form itself, or a node in its place where it has many terms."""
        return form if len(form) <= _SHORT else self.node(form)

    def added(self, one: Form, other: Form, times: float) -> Form:
        """Return one + times × other, short."""
        if not other or not times:
            return one if len(one) <= _SHORT else self.node(one)
        total = one.copy()
        known = total.get
        for reference, coefficient in other.items():
            total[reference] = known(reference, 0.0) + coefficient * times
        return total if len(total) <= _SHORT else self.node(total)

    def source(self, reference: int) -> Source:
        """Return the source of a negative reference."""
        return self.sources[~reference]

    def rows(self, outputs: Sequence[Mapping[int, float]]) -> list[Form]:
        """Return each output as a form in sources alone: the rows of the matrix S, in one walk back."""
        found: list[Form] = [{} for _ in outputs]
        weights: dict[int, Form] = {}
        for row, output in enumerate(outputs):
            for reference, coefficient in output.items():
                if reference < 0:
                    found[row][reference] = found[row].get(reference, 0.0) + coefficient
                else:
                    weights.setdefault(reference, {})[row] = coefficient
        waiting = [-node for node in weights]
        heapify(waiting)
        while waiting:
            node = -heappop(waiting)
            on = weights.pop(node).items()
            for reference, coefficient in self.nodes[node].items():
                if reference < 0:
                    for row, weight in on:
                        form = found[row]
                        form[reference] = form.get(reference, 0.0) + coefficient * weight
                elif (into := weights.get(reference)) is not None:
                    for row, weight in on:
                        into[row] = into.get(row, 0.0) + coefficient * weight
                else:
                    weights[reference] = {row: coefficient * weight for row, weight in on}
                    heappush(waiting, -reference)
        return found

    def row(self, output: Mapping[int, float]) -> Form:
        """Return one output as a form in sources alone."""
        return self.rows([output])[0]

    def variance(self, row: Mapping[int, float], without: Iterable[str] = ()) -> float:
        """Return Σ c²·var over a row's sources, leaving out some kinds."""
        left_out, sources, variances = frozenset(without), self.sources, self.variances
        if not left_out:
            return fsum([c * c * variances[~r] for r, c in row.items()])
        return fsum([c * c * variances[~r] for r, c in row.items() if sources[~r].kind not in left_out])

    def sigma(self, output: Mapping[int, float], without: Iterable[str] = ()) -> float:
        """Return the standard deviation of one output."""
        return sqrt(self.variance(self.row(output), without))


def add(into: Form, form: Mapping[int, float], times: float = 1.0) -> None:
    """Add a multiple of a form to another, in place."""
    known = into.get
    for reference, coefficient in form.items():
        into[reference] = known(reference, 0.0) + coefficient * times


def scaled_sum(one: Form, by: float, other: Form, times: float) -> Form:
    """Return by × one + times × other."""
    total = {reference: coefficient * by for reference, coefficient in one.items()} if by else {}
    if times:
        add(total, other, times)
    return total


def combined(parts: Iterable[tuple[Mapping[int, float], float]]) -> Form:
    """Return Σ times × form."""
    total: Form = {}
    for form, times in parts:
        if not times:
            continue
        if not total:
            total = dict(form) if times == 1.0 else {r: c * times for r, c in form.items()}
            continue
        known = total.get
        for reference, coefficient in form.items():
            total[reference] = known(reference, 0.0) + coefficient * times
    return total
