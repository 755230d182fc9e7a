"""What goes into an area's dust and out of it, each with its form: what H is made of; see `dust`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from ledger.balance.measurement.contents import Content
from ledger.balance.measurement.forms import Tape


class DustMove(NamedTuple):
    """One posting to an area's dust by a take-on, a sweep, or a true-up: + where dust is added; ng by metal."""

    ticket: int
    area: str
    period: str
    instant: int
    content: Content


@dataclass(frozen=True, slots=True)
class Accrual:
    """The dust that a work ticket's loss makes by expectation, its share part, and what moves with it; ng by metal.

    ``of_q``: by how much one standard deviation of the recoverable share moves it; ``spread``, ``drift``: the dust in
    one standard deviation of the loss from ticket to ticket and from month to month. ``ratio``: standard deviation of
    the recoverable share ÷ the share, for the fixed part.
    """

    content: Content
    of_q: Sequence[float]
    spread: Sequence[float]
    drift: Sequence[float]
    ratio: float

    def part(self, put_out: Content, put_in: Sequence[float]) -> Accrual:
        """Return what has accrued when ``put_out`` of ``put_in`` has come out: the same share of all of it."""
        out = [min(o / i, 1.0) if i else 0.0 for o, i in zip(put_out.values, put_in, strict=True)]
        rate = [min(a / i, 1.0) if i else 0.0 for a, i in zip(self.content.values, put_in, strict=True)]
        of_q, spread, drift = (
            [x * s for x, s in zip(each, out, strict=True)] for each in (self.of_q, self.spread, self.drift)
        )
        return Accrual(put_out.part(rate), of_q, spread, drift, self.ratio)

    def minus(self, before: Accrual, tape: Tape) -> Accrual:
        """Return what it grew by."""
        of_q, spread, drift = (
            [x - y for x, y in zip(now, then, strict=True)]
            for now, then in ((self.of_q, before.of_q), (self.spread, before.spread), (self.drift, before.drift))
        )
        return Accrual(self.content.minus(before.content, tape), of_q, spread, drift, self.ratio)
