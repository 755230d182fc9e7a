"""Tickets that one mistake explains: left out of patterns, so that a mis-keyed figure smears nobody.

A figure keyed wrong shows twice: on its ticket, and with the opposite sign where the lot that it made is weighed next.
Metal taken shows once.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import sqrt
from typing import Final, NamedTuple

from ledger.balance.measurement.residuals import Residual
from ledger.balance.months.month import Ledger
from ledger.causes.patterns.tickets import Ticket

#: What the next weighing may differ from the opposite by, beyond its own error: the ticket's own loss.
_CLOSE: Final = 0.02

_WEIGHED_AGAIN: Final = frozenset(("reweighing", "transfer", "count"))


class SingleFault(NamedTuple):
    """A ticket left out, and the ticket that weighed one of its lots again and found the opposite."""

    ticket: Ticket
    lot: str
    opposite: str


def single_faults(ledger: Ledger, tickets: Sequence[Ticket]) -> list[SingleFault]:
    """Return the tickets beyond the action level whose difference the next weighing of one of their lots takes back."""
    act = float(ledger.setup.plant.act)
    suspects = [ticket for ticket in tickets if abs(ticket.z) > act]
    lots = {lot for ticket in suspects for lot in ticket.made}
    later: dict[int, list[Residual]] = {}
    for residual in ledger.measured.residuals:
        if residual.lot in lots and residual.kind in _WEIGHED_AGAIN:
            later.setdefault(residual.lot or 0, []).append(residual)
    found = (_explained(ledger, ticket, later, act) for ticket in suspects)
    return [fault for fault in found if fault is not None]


def _explained(
    ledger: Ledger, ticket: Ticket, later: Mapping[int, Sequence[Residual]], act: float
) -> SingleFault | None:
    """Compare in mass: what one reading is off by is the same in both, whatever each took its fineness to be."""
    tape, excess = ledger.measured.tape, _excess(ledger, ticket)
    for lot in ticket.made:
        after = next((r for r in later.get(lot, ()) if (r.instant, r.ticket) > (ticket.instant, ticket.seq)), None)
        if after is None:
            continue
        found, sigma = after.content.values[0], sqrt(tape.variance(tape.row(after.content.forms[0])))
        takes_back = abs(found + excess) <= act * sigma + _CLOSE * abs(excess)
        if found * excess < 0 and abs(found) > act * sigma and takes_back:
            return SingleFault(ticket, _number(ledger, lot), after.number)
    return None


def _excess(ledger: Ledger, ticket: Ticket) -> float:
    """Return a ticket's own difference of gross less its normal loss, ng."""
    own, expected = ledger.measured.own.get(ticket.seq), ledger.measured.expected.get(ticket.seq)
    return (own.values[0] if own else 0.0) - (expected.values[0] if expected else 0.0)


def _number(ledger: Ledger, lot: int) -> str:
    return str(ledger.connection.execute("SELECT number FROM lot WHERE id = ?", (lot,)).fetchone()[0])
