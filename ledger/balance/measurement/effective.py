"""The effective tickets of a book, in the order of their dates: reversed ones out, corrections in.

A ticket brings its lines as the book keeps them and its document as it was read.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import Any, Final, NamedTuple

from ledger.balance.flows.evidence import LATE, Weighing, read
from ledger.book.stored import origin_from

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
    """What of a lot does not change: number, kind, and what rates and wear go by; ``exact``: its layer as text."""

    number: str
    kind: str
    class_: str | None
    alloy: str | None
    layer: tuple[float, ...] | None
    exact: str | None


class Valued(NamedTuple):
    """What a ticket made of a lot: whose estimate it holds, who waits for its first assay, and of which ticket's work.

    ``made_by``: the ticket that gave the determination, 0 where there is none.
    """

    lot: int
    origin: Shares
    awaiting: str | None
    made_by: int


class Known(NamedTuple):
    """What the book knew of a lot before a ticket: its fineness, on which basis, and whose estimate it holds."""

    fineness: tuple[float, ...]
    basis: str
    method: str | None
    sd: str | None
    number: str
    instant: int
    origin: Shares


@dataclass(slots=True)
class TicketOf:
    """One effective ticket; ``late``: it counts in a later period than it is dated in, since that one was closed.

    ``written``: all its lines, ``lines``: those that do not only follow from others.
    """

    seq: int
    number: str
    kind: str
    operation: str | None
    instant: int
    period: str
    job: int | None
    late: bool
    document: dict[str, Any]
    written: list[LineOf] = field(default_factory=list)
    lines: list[LineOf] = field(default_factory=list)
    valued: list[Valued] = field(default_factory=list)


_STANDS = "t.kind <> 'reverse' AND NOT EXISTS (SELECT 1 FROM ticket AS r WHERE r.reverses = t.seq)"
_DATED = f"t.instant >= ? AND t.instant < ? AND {_STANDS}"

#: Before any ticket.
FIRST: Final = -(2**62)

_TICKETS = f"""
    SELECT t.seq, t.number, t.kind, t.operation, t.instant, t.period, t.job, {LATE}, record.body
    FROM ticket AS t JOIN record ON record.seq = t.seq
    WHERE {_DATED} AND t.kind NOT IN ('transfer', 'writeoff', 'void', 'checkweigh', 'close')
    ORDER BY t.instant, t.seq"""

_LINES = f"""
    SELECT l.ticket, l.number, l.side, l.area, l.lot, l.scale, l.weighed_ng, l.settles, l.recorded, l.content, l.given,
           d.composition
    FROM ticket AS t CROSS JOIN line AS l ON l.ticket = t.seq LEFT JOIN determination AS d ON d.id = l.determination
    WHERE {_DATED} ORDER BY t.instant, t.seq, l.id"""

_VALUED = f"""
    SELECT v.ticket, v.lot, v.origin, v.awaiting, coalesce(d.ticket, 0)
    FROM ticket AS t CROSS JOIN valuation AS v ON v.ticket = t.seq
    LEFT JOIN determination AS d ON d.id = v.determination
    WHERE {_DATED} ORDER BY v.id"""


def effective_tickets(connection: sqlite3.Connection, until: int, since: int = FIRST) -> list[TicketOf]:
    """Return the effective tickets dated from an instant on and before another, by date."""
    rows = connection.execute(_TICKETS, (since, until)).fetchall()
    documents = read([row[-1] for row in rows])
    tickets = {row[0]: TicketOf(*[*row[:-1], document]) for row, document in zip(rows, documents, strict=True)}
    for ticket, line in _lines(connection.execute(_LINES, (since, until)).fetchall()):
        of = tickets.get(ticket)
        if of is not None:
            of.written.append(line)
            if line.side not in _FOLLOWS:
                of.lines.append(line)
    for ticket, lot, origin, awaiting, made_by in connection.execute(_VALUED, (since, until)):
        if ticket in tickets:
            tickets[ticket].valued.append(Valued(lot, _shares(origin), awaiting, made_by))
    return list(tickets.values())


def _lines(rows: Sequence[Sequence[Any]]) -> Iterator[tuple[int, LineOf]]:
    """Yield each line with its ticket."""
    amounts = (read([row[column] for row in rows]) for column in (8, 9, 10))
    for row, recorded, content, given in zip(rows, *amounts, strict=True):
        ticket, number, side, area, lot, scale, weighed, settles, *_, composition = row
        yield ticket, LineOf(
            number, side, area, lot, scale, weighed, bool(settles), recorded, content, given, _floats(composition)
        )


@cache
def _shares(text: str | None) -> Shares:
    return {key: tuple(map(float, shares)) for key, shares in origin_from(text).items()}


@cache
def _floats(text: str | None) -> tuple[float, ...] | None:
    """Return a composition, kept as exact fractions, as the nearest floats."""
    if not text:
        return None
    parts = (share.partition("/") for share in json.loads(text))
    return tuple(int(above) / int(below or 1) for above, _, below in parts)


def weighings_of(tickets: Iterable[TicketOf], lots: Lots, period: str) -> list[Weighing]:
    """Return what `ledger.balance.flows.evidence.weighings` does of a period, from tickets that are read already."""
    found = []
    for t in tickets:
        if t.period != period or t.late:
            continue
        for line in t.written:
            lot = lots[line.lot]
            found.append(Weighing(
                t.seq, t.number, t.kind, t.operation, t.instant, line.number, line.side, line.area, line.scale,
                line.weighed_ng is not None, line.recorded, line.content, line.given, lot.alloy, lot.class_, lot.exact,
                line.lot, lot.number, t.job, line.settles,
            ))  # fmt: skip
    return found


_LOTS = "SELECT id, number, kind, class, alloy, layer FROM lot WHERE id IN (SELECT value FROM json_each(?))"

_KNOWN = f"""
    SELECT d.composition, d.basis, d.method, d.sd, m.number, m.instant, v.origin
    FROM valuation AS v CROSS JOIN ticket AS t ON t.seq = v.ticket JOIN determination AS d ON d.id = v.determination
    JOIN ticket AS m ON m.seq = d.ticket
    WHERE v.lot = ? AND t.instant < ? AND {_STANDS} ORDER BY v.id DESC LIMIT 1"""


class Lots(dict[int, LotOf]):
    """Lots by their id, each read when first asked for; `fetch` reads many at once."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        super().__init__()
        self.connection = connection

    def __missing__(self, lot: int) -> LotOf:
        self.fetch((lot,))
        return dict.__getitem__(self, lot)

    def fetch(self, lots: Iterable[int]) -> None:
        """Read lots that are not read yet."""
        wanted = json.dumps([lot for lot in lots if lot not in self])
        for id_, number, kind, class_, alloy, layer in self.connection.execute(_LOTS, (wanted,)):
            self[id_] = LotOf(number, kind, class_, alloy, _floats(layer), layer)

    def known(self, lot: int, before: int) -> Known | None:
        """Return what stood of a lot by the last valuation of a ticket dated before an instant; None without one."""
        row = self.connection.execute(_KNOWN, (lot, before)).fetchone()
        if row is None:
            return None
        composition, basis, method, sd, number, instant, origin = row
        return Known(_floats(composition) or (), basis, method, sd, number, instant, _shares(origin))


def calibrations(connection: sqlite3.Connection, until: int, since: int = FIRST) -> dict[str, list[int]]:
    """Return, by scale, when checks dated in [since, until) found it calibrated anew, by tickets that stand."""
    rows = connection.execute(
        f"SELECT c.scale, t.instant FROM ticket AS t CROSS JOIN checked AS c ON c.ticket = t.seq "
        f"WHERE c.calibrated = 1 AND c.scale IS NOT NULL AND {_DATED} ORDER BY t.instant", (since, until)
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


def take_on_counts(connection: sqlite3.Connection, until: int, since: int = FIRST) -> frozenset[int]:
    """Return the tickets dated in [since, until) that are a take-on's first count: its difference is the opening's."""
    rows = connection.execute(
        "SELECT t.seq FROM ticket AS t CROSS JOIN count_sheet AS c ON c.ticket = t.seq "
        "WHERE t.instant >= ? AND t.instant < ? AND c.take_on = 1", (since, until)
    )  # fmt: skip
    return frozenset(ticket for (ticket,) in rows)
