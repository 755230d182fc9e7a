"""The rates of work tickets, read from the book: what each lost ÷ what was put in, with its form in the error sources.

Only counted months speak: the ticket's area had an ended count in it. A job counts once, at `done`; a `content`
operation loses fine metal when its output is first assayed. Reversed tickets are out, corrections in.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ledger.balance.flows.evidence import Weighing, first_assays, lines_of, lines_of_jobs, weighings_as_dated
from ledger.balance.flows.normal_loss import expectation, jobs_done
from ledger.balance.measurement.forms import Form, add
from ledger.balance.months.month import Ledger, Month
from ledger.plant.setup import Setup


@dataclass(frozen=True, slots=True)
class Material:
    """What a rate can be stated for beside an operation: an alloy or a class; neither is any material."""

    alloy: str | None = None
    class_: str | None = None

    @property
    def code(self) -> str:
        """The code of the alloy or class."""
        return self.alloy or self.class_ or ""


ANY = Material()


@dataclass(frozen=True, slots=True)
class TicketRate:
    """One work ticket, or one job: ``put_in`` and ``lost`` in ng of one metal, with the form of what was lost.

    ``expected``: what the rates of its day allow, None where it is unrated; ``spread`` and ``drift`` likewise, in ng.
    ``stated_for``: the [[rate]] that all its metal falls under; ``material``: what all of it is. None: of several.
    """

    ticket: str
    operation: str
    area: str
    period: str
    put_in: int
    lost: float
    form: Form
    expected: int | None
    spread: float
    drift: float
    stated_for: Material | None
    material: Material | None


def ticket_rates(ledger: Ledger, periods: Sequence[str]) -> list[TicketRate]:
    """Return the rates of every ticket of the counted months that had some of the metal put in, by date of month."""
    return [rate for period in periods for rate in _of_month(ledger, ledger.month(period)) if rate.put_in > 0]


def _of_month(ledger: Ledger, month: Month) -> Iterator[TicketRate]:
    """Yield a month's tickets and jobs as the book knows them now, whatever was known when the month was closed."""
    metal, bounds = ledger.index, (month.start, month.end)
    counted = {area.code for area in month.setup.area if month.counted(area.code)}
    lines = weighings_as_dated(ledger.connection, month.period, bounds)
    by_ticket: dict[int, list[Weighing]] = {}
    for line in lines:
        if line.kind == "work" and line.job is None and line.side in ("in", "out"):
            by_ticket.setdefault(line.ticket, []).append(line)
    done = jobs_done(ledger.connection, ledger.setups, bounds, lines, ledger.metals, metal)
    for ticket, own in [*by_ticket.items(), *((a.ticket, job) for job, a in done)]:
        struck = ledger.measured.own.get(ticket)
        inputs = [line for line in own if line.side == "in"]
        if struck and inputs and inputs[0].area in counted and not (metal and _by_assay(ledger, inputs[0])):
            lost = sum(line.content[metal] * _SIGN.get(line.side, 0) for line in own)
            number = next(line.number for line in own if line.ticket == ticket)
            yield _rate(ledger, month.period, number, inputs, lost, struck.forms[metal])
    if metal:
        yield from _assayed(ledger, month, counted)


_SIGN = {"in": 1, "out": -1}


def _by_assay(ledger: Ledger, line: Weighing) -> bool:
    return ledger.setups.at(line.instant).operations[line.operation or ""].composition == "content"


def _rate(
    ledger: Ledger, period: str, number: str, inputs: Sequence[Weighing], lost: float, form: Form
) -> TicketRate:  # fmt: skip
    metal, first = ledger.index, inputs[0]
    expected = expectation(ledger.setups, inputs, ledger.metals)
    loss = expected.loss[metal]
    return TicketRate(
        number, first.operation or "", first.area, period, sum(line.content[metal] for line in inputs), lost, form,
        None if loss is None else round(loss), float(expected.spread[metal]), float(expected.drift[metal]),
        *_materials(ledger.setup, inputs, metal, ledger.metal),
    )  # fmt: skip


def _materials(
    setup: Setup, inputs: Sequence[Weighing], metal: int, name: str
) -> tuple[Material | None, Material | None]:  # fmt: skip
    """Return the one [[rate]] and the one material of all inputs that hold the metal; None where they are several."""
    holding = [line for line in inputs if line.content[metal]]
    stated = {_stated_for(setup, line, name) for line in holding}
    known = {Material(line.alloy, None) if line.alloy else Material(None, line.class_) for line in holding}
    return stated.pop() if len(stated) == 1 else None, known.pop() if len(known) == 1 else None


