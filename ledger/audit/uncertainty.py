"""What each measured quantity of one ticket is worth: standard uncertainties of mass, fineness and content.

The pass over the book that the month's σ comes from is stopped at the ticket; so a lot's fineness carries everything
that it rests on, whatever tickets that came from. Figures are standard uncertainties (k = 1), to first order
(JCGM 100:2008, 5.1.2).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import hypot
from typing import Any

from ledger.audit.inquiry import Inquiry
from ledger.balance.measurement.budget import budget
from ledger.balance.measurement.contents import Content, weighed
from ledger.balance.measurement.effective import LineOf, TicketOf, effective_tickets, lines_in_document
from ledger.balance.measurement.forms import Form
from ledger.balance.measurement.propagation import standings, step
from ledger.balance.measurement.standings import Standings
from ledger.plant.process import Operation


@dataclass(frozen=True, slots=True)
class Worth:
    """One line: its mass and content in ng with their u; fineness as a share; what most of the content's u is from."""

    line: LineOf
    lot: str
    document: Mapping[str, Any]
    mass: float | None
    u_mass: float | None
    fineness: float
    u_fineness: float
    content: float
    u_content: float
    largest: str


@dataclass(frozen=True, slots=True)
class TicketWorth:
    """A ticket's lines, and of a work ticket its own difference with its u, in ng; None of any other."""

    lines: list[Worth]
    own: float | None
    u_own: float | None


def worth_of(inquiry: Inquiry, seq: int, instant: int) -> TicketWorth | None:
    """Return what a ticket's quantities are worth; None for a ticket that does not stand, or weighs nothing."""
    state = standings(inquiry.connection, inquiry.setups, instant)
    tickets = effective_tickets(inquiry.connection, instant + 1, instant)
    state.lots.fetch({line.lot for ticket in tickets for line in ticket.lines})
    for ticket in tickets:
        lines = lines_in_document(ticket)
        if ticket.seq == seq:
            return _TicketAt(inquiry, state, ticket, lines).worth()
        step(state, ticket, lines)
    return None


@dataclass(frozen=True, slots=True)
class _TicketAt:
    """A ticket that the pass has come to."""

    inquiry: Inquiry
    state: Standings
    ticket: TicketOf
    documents: Sequence[Mapping[str, Any]]

    def worth(self) -> TicketWorth:
        """Take the ticket into the pass, and return what its lines are worth: what left by how it stood before."""
        before = {i: self._fineness(line) for i, line in enumerate(self.ticket.lines) if not _made(self.ticket, line)}
        step(self.state, self.ticket, self.documents)
        lines = [self._line(line, before.get(i) or self._fineness(line)) for i, line in enumerate(self.ticket.lines)]
        own = self.state.own.get(self.ticket.seq)
        index = self.inquiry.index
        if own is None:
            return TicketWorth(lines, None, None)
        return TicketWorth(lines, own.values[index], self.state.tape.sigma(own.forms[index]))

    def _fineness(self, line: LineOf) -> Content:
        return self.state.fineness_of(line.lot, line.area, line)

    def _line(self, line: LineOf, fineness: Content) -> Worth:
        state, index = self.state, self.inquiry.index
        document = self.documents[line.number - 1] if 0 < line.number <= len(self.documents) else {}
        mass, form = float(line.content[0]), Form()
        if line.weighed_ng is not None:
            mass, form = float(line.weighed_ng), self._reading(line, document)
        content = weighed(mass, form, fineness)
        tape = state.tape
        row = tape.row(content.forms[index])
        items = budget(tape, row)
        is_weighed = line.weighed_ng is not None
        return Worth(
            line, state.lots[line.lot].number, document, mass if is_weighed else None,
            tape.sigma(form) if is_weighed else None, fineness.values[index], tape.sigma(fineness.forms[index]),
            content.values[index], tape.variance(row) ** 0.5, items[0].words if items else "",
        )  # fmt: skip


    def _reading(self, line: LineOf, document: Mapping[str, Any]) -> Form:
        """Return the form of a line's mass; the receiver of a move reads net."""
        ticket, state = self.ticket, self.state
        if ticket.kind == "move" and line.side == "in" and line.weighed_ng is not None:
            return state.weighings.received(ticket.number, line.number, ticket.instant, line.scale, line.weighed_ng)
        return state.mass(ticket, line, document)


def _made(ticket: TicketOf, line: LineOf) -> bool:
    """Return whether a line's fineness comes with the ticket."""
    return line.side in ("receive", "sweep", "assay") or (ticket.kind == "work" and line.side == "out")


def z_of(worth: TicketWorth, expected: float, spread: float) -> float | None:
    """Return how many σ a work ticket's own difference is beyond its normal loss: measurement and spread."""
    if worth.own is None or worth.u_own is None or not hypot(worth.u_own, spread):
        return None
    return (worth.own - expected) / hypot(worth.u_own, spread)


def operation_of(inquiry: Inquiry, code: str | None, instant: int) -> Operation | None:
    """Return the operation of a ticket, by the set-up of its date."""
    return inquiry.setups.at(instant).operations.get(code or "")
