"""The effective tickets of a book, in the order of their dates: reversed ones out, corrections in.

A ticket brings its lines as the book keeps them and its document as it was read.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import Any, NamedTuple

from ledger.book.stored import composition_from, origin_from

#: Shares by metal, gross first, of (class, area): whose dust or difference an estimate belongs to.
Shares = dict[tuple[str, str], tuple[float, ...]]

#: Sides of lines that say what became of metal elsewhere; what they mean follows from the effective tickets.
_FOLLOWS = frozenset(("revalued", "reversed", "job"))


class LineOf(NamedTuple):
    """One line: its lot, what was read, and R, W/O/C and the other's figure in ng by metal."""

    number: int
    side: str
    area: str
    lot: int
    scale: str | None
    weighed_ng: int | None
    settles: bool
    recorded: Sequence[int] | None
    content: Sequence[int]
    given: Sequence[int] | None
    fineness: tuple[float, ...] | None


class LotOf(NamedTuple):
    """What of a lot does not change: number, kind, and what rates and wear go by."""

    number: str
    kind: str
    class_: str | None
    alloy: str | None
    layer: tuple[float, ...] | None


class Valued(NamedTuple):
    """What a ticket made of a lot: whose estimate it holds, and who waits for its first assay."""

    lot: int
    origin: Shares
    awaiting: str | None


@dataclass(slots=True)
class TicketOf:
    """One effective ticket."""

    seq: int
    number: str
    kind: str
    operation: str | None
    instant: int
    period: str
    job: int | None
    document: dict[str, Any]
    lines: list[LineOf] = field(default_factory=list)
    valued: list[Valued] = field(default_factory=list)


_STANDS = "t.kind <> 'reverse' AND NOT EXISTS (SELECT 1 FROM ticket AS r WHERE r.reverses = t.seq)"

_TICKETS = f"""
    SELECT t.seq, t.number, t.kind, t.operation, t.instant, t.period, t.job, record.body
    FROM ticket AS t JOIN record ON record.seq = t.seq
    WHERE t.instant < ? AND {_STANDS} AND t.kind NOT IN ('transfer', 'writeoff', 'void', 'checkweigh')
    ORDER BY t.instant, t.seq"""

_LINES = f"""
    SELECT l.ticket, l.number, l.side, l.area, l.lot, l.scale, l.weighed_ng, l.settles, l.recorded, l.content, l.given,
           d.composition
    FROM line AS l JOIN ticket AS t ON t.seq = l.ticket LEFT JOIN determination AS d ON d.id = l.determination
    WHERE t.instant < ? AND {_STANDS} ORDER BY t.instant, t.seq, l.id"""

_VALUED = f"""
    SELECT v.ticket, v.lot, v.origin, v.awaiting FROM valuation AS v JOIN ticket AS t ON t.seq = v.ticket
    WHERE t.instant < ? AND {_STANDS} ORDER BY v.id"""


def effective_tickets(connection: sqlite3.Connection, until: int) -> list[TicketOf]:
    """Return the effective tickets dated before an instant, by date."""
    tickets = {}
    for *row, body in connection.execute(_TICKETS, (until,)):
        seq, number, kind, operation, instant, period, job = row
        tickets[seq] = TicketOf(seq, number, kind, operation, instant, period, job, json.loads(body))
    for ticket, *line in connection.execute(_LINES, (until,)):
        of = tickets.get(ticket)
        if of is not None and line[1] not in _FOLLOWS:
            of.lines.append(_line(line))
    for ticket, lot, origin, awaiting in connection.execute(_VALUED, (until,)):
        if ticket in tickets:
            tickets[ticket].valued.append(Valued(lot, _shares(origin), awaiting))
    return list(tickets.values())


def _line(row: Sequence[Any]) -> LineOf:
    number, side, area, lot, scale, weighed, settles, recorded, content, given, composition = row
    return LineOf(
        number, side, area, lot, scale, weighed, bool(settles), json.loads(recorded) if recorded else None,
        json.loads(content), json.loads(given) if given else None, _floats(composition),
    )  # fmt: skip


@cache
def _shares(text: str | None) -> Shares:
    return {key: tuple(map(float, shares)) for key, shares in origin_from(text).items()}


@cache
def _floats(text: str | None) -> tuple[float, ...] | None:
    return tuple(map(float, composition_from(text))) if text else None


def all_lots(connection: sqlite3.Connection) -> dict[int, LotOf]:
    """Return every lot by its id."""
    rows = connection.execute("SELECT id, number, kind, class, alloy, layer FROM lot")
    return {id_: LotOf(number, kind, class_, alloy, _floats(layer)) for id_, number, kind, class_, alloy, layer in rows}


def calibrations(connection: sqlite3.Connection) -> dict[str, list[int]]:
    """Return, by scale, when checks found it calibrated anew, by tickets that stand, in order."""
    rows = connection.execute(
        f"SELECT c.scale, t.instant FROM checked AS c JOIN ticket AS t ON t.seq = c.ticket "
        f"WHERE c.calibrated = 1 AND c.scale IS NOT NULL AND {_STANDS} ORDER BY t.instant"
    )  # fmt: skip
    found: dict[str, list[int]] = {}
    for scale, instant in rows:
        found.setdefault(scale, []).append(instant)
    return found


def lines_in_document(ticket: TicketOf) -> list[dict[str, Any]]:
    """Return the ticket's own lines as read, in the order in which the book numbers them."""
    document = ticket.document
    if ticket.kind == "work":
        return [*(document.get("in") or ()), *(document.get("out") or ())]
    return document.get("lots") or []


def iterate(tickets: Sequence[TicketOf]) -> Iterator[tuple[TicketOf, list[dict[str, Any]]]]:
    """Yield each ticket with its own lines."""
    for ticket in tickets:
        yield ticket, lines_in_document(ticket)


def take_on_counts(connection: sqlite3.Connection) -> frozenset[int]:
    """Return the tickets whose count is a take-on's first: what it differs by is of the opening."""
    return frozenset(t for (t,) in connection.execute("SELECT ticket FROM count_sheet WHERE take_on = 1"))
