"""Metal taken out of a lot, and lots found again, with their forms; see `ledger.book.posting.taking`."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from ledger.balance.measurement.contents import Content
from ledger.balance.measurement.effective import LineOf, Shares, TicketOf
from ledger.balance.measurement.standings import Standings


class Taken(NamedTuple):
    """What left a lot: R, W, and the fineness it left with; whose estimate it was."""

    line: LineOf
    recorded: Content
    weighed: Content
    fineness: Content
    shares: Shares


def take(
    state: Standings, ticket: TicketOf, line: LineOf, document: Mapping[str, Any], *, reweigh: bool = True
) -> Taken:
    """Take a line's metal: with ``settles`` the whole standing leaves, whatever was weighed; else R = W."""
    fineness = state.fineness_of(line.lot, line.area, line)
    shares = state.origins.get(line.lot, {})
    if not line.settles:
        part = state.read(ticket, line, document, fineness)
        state.put(line.area, line.lot, part, -1.0)
        return Taken(line, part, part, fineness, shares)
    recorded = state.empty(line.area, line.lot)
    if line.weighed_ng is None:
        return Taken(line, recorded, recorded, fineness, shares)
    weighed = state.read(ticket, line, document, fineness)
    if reweigh:
        difference = recorded.minus(weighed, state.tape)
        state.strike(ticket, line.area, "reweighing", difference, line=line.number, lot=line.lot)
    return Taken(line, recorded, weighed, fineness, shares)


def find(state: Standings, ticket: TicketOf, line: LineOf) -> bool:
    """Put a lot that a count had missed back to hand, if the line says so; returns whether it did."""
    if line.side == "found":
        missed = state.missed.pop((line.area, line.lot), None)
        content = missed.content if missed else Content.exact([float(x) for x in line.content])
        state.put(line.area, line.lot, content)
        prior = missed is not None and missed.period != ticket.period
        state.strike(ticket, line.area, "count", content.part([-1.0] * state.size), line=line.number, lot=line.lot,
                     prior=prior)  # fmt: skip
        return True
    if line.side == "strayed":
        came_from = next((x.area for x in ticket.lines if x.side == "found" and x.lot == line.lot), line.area)
        if came_from != line.area:
            state.put(line.area, line.lot, state.empty(came_from, line.lot))
        return True
    if line.side == "missed no more":
        state.missed.pop((line.area, line.lot), None)
        return True
    return False


def worn(taken: Taken, state: Standings) -> Content:
    """Return the fineness of what wears off an input: its layer's, or its own."""
    layer = state.lots[taken.line.lot].layer
    return Content.exact(layer) if layer else taken.fineness


