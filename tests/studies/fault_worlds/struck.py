"""What a book's tickets struck as single differences, each with its form: what a fault's size is measured against."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import sqrt
from typing import Any

import numpy as np

from ledger.balance.flows.normal_loss import Allowance, jobs_done
from ledger.balance.measurement.covariance import normal_loss
from ledger.balance.measurement.forms import Form, add
from ledger.balance.measurement.propagation import Pass, propagate
from ledger.balance.months.month import Ledger, Month
from ledger.book.setups import Setups

METALS = ("gross", "gold", "silver")
_EVER = 2**62
#: A single nanogram is no difference.
_NOTHING = 1.0


@dataclass(frozen=True, slots=True)
class Struck:
    """One difference, ng by metal, gross first, σ, and its rows in sources; of work its own less its normal loss."""

    number: str
    line: int
    kind: str
    area: str
    lot: str
    operation: str
    values: tuple[float, ...]
    sigmas: tuple[float, ...]
    rows: tuple[Form, ...]

    @property
    def key(self) -> tuple[str, int, str, str]:
        """What it is known by on its ticket."""
        return self.kind, self.line, self.area, self.lot

    @property
    def coordinates(self) -> tuple[int, ...]:
        """The metals in which it says something of its own."""
        if self.kind == "revaluation":
            return tuple(i for i in (1, 2) if self.sigmas[i] > _NOTHING)
        if self.kind != "work" or self.operation in ("ANNEALING", "SCRAP-MELT"):
            return (0,) if self.sigmas[0] > _NOTHING else ()
        return next(((i,) for i in (1, 2, 0) if self.sigmas[i] > _NOTHING), ())

    def multiples(self, values: Sequence[float]) -> float:
        """Return by how many σ other values lie from it, in the metal that says most."""
        pairs = zip(self.values, values, self.sigmas, strict=True)
        return max((abs(b - a) / s for a, b, s in pairs if s > _NOTHING), default=0.0)


class Differences:
    """All that a book struck in some periods and after, by the number of its tickets."""

    def __init__(self, connection: sqlite3.Connection, periods: Sequence[str]) -> None:
        self.connection = connection
        self.periods = periods
        self.measured: Pass = propagate(connection, Setups.read(connection), _EVER)
        self._months = [[Ledger(connection, metal).month(p) for metal in METALS] for p in periods]
        self.all = sorted([*self._single(), *self._work()], key=lambda s: s.number)

    @cached_property
    def _of(self) -> dict[tuple[str, int], list[Struck]]:
        found: dict[tuple[str, int], list[Struck]] = {}
        for one in self.all:
            found.setdefault((one.number, 0 if one.kind == "work" else one.line), []).append(one)
        return found

    def of_line(self, number: str, line: int) -> list[Struck]:
        """Return what one line struck; line 0: a work ticket's or job's own."""
        return self._of.get((number, line), [])

    def next_of(self, area: str, lot: str, after: str) -> Struck | None:
        """Return the next difference struck as a lot in an area was weighed whole, after a ticket."""
        return next((o for o in self._whole.get((area, lot), ()) if o.number > after), None)

    @cached_property
    def _whole(self) -> dict[tuple[str, str], list[Struck]]:
        found: dict[tuple[str, str], list[Struck]] = {}
        for one in self.all:
            if one.kind in ("reweighing", "count"):
                found.setdefault((one.area, one.lot), []).append(one)
        return found

    def deflection(self, changed: Mapping[int, Sequence[float]]) -> float:
        """Return √(ΔᵀΣ⁻¹Δ) of a change of values, by place in `all`: what the best test of just this change has."""
        places = [(k, i) for k, one in enumerate(self.all) for i in one.coordinates]
        change = np.array([changed[k][i] - self.all[k].values[i] if k in changed else 0.0 for k, i in places])
        sigma = np.array([self.all[k].sigmas[i] for k, i in places])
        sources = self._matrix([self.all[k].rows[i] for k, i in places]) / sigma[:, None]
        covariance = sources @ sources.T + 1e-6 * np.eye(len(places))
        scaled = change / sigma
        return sqrt(float(scaled @ np.linalg.solve(covariance, scaled)))

    def _matrix(self, rows: Sequence[Form]) -> Any:
        columns: dict[int, int] = {}
        for row in rows:
            for reference in row:
                columns.setdefault(reference, len(columns))
        matrix = np.zeros((len(rows), len(columns)))
        for at, row in enumerate(rows):
            for reference, coefficient in row.items():
                matrix[at, columns[reference]] = coefficient * self.measured.tape.source(reference).variance ** 0.5
        return matrix

    def _struck(
        self, said: tuple[str, int, str, str, str, str], values: Sequence[float], forms: Sequence[Form]
    ) -> Struck:
        tape = self.measured.tape
        rows = tuple(tape.rows(forms))
        return Struck(*said, tuple(values), tuple(tape.variance(row) ** 0.5 for row in rows), rows)

    def _single(self) -> Iterator[Struck]:
        lots = dict(self.connection.execute("SELECT id, number FROM lot"))
        losses = self._awaited()
        for r in self.measured.residuals:
            if r.kind == "work" or (r.kind == "take_on"):
                continue
            values, forms = list(r.content.values), [dict(form) for form in r.content.forms]
            if r.kind == "revaluation":
                for at, (allowance, period) in losses.pop(r.lot, {}).items():
                    values[at] -= allowance.allowed or 0
                    add(forms[at], normal_loss(self.measured, allowance, period, at))
            yield self._struck((r.number, r.line, r.kind, r.area, lots.get(r.lot, ""), ""), values, forms)

    def _awaited(self) -> dict[int | None, dict[int, tuple[Allowance, str]]]:
        """Return, by lot, the normal loss that its first assay shows."""
        found: dict[int | None, dict[int, tuple[Allowance, str]]] = {}
        for months in self._months:
            for at, month in enumerate(months[1:], 1):
                for allowance in month.allowances:
                    operation = month.setup.operations[allowance.operation]
                    if operation.composition == "content":
                        for (lot,) in self.connection.execute(_OUT, (allowance.ticket,)):
                            found.setdefault(lot, {})[at] = (allowance, month.period)
        return found

    def _work(self) -> Iterator[Struck]:
        for months in self._months:
            rated: dict[int, dict[int, Allowance]] = {}
            for at, month in enumerate(months):
                for allowance in _whole_allowances(month):
                    content = month.setup.operations[allowance.operation].composition == "content"
                    if allowance.allowed is not None and not (content and at):
                        rated.setdefault(allowance.ticket, {})[at] = allowance
            for ticket, own in rated.items():
                found = self.measured.own.get(ticket)
                if found is None:
                    continue
                values, forms = [0.0] * len(METALS), [Form() for _ in METALS]
                for at, allowance in own.items():
                    values[at] = found.values[at] - (allowance.allowed or 0)
                    forms[at] = normal_loss(self.measured, allowance, months[0].period, at)
                    add(forms[at], found.forms[at])
                any_ = next(iter(own.values()))
                yield self._struck((any_.number, 0, "work", any_.area, "", any_.operation), values, forms)


_OUT = "SELECT lot FROM line WHERE ticket = ? AND side = 'out'"


def _whole_allowances(month: Month) -> Iterator[Allowance]:
    """Yield normal loss by ticket, of a job the whole at its last."""
    yield from (allowance for allowance in month.allowances if allowance.job is None)
    ledger, bounds = month.ledger, (month.start, month.end)
    done = jobs_done(ledger.connection, ledger.setups, bounds, month.lines, ledger.metals, ledger.index)
    yield from (allowance for _, allowance in done)
