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
from fractions import Fraction
from typing import Any, Final

from ledger.balance.measurement.accruing import Accrual, DustMove
from ledger.balance.measurement.carrying import Document as Carried
from ledger.balance.measurement.carrying import restore
from ledger.balance.measurement.contents import Content, weighed
from ledger.balance.measurement.counting import count
from ledger.balance.measurement.determinations import Determinations
from ledger.balance.measurement.effective import (
    FIRST,
    LineOf,
    Lots,
    TicketOf,
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
from ledger.quantities.mass import decimal_text, parse_mass

Document = Mapping[str, Any]


@dataclass(frozen=True)
class Pass:
    """What a pass found: residuals in order; by work ticket its own difference, whoever bears it, E, and its dust.

    ``dust``: what take-ons, sweeps and true-ups did to an area's dust. ``state``: what stands at its end.
    """

    tape: Tape
    metals: Sequence[str]
    residuals: list[Residual]
    own: dict[int, Content]
    expected: dict[int, Content]
    accrued: dict[int, Accrual] = field(default_factory=dict)
    dust: list[DustMove] = field(default_factory=list)
    state: Standings | None = None
    of_area: dict[tuple[str, str], list[Residual]] = field(default_factory=dict)
    of_line: dict[tuple[int, int], list[Residual]] = field(default_factory=dict)
    dust_of: dict[tuple[str, str], list[DustMove]] = field(default_factory=dict)


def propagate(
    connection: sqlite3.Connection, setups: Setups, until: int, since: int = FIRST, begun: Carried | None = None,
    tickets: Sequence[TicketOf] | None = None,
) -> Pass:  # fmt: skip
    """Return every difference struck from an instant on and before another, with its form.

    ``begun``: the state at ``since``; without one the pass begins with the book. ``tickets``: the effective ones dated
    in between, where they are read already.
    """
    state = standings(connection, setups, until, since, begun, tickets)
    found = Pass(
        state.tape, state.metals, state.residuals, state.own, state.expected, state.accrued, state.dust, state
    )
    for residual in state.residuals:
        found.of_area.setdefault((residual.area, residual.period), []).append(residual)
        found.of_line.setdefault((residual.ticket, residual.line), []).append(residual)
    for move in state.dust:
        found.dust_of.setdefault((move.area, move.period), []).append(move)
    return found


def standings(
    connection: sqlite3.Connection, setups: Setups, until: int, since: int = FIRST, begun: Carried | None = None,
    tickets: Sequence[TicketOf] | None = None,
) -> Standings:  # fmt: skip
    """Return what stands of each lot in each place at an instant, and what was struck since another, with forms."""
    metals = ("gross", *setups.latest.plant.metals)
    tape = Tape()
    checked = calibrations(connection, until, since)
    for scale, instant in (begun["calibrated"] if begun else {}).items():
        checked[scale] = [instant, *checked.get(scale, ())]
    state = Standings(
        tape, metals, Lots(connection), Weighings(tape, setups, checked), Determinations(tape, setups, metals),
        take_on_counts=take_on_counts(connection, until, since),
    )  # fmt: skip
    with no_collection():
        if begun is not None:
            restore(begun, state)
        if tickets is None:
            tickets = effective_tickets(connection, until, since)
        state.lots.fetch({line.lot for ticket in tickets for line in ticket.written})
        state.late.update((ticket.seq, ticket.period) for ticket in tickets)
        state.late = _later(state.late, setups, until)
        for ticket, lines in iterate(tickets):
            step(state, ticket, lines)
    return state


def _later(periods: Mapping[int, str], setups: Setups, until: int) -> dict[int, str]:
    """Return the tickets that count in a period that begins at an instant or later: corrections of a closed one."""
    later = {code for code in set(periods.values()) if setups.calendar.bounds(code)[0] >= until}
    return {ticket: code for ticket, code in periods.items() if code in later} if later else {}


@contextmanager
def no_collection() -> Iterator[None]:
    """Forms are many small objects without cycles: looking for cycles takes a third of the time and finds none."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.freeze()  # all at once into the oldest generation: what was made here is not young any more
            gc.unfreeze()
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
        state.made_by[valued.lot] = valued.made_by


def _own(lines: Sequence[Document], line: LineOf) -> Document:
    return lines[line.number - 1] if 0 < line.number <= len(lines) else {}


def _open(state: Standings, ticket: TicketOf, lines: Sequence[Document]) -> None:
    """Take-ons: lots, and dust by a survey, which is an estimate."""
    _receive(state, ticket, lines)
    surveyed = ticket.document.get("dust") or {}
    if surveyed:
        values = [float(parse_mass(surveyed[m])) if m in surveyed else 0.0 for m in state.metals]
        content = state.determinations.surveyed(ticket.number, values)
        state.move_dust(ticket, ticket.document["area"], content)


def _receive(state: Standings, ticket: TicketOf, lines: Sequence[Document]) -> None:
    """Take-ons, receipts and sweeps: metal whose composition the line states, or which the book knows."""
    for line in ticket.lines:
        document = _own(lines, line)
        known = state.fineness.get(line.lot) or _again(state, ticket, line)
        if known is not None and ticket.document.get("terms") == "returned" and not _states(document):
            content, fineness = state.read(ticket, line, document, known), known
        else:
            content, fineness = state.stated(ticket, line, document)
        state.put_down(line.area, line.lot, content, fineness)
        if ticket.kind == "sweep":
            state.move_dust(ticket, line.area, content.part([-1.0] * state.size))
        if line.given is not None:
            less = _declared(state, ticket, line, document, content, fineness).minus(content, state.tape)
            state.strike(ticket, line.area, "transfer", less, line=line.number, lot=line.lot)


def _again(state: Standings, ticket: TicketOf, line: LineOf) -> Content | None:
    """Return the fineness of a lot that comes back: what the book knew of it counts as a determination of its own.

    One calculated from others is taken as no better than a nominal one: what it had in common with them is over.
    """
    if ticket.document.get("terms") != "returned":
        return None
    known = state.lots.known(line.lot, ticket.instant)
    if known is None:
        return None
    said: dict[str, Any] = {"basis": "nominal" if known.basis == "calculated" else known.basis}
    if known.method is not None:
        said["method"] = known.method
    if known.sd is not None:
        said["sd"] = f"{decimal_text(Fraction(known.sd) * 1000, 12)}‰"
    state.origins[line.lot] = known.origin
    return state.determinations.stated(known.number, 0, known.instant, said, known.fineness, 0.0, {})


def _states(document: Document) -> bool:
    return any(name in document for name in ("fineness", "content", "alloy", "clad"))


def _declared(
    state: Standings, ticket: TicketOf, line: LineOf, document: Document, content: Content, fineness: Content
) -> Content:
    """Return V: a list's mass and fineness are what somebody said, without error of ours; W where it does not count."""
    assert line.given is not None
    given, party = line.given, state.weighings.setups.at(ticket.instant).parties.get(ticket.document.get("party", ""))
    if party is None or party.owed != "declared":
        return content
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
        party = ticket.document.get("party", "")
        form = state.weighings.mass(
            ticket.number, line.number, ticket.instant, _received(_own(lines, line)), None, agreed[0], whose=party
        )
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
    "open": _open,
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
