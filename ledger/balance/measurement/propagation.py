"""The book's arithmetic once more, with derivatives: one pass over the effective tickets, in order.

What the posting modules do with amounts is done here with contents and their forms, so that every difference comes out
as a linear form in the error sources: what goes in and comes out under one determination cancels, what shares a scale
adds up. See docs/methods.md.
"""

from __future__ import annotations

import gc
import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, Final

from ledger.balance.measurement.contents import Content, weighed
from ledger.balance.measurement.counting import count
from ledger.balance.measurement.determinations import Determinations
from ledger.balance.measurement.effective import (
    LineOf,
    TicketOf,
    all_lots,
    calibrations,
    effective_tickets,
    iterate,
    take_on_counts,
)
from ledger.balance.measurement.forms import Tape
from ledger.balance.measurement.residuals import Residual
from ledger.balance.measurement.sources import Weighings
from ledger.balance.measurement.standings import Missed, Standings
from ledger.balance.measurement.taking import find, take
from ledger.balance.measurement.working import work
from ledger.book.setups import Setups

Document = Mapping[str, Any]


@dataclass(frozen=True)
class Pass:
    """What a pass found: residuals in order; by work ticket its own difference, whoever bears it, and E."""

    tape: Tape
    metals: Sequence[str]
    residuals: list[Residual]
    own: dict[int, Content]
    expected: dict[int, Content]
    of_area: dict[tuple[str, str], list[Residual]] = field(default_factory=dict)
    of_line: dict[tuple[int, int], list[Residual]] = field(default_factory=dict)


def propagate(connection: sqlite3.Connection, setups: Setups, until: int) -> Pass:
    """Return every difference struck before an instant, with its form."""
    metals = ("gross", *setups.latest.plant.metals)
    tape = Tape()
    state = Standings(
        tape, metals, all_lots(connection), Weighings(tape, setups, calibrations(connection)),
        Determinations(tape, setups, metals), take_on_counts=take_on_counts(connection),
    )  # fmt: skip
    with _no_collection():
        for ticket, lines in iterate(effective_tickets(connection, until)):
            step(state, ticket, lines)
    found = Pass(tape, metals, state.residuals, state.own, state.expected)
    for residual in state.residuals:
        found.of_area.setdefault((residual.area, residual.period), []).append(residual)
        found.of_line.setdefault((residual.ticket, residual.line), []).append(residual)
    return found


@contextmanager
def _no_collection() -> Iterator[None]:
    """Forms are many small objects without cycles: looking for cycles takes a third of the time and finds none."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


def step(state: Standings, ticket: TicketOf, lines: Sequence[Document]) -> None:
    """Take one ticket into the pass; ``lines`` are its own as read."""
    if ticket.kind == "work":
        work(state, ticket, lines)
    else:
        _STEPS[ticket.kind](state, ticket, lines)
    for valued in ticket.valued:
        state.origins[valued.lot] = valued.origin
        state.awaiting[valued.lot] = valued.awaiting


def _own(lines: Sequence[Document], line: LineOf) -> Document:
    return lines[line.number - 1] if 0 < line.number <= len(lines) else {}


def _receive(state: Standings, ticket: TicketOf, lines: Sequence[Document]) -> None:
    """Take-ons, receipts and sweeps: metal whose composition the line states, or which the book knows."""
    for line in ticket.lines:
        document = _own(lines, line)
        known = state.fineness.get(line.lot)
        if known is not None and ticket.document.get("terms") == "returned" and not _states(document):
            content, fineness = state.read(ticket, line, document, known), known
        else:
            content, fineness = state.stated(ticket, line, document)
        state.put_down(line.area, line.lot, content, fineness)
        if line.given is not None:
            less = _declared(line, document, content, fineness).minus(content, state.tape)
            state.strike(ticket, line.area, "transfer", less, line=line.number, lot=line.lot)


def _states(document: Document) -> bool:
    return any(name in document for name in ("fineness", "content", "alloy", "clad"))


def _declared(line: LineOf, document: Document, content: Content, fineness: Content) -> Content:
    """Return V: a list's mass and fineness are what somebody said, without error of ours."""
    assert line.given is not None
    given = line.given
    if "declared_mass" not in document and "declared_fineness" not in document:
        return content
    mass_form = {} if "declared_mass" in document else content.forms[0]
    if "declared_fineness" in document:
        mass = given[0] or 1
        fineness = Content.exact([x / mass for x in given])
    return weighed(float(given[0]), mass_form, fineness)


def _move(state: Standings, ticket: TicketOf, lines: Sequence[Document]) -> None:
    out: dict[int, tuple[Content, Content]] = {}
    for line in ticket.lines:
        document = _own(lines, line)
        if find(state, ticket, line):
            continue
        if line.side == "out":
            taken = take(state, ticket, line, document)
            out[line.number] = taken.weighed, taken.fineness
            if ticket.document.get("in_transit"):
                state.sent[ticket.number, line.lot] = (line.area, taken.weighed, taken.fineness)
        elif line.side == "in":
            sent, fineness = out[line.number]
            arrived = sent
            if line.weighed_ng is not None:
                form = state.weighings.received(
                    ticket.number, line.number, ticket.instant, line.scale, line.weighed_ng
                )
                arrived = weighed(float(line.weighed_ng), form, fineness)
                difference = sent.minus(arrived, state.tape)
                state.strike(ticket, line.area, "transfer", difference, line=line.number, lot=line.lot)
            state.put(line.area, line.lot, arrived)