def _stated_for(setup: Setup, line: Weighing, metal: str) -> Material:
    """Return for which material the input's rate in this metal is stated; a class goes before its alloy."""
    alloy = line.alloy
    if alloy is None and line.class_ in setup.classes:
        alloy = setup.classes[line.class_].alloy
    for rate in sorted(setup.rate, key=lambda rate: rate.class_ is None):
        of_this = (rate.class_ or "") == line.class_ or (rate.class_ is None and alloy and rate.alloy == alloy)
        if rate.operation == line.operation and of_this and metal in {**rate.loss, **rate.each}:
            return Material(rate.alloy, rate.class_)
    return ANY


def _assayed(ledger: Ledger, month: Month, counted: set[str]) -> Iterator[TicketRate]:
    """Yield the `content` work, a job as one, whose output was first assayed in a month.

    What stood of it then speaks for all of it: by the part of its recorded content that the assay did not find again.
    """
    first = first_assays(ledger.connection, month.period, (month.start, month.end))
    work = lines_of(ledger.connection, first)
    jobs = lines_of_jobs(ledger.connection, [line.job for line in work if line.job is not None], month.end)
    inputs: dict[int, list[Weighing]] = {}
    for line in [line for line in work if line.job is None] + jobs:
        if line.side == "in" and line.area in counted:
            inputs.setdefault(line.job or line.ticket, []).append(line)
    one = {line.ticket: line.job or line.ticket for line in work}
    found: dict[int, list[Weighing]] = {}
    for made, line in _first_found(ledger.connection, first):
        if one.get(made) in inputs:
            found.setdefault(one[made], []).append(line)
    for made, lines in found.items():
        rate = _by_assays(ledger, month.period, inputs[made], lines)
        if rate is not None:
            yield rate


_ASSAYS = """
    SELECT d.ticket, v.ticket, v.lot FROM determination AS d
    JOIN valuation AS b ON b.determination = d.id AND b.awaiting IS NOT NULL
    JOIN valuation AS v ON v.lot = b.lot AND b.id = (SELECT max(id) FROM valuation WHERE lot = v.lot AND id < v.id)
    JOIN ticket AS t ON t.seq = v.ticket AND t.kind = 'assay'
    WHERE d.ticket IN (SELECT value FROM json_each(?))
    AND NOT EXISTS (SELECT 1 FROM ticket AS r WHERE r.reverses = t.seq)
    ORDER BY d.ticket, t.instant, t.seq, v.id"""


def _first_found(connection: sqlite3.Connection, made: Sequence[int]) -> Iterator[tuple[int, Weighing]]:
    """Yield each work ticket with the lines of the assay that was the first of its output."""
    assays: dict[int, tuple[int, set[int]]] = {}
    for ticket, assay, lot in connection.execute(_ASSAYS, (json.dumps(list(made)),)):
        first, lots = assays.setdefault(ticket, (assay, set()))
        if first == assay:
            lots.add(lot)
    by_ticket: dict[int, list[Weighing]] = {}
    for line in lines_of(connection, [assay for assay, _ in assays.values()]):
        by_ticket.setdefault(line.ticket, []).append(line)
    for ticket, (assay, lots) in assays.items():
        yield from ((ticket, line) for line in by_ticket.get(assay, ()) if line.side == "assay" and line.lot in lots)


def _by_assays(
    ledger: Ledger, period: str, inputs: Sequence[Weighing], lines: Sequence[Weighing]
) -> TicketRate | None:  # fmt: skip
    metal = ledger.index
    recorded = sum((line.recorded or line.content)[metal] for line in lines)
    put_in = sum(line.content[metal] for line in inputs)
    if not recorded:
        return None
    whole, form = put_in / recorded, Form()
    for line in lines:
        for residual in ledger.measured.of_line.get((line.ticket, line.line), ()):
            if residual.kind == "revaluation":
                add(form, residual.content.forms[metal], whole)
    if not form:
        return None
    lost = (recorded - sum(line.content[metal] for line in lines)) * whole
    return _rate(ledger, period, inputs[-1].number, inputs, lost, form)
