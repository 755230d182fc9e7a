"""What a work ticket aimed at, beside what was weighed: ``planned`` is kept and compared, never used as content."""

from __future__ import annotations

import json
import sqlite3
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from ledger.book.amounts import Amounts
from ledger.book.holdings import TICKET_STANDS, amounts_from
from ledger.quantities.fineness import parse_fineness
from ledger.refusals import QuantityRefused

if TYPE_CHECKING:
    from ledger.plant.setup import Setup


@dataclass(frozen=True, slots=True)
class Aim:
    """What an output was planned to be, and what came out.

    ``planned``: as the ticket says it; ``fineness``: what that states, by booked metal, nothing where it names no
    fineness; ``weighed``: gross and content of what was put down, in ng, in the book's order.
    """

    ticket: str
    planned: str
    fineness: dict[str, Fraction]
    weighed: Amounts


def aims_of(connection: sqlite3.Connection, lot: int) -> tuple[Aim, ...]:
    """Return what the work tickets that stand aimed at for a lot, in the order of their dates."""
    found = [
        (number, instant, planned, content)
        for number, instant, line, body, content in _outputs(connection, lot)
        if (planned := _planned(body, line)) is not None
    ]
    if not found:
        return ()
    from ledger.book.setups import Setups  # here: loading a set-up takes as long as reading any other lot

    setups = Setups.read(connection)
    return tuple(
        Aim(number, planned, aimed_at(setups.at(instant), planned), amounts_from(content))
        for number, instant, planned, content in found
    )


def aimed_at(setup: Setup, planned: str) -> dict[str, Fraction]:
    """Return what a mark, an alloy or clad stock's mark states of each booked metal; nothing where it is none of them.

    A mark speaks of one metal: silver of the bond under a clad layer was never planned by it.
    """
    if planned in setup.alloys:
        return setup.alloys[planned].fineness
    clad = setup.clads.get(planned)
    try:
        return {setup.marked_metal: parse_fineness(clad.mark if clad and clad.mark else planned)}
    except QuantityRefused:
        return {}


def _outputs(connection: sqlite3.Connection, lot: int) -> list[tuple[str, int, int, str, str]]:
    return connection.execute(
        "SELECT t.number, t.instant, l.number, r.body, l.content FROM line AS l JOIN ticket AS t ON t.seq = l.ticket "
        "JOIN record AS r ON r.seq = t.seq WHERE l.lot = ? AND l.side = 'out' AND t.kind = 'work' "
        f"AND {TICKET_STANDS.format('t')} ORDER BY t.instant, t.seq, l.number", (lot,)
    ).fetchall()  # fmt: skip


def _planned(body: str, line: int) -> str | None:
    """Return what an output's line plans; lines are numbered through, inputs first."""
    ticket = json.loads(body)
    outputs = ticket.get("out", ())
    index = line - 1 - len(ticket.get("in", ()))
    planned: str | None = outputs[index].get("planned") if 0 <= index < len(outputs) else None
    return planned