def _arrive(state: Standings, ticket: TicketOf, lines: Sequence[Document]) -> None:
    for line in ticket.lines:
        key = (ticket.document.get("of", ""), line.lot)
        if line.side != "in" or key not in state.sent:
            continue
        _, sent, fineness = state.sent.pop(key)
        arrived = sent
        if line.weighed_ng is not None:
            if state.lots[line.lot].kind != "bin":
                fineness = state.fineness.get(line.lot, fineness)
            arrived = state.read(ticket, line, _own(lines, line), fineness)
            difference = sent.minus(arrived, state.tape)
            state.strike(ticket, line.area, "transfer", difference, line=line.number, lot=line.lot)
        if line.weighed_ng == 0:
            state.missed[line.area, line.lot] = Missed(sent, ticket.period)
        else:
            state.put(line.area, line.lot, arrived)


def _ship(state: Standings, ticket: TicketOf, lines: Sequence[Document]) -> None:
    for line in ticket.lines:
        if not find(state, ticket, line) and line.side == "out":
            take(state, ticket, line, _own(lines, line))


def _discard(state: Standings, ticket: TicketOf, lines: Sequence[Document]) -> None:
    """R − M: what was recorded, less what was thrown away by assay."""
    for line in ticket.lines:
        if find(state, ticket, line) or line.side != "out":
            continue
        document = _own(lines, line)
        shares = state.origins.get(line.lot, {})
        taken = take(state, ticket, line, document, reweigh=False)
        mass, form = taken.weighed.values[0], taken.weighed.forms[0]
        given = line.given or line.content
        values = [1.0, *(x / (mass or 1) for x in given[1:])]
        known = state.determinations
        if "results" in document:
            fineness = known.found(
                ticket.number, line.number, ticket.instant, document, values, taken.fineness, mass, form
            )
        elif "content" in document:
            fineness = known.stated(ticket.number, line.number, ticket.instant, document, values, mass, form)
        else:
            fineness = taken.fineness
        rest = taken.recorded.minus(weighed(mass, form, fineness), state.tape)
        state.strike_by_origin(ticket, line.area, "revaluation", rest, shares, line=line.number, lot=line.lot)


def _settle(state: Standings, ticket: TicketOf, lines: Sequence[Document]) -> None:
    """R − A: what was recorded, less what was agreed with the refiner."""
    for line in ticket.lines:
        if find(state, ticket, line) or line.side != "out":
            continue
        shares = state.origins.get(line.lot, {})
        recorded = state.empty(line.area, line.lot)
        agreed = line.given or line.content
        form = state.weighings.mass(
            ticket.number, line.number, ticket.instant, _received(_own(lines, line)), None, agreed[0]
        )
        party = ticket.document.get("party", "")
        content = state.determinations.agreed(ticket.number, line.number, party, [float(x) for x in agreed], form)
        rest = recorded.minus(content, state.tape)
        state.strike_by_origin(ticket, line.area, "revaluation", rest, shares, line=line.number, lot=line.lot)


def _received(document: Document) -> Document:
    """Return how a refiner's mass was read; it is his reading, net."""
    return {name: document[name] for name in ("moisture", "metallic") if name in document}


def _assay(state: Standings, ticket: TicketOf, lines: Sequence[Document]) -> None:
    """Revalue lots where they stand and on their way: what was recorded, less mass × the new fineness."""
    made: Content | None = None
    seen: set[tuple[str, int]] = set()
    for line in ticket.lines:
        key = (line.area, line.lot)
        way = None
        if key in seen or (key not in state.stands and line.side == "assay"):
            way = next((k for k, v in state.sent.items() if k[1] == line.lot and v[0] == line.area), None)
            if way is None:
                continue
        seen.add(key)
        stands = state.sent[way][1] if way else state.at(*key)
        if made is None:
            made = _determined(state, ticket, line, stands)
        after = weighed(stands.values[0], stands.forms[0], made)
        bearer = state.awaiting.get(line.lot) or line.area
        rest = stands.minus(after, state.tape)
        shares = state.origins.get(line.lot, {})
        state.strike_by_origin(ticket, bearer, "revaluation", rest, shares, line=line.number, lot=line.lot)
        if way:
            state.sent[way] = (state.sent[way][0], after, made)
        else:
            state.stands[key] = after
        state.fineness[line.lot] = made


def _determined(state: Standings, ticket: TicketOf, line: LineOf, stands: Content) -> Content:
    mass = line.content[0] or 1
    values = [1.0, *(x / mass for x in line.content[1:])]
    before = state.fineness_of(line.lot, line.area, line)
    return state.determinations.found(
        ticket.number, line.number, ticket.instant, ticket.document, values, before, stands.values[0], stands.forms[0]
    )


_STEPS: Final[dict[str, Callable[[Standings, TicketOf, Sequence[Document]], None]]] = {
    "open": _receive,
    "receive": _receive,
    "sweep": _receive,
    "move": _move,
    "arrive": _arrive,
    "ship": _ship,
    "discard": _discard,
    "settle": _settle,
    "assay": _assay,
    "count": count,
}
