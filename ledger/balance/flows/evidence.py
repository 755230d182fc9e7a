"""What a period's tickets say, read from the book: flows by ticket and area, weighings, and work."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

from ledger.plant.calendar import Calendar


class Flow(NamedTuple):
    """What one ticket did in one area, in one metal: postings to its places and to its difference, by origin.

    ``kind`` is the ticket's, or, of a reversal (``sign`` −1), that of the ticket it reverses. ``agreed`` is M of a
    discard and A of a settlement: what left by another's or an assay's figure. ``carried`` is what came into the area
    over its border by this ticket: place + difference.
    """

    ticket: int
    kind: str
    sign: int
    area: str
    place: int
    difference: dict[str, int]
    prior: int
    agreed: int
    discarded: int
    carried: int


#: Origins of difference postings that are not a loss of the period.
NOT_OF_THE_PERIOD = frozenset(("take_on", "write-off", "close", "shortfall"))

#: Whether ticket t is late: it was recorded after the close of the period it is dated in, and counts in a later one.
LATE = "t.instant < coalesce((SELECT max(c.ends) FROM close AS c WHERE c.seq < t.seq), t.instant)"


class Weighing(NamedTuple):
    """One line of an effective ticket: gross and contents by metal in the book's order, and the scale if weighed."""

    ticket: int
    number: str
    kind: str
    operation: str | None
    instant: int
    line: int
    side: str
    area: str
    scale: str | None
    weighed: bool
    recorded: Sequence[int] | None
    content: Sequence[int]
    given: Sequence[int] | None
    alloy: str | None
    class_: str | None
    layer: str | None
    lot: int
    lot_number: str
    job: int | None
    settles: bool

    def fineness(self, metal: int) -> float:
        """Return content over mass in one metal; 0 where there is no mass."""
        return self.content[metal] / self.content[0] if self.content[0] else 0.0


_LINES = """
    SELECT t.seq, t.number, t.kind, t.operation, t.instant, l.number, l.side, l.area, l.scale,
           l.weighed_ng IS NOT NULL, l.recorded, l.content, l.given, o.alloy, o.class, o.layer, o.id,
           o.number, t.job, l.settles
    FROM ticket AS t JOIN line AS l ON l.ticket = t.seq JOIN lot AS o ON o.id = l.lot
    WHERE {where} AND t.kind <> 'reverse' AND NOT EXISTS (SELECT 1 FROM ticket AS r WHERE r.reverses = t.seq)
    ORDER BY t.instant, t.seq, l.id"""


def weighings(connection: sqlite3.Connection, period: str) -> list[Weighing]:
    """Return the lines of the period's effective tickets: reversed ones out, corrections in; late ones apart."""
    return list(_weighings(connection, f"t.period = ? AND NOT {LATE}", (period,)))


def weighings_as_dated(connection: sqlite3.Connection, period: str, bounds: tuple[int, int]) -> list[Weighing]:
    """Return the lines of the effective tickets dated in a period, late ones among them, as the book now knows it."""
    return list(_weighings(connection, _AS_DATED, (period, *bounds)))


_AS_DATED = f"((t.period = ? AND NOT {LATE}) OR (t.instant >= ? AND t.instant < ? AND {LATE}))"


def late_since(connection: sqlite3.Connection, period: str) -> int | None:
    """Return the date of the book's first late ticket, where one counts in the period; None where none does."""
    counts = connection.execute(f"SELECT 1 FROM ticket AS t WHERE t.period = ? AND {LATE} LIMIT 1", (period,))
    if counts.fetchone() is None:
        return None
    return int(connection.execute(f"SELECT min(t.instant) FROM ticket AS t WHERE {LATE}").fetchone()[0])


def lines_of(connection: sqlite3.Connection, tickets: Sequence[int]) -> list[Weighing]:
    """Return the lines of given tickets, as far as they are effective."""
    where = "t.seq IN (SELECT value FROM json_each(?))"
    return list(_weighings(connection, where, (json.dumps(list(tickets)),)))


def lines_of_jobs(connection: sqlite3.Connection, jobs: Sequence[int], until: int) -> list[Weighing]:
    """Return the lines of all effective tickets of the jobs, dated before an instant."""
    where = "t.job IN (SELECT value FROM json_each(?)) AND t.instant < ?"
    return list(_weighings(connection, where, (json.dumps(list(jobs)), until)))


class Sender(NamedTuple):
    """Whence a lot that arrived had been sent, and whether it was weighed there."""

    area: str
    weighed: bool


def senders(connection: sqlite3.Connection, period: str) -> dict[tuple[int, int], Sender]:
    """Return the sender of each line of the period's arrivals, by ticket and line."""
    rows = connection.execute(
        "SELECT t.seq, l.number, s.area, s.weighed_ng IS NOT NULL FROM ticket AS t "
        "JOIN record AS r ON r.seq = t.seq JOIN line AS l ON l.ticket = t.seq AND l.side = 'in' "
        "JOIN ticket AS m ON m.number = json_extract(r.body, '$.of') "
        "JOIN line AS s ON s.ticket = m.seq AND s.lot = l.lot AND s.side = 'out' "
        "WHERE t.period = ? AND t.kind = 'arrive'", (period,)
    )  # fmt: skip
    return {(ticket, line): Sender(area, bool(weighed)) for ticket, line, area, weighed in rows}


def received_from(connection: sqlite3.Connection, period: str) -> dict[int, str]:
    """Return the party of each of the period's receipts, by ticket."""
    rows = connection.execute(
        "SELECT t.seq, json_extract(r.body, '$.party') FROM ticket AS t JOIN record AS r ON r.seq = t.seq "
        "WHERE t.period = ? AND t.kind = 'receive'", (period,)
    )  # fmt: skip
    return {ticket: party for ticket, party in rows if party is not None}


def awaited(connection: sqlite3.Connection, period: str) -> dict[tuple[int, int], int]:
    """Return the period's first assays of `content` outputs, by ticket and lot, each with the work that it shows."""
    rows = connection.execute(
        f"SELECT v.ticket, v.lot, d.ticket FROM ticket AS t JOIN valuation AS v ON v.ticket = t.seq "
        f"JOIN valuation AS b ON b.id = ({_BEFORE.format('v')}) JOIN determination AS d ON d.id = b.determination "
        f"WHERE t.period = ? AND t.kind = 'assay' AND b.awaiting IS NOT NULL", (period,)
    )  # fmt: skip
    return {(assay, lot): work for assay, lot, work in rows}


class OpenJob(NamedTuple):
    """A job not done at an instant: its number, area, operation, when it was opened, and what is left in it."""

    job: str
    area: str
    operation: str
    opened: int
    content: int


def open_jobs(connection: sqlite3.Connection, metal: str, until: int) -> list[OpenJob]:
    """Return the jobs that were opened before an instant and not done by it, oldest first."""
    rows = connection.execute(
        "SELECT l.number, s.area, s.operation, s.opened, "
        "(SELECT coalesce(sum(p.ng), 0) FROM posting AS p WHERE p.ticket IN (SELECT ticket FROM line WHERE lot = l.id) "
        " AND p.class = 'place' AND p.lot = l.id AND p.metal = ? AND p.instant < ?) "
        "FROM lot AS l JOIN job_state AS s ON s.id = (SELECT max(j.id) FROM job_state AS j "
        "JOIN ticket AS t ON t.seq = j.ticket WHERE j.lot = l.id AND t.instant < ?) "
        "WHERE l.kind = 'job' AND s.done = 0 AND s.mass_in > 0 ORDER BY s.opened, l.number", (metal, until, until)
    )  # fmt: skip
    return [OpenJob(*row) for row in rows]


def in_transit(connection: sqlite3.Connection, metal: str, until: int) -> dict[str, int]:
    """Return what each area had sent that had not arrived before an instant, in nanograms."""
    rows = connection.execute(
        "SELECT area, sum(ng) FROM posting WHERE class = 'transit' AND metal = ? AND instant < ? GROUP BY area",
        (metal, until),
    )
    return dict(rows.fetchall())


def _weighings(connection: sqlite3.Connection, where: str, parameters: tuple[object, ...]) -> Iterator[Weighing]:
    rows = connection.execute(_LINES.format(where=where), parameters).fetchall()
    amounts = (read([row[column] for row in rows]) for column in (10, 11, 12))
    for row, *each in zip(rows, *amounts, strict=True):
        yield Weighing._make((*row[:9], bool(row[9]), *each, *row[13:]))


def read(texts: Sequence[str | None]) -> list[Any]:
    """Return what texts of JSON say, all read at once: a call for each takes several times as long."""
    found: list[Any] = json.loads(f"[{','.join(text or 'null' for text in texts)}]")
    return found


_STANDS = "NOT EXISTS (SELECT 1 FROM ticket AS r WHERE r.reverses = {}.seq)"
_BEFORE = "SELECT max(id) FROM valuation WHERE lot = {0}.lot AND id < {0}.id"

_FIRST_ASSAYS = f"""
    SELECT DISTINCT d.ticket FROM ticket AS t JOIN valuation AS v ON v.ticket = t.seq
    JOIN valuation AS b ON b.id = ({_BEFORE.format("v")}) JOIN determination AS d ON d.id = b.determination
    WHERE {{where}} AND t.kind = 'assay' AND b.awaiting IS NOT NULL AND {_STANDS.format("t")}
    AND NOT EXISTS (SELECT 1 FROM valuation AS b2 JOIN valuation AS v2 ON v2.lot = b2.lot
        AND b2.id = ({_BEFORE.format("v2")}) JOIN ticket AS t2 ON t2.seq = v2.ticket AND t2.kind = 'assay'
        WHERE b2.determination = d.id AND b2.awaiting IS NOT NULL AND (t2.instant, t2.seq) < (t.instant, t.seq)
        AND {_STANDS.format("t2")})
    ORDER BY d.ticket"""


def first_assays(connection: sqlite3.Connection, period: str, bounds: tuple[int, int] | None = None) -> list[int]:
    """Return the `content` work tickets of which an output, or what was carried from it, was first assayed then.

    With the period's ``bounds`` by the dates of the assays, late ones among them.
    """
    where, values = (f"t.period = ? AND NOT {LATE}", (period,)) if bounds is None else (_AS_DATED, (period, *bounds))
    return [ticket for (ticket,) in connection.execute(_FIRST_ASSAYS.format(where=where), values)]


def sums(connection: sqlite3.Connection, class_: str, metal: str, periods: Sequence[str]) -> dict[str, int]:
    """Return what was posted to a class in the periods, by area."""
    rows = connection.execute(
        "SELECT area, sum(ng) FROM period_sum WHERE class = ? AND metal = ? "
        "AND period IN (SELECT value FROM json_each(?)) GROUP BY area", (class_, metal, json.dumps(list(periods)))
    )  # fmt: skip
    return dict(rows.fetchall())


def known_periods(connection: sqlite3.Connection, calendar: Calendar) -> list[str]:
    """Return the periods that have postings, by their beginning."""
    rows = connection.execute(
        "WITH RECURSIVE known (code) AS (SELECT min(period) FROM period_sum UNION ALL "
        "SELECT (SELECT min(period) FROM period_sum WHERE period > code) FROM known WHERE code IS NOT NULL) "
        "SELECT code FROM known WHERE code IS NOT NULL"
    )  # one look-up a period: DISTINCT would read the whole table
    return sorted((code for (code,) in rows), key=lambda code: calendar.bounds(code)[0])


class Ended(NamedTuple):
    """An ended count of an area: when, and its tickets."""

    area: str
    instant: int
    take_on: bool
    count_id: str


def ended_counts(connection: sqlite3.Connection, since: int, until: int) -> list[Ended]:
    """Return the ended, effective counts dated in [since, until), by date."""
    rows = connection.execute(
        "SELECT c.area, t.instant, c.take_on, c.count FROM ticket AS t CROSS JOIN count_sheet AS c ON c.ticket = t.seq "
        "WHERE t.instant >= ? AND t.instant < ? AND c.ended = 1 "
        "AND NOT EXISTS (SELECT 1 FROM ticket AS r WHERE r.reverses = t.seq) ORDER BY t.instant, t.seq", (since, until)
    )  # fmt: skip
    return [Ended(area, instant, bool(take_on), count) for area, instant, take_on, count in rows]


class Single(NamedTuple):
    """What one line, or a work ticket as a whole (no lot), posted to an area's difference."""

    seq: int
    ticket: str
    lot: str | None
    origin: str
    ng: int


def singles(
    connection: sqlite3.Connection, period: str, metal: str, area: str, tickets: Sequence[int]
) -> list[Single]:
    """Return the single differences of an area by a period's tickets, reversals with what they reverse, largest first.

    ``tickets``: those asked for, reversals among them.
    """
    rows = connection.execute(
        "SELECT t.seq, t.number, o.number, p.origin, sum(p.ng) FROM posting AS p "
        "JOIN ticket AS t ON t.seq = coalesce((SELECT reverses FROM ticket WHERE seq = p.ticket), p.ticket) "
        "LEFT JOIN line AS l ON l.ticket = t.seq AND l.number = p.line AND l.area = p.area AND p.origin <> 'work' "
        "LEFT JOIN lot AS o ON o.id = l.lot "
        "WHERE p.ticket IN (SELECT value FROM json_each(?)) AND +p.period = ? AND p.metal = ? AND p.area = ? "
        "AND p.class = 'difference' AND p.prior = 0 "
        "GROUP BY t.seq, o.id, p.origin ORDER BY abs(sum(p.ng)) DESC, t.seq",
        (json.dumps(tickets), period, metal, area),
    )  # fmt: skip
    return [Single(*row) for row in rows]


class DustPosting(NamedTuple):
    """A posting to an area's dust: by which kind of ticket, when, and how much."""

    area: str
    kind: str
    instant: int
    ng: int


def clean_outs(connection: sqlite3.Connection, period: str) -> dict[str, int]:
    """Return, by area, when it was last cleaned out in the period."""
    rows = connection.execute(
        "SELECT json_extract(record.body, '$.area'), max(t.instant) FROM ticket AS t JOIN record ON record.seq = t.seq "
        f"WHERE t.period = ? AND t.kind = 'sweep' AND json_extract(record.body, '$.cleaned_out') = 1 AND NOT {LATE} "
        "AND NOT EXISTS (SELECT 1 FROM ticket AS r WHERE r.reverses = t.seq) GROUP BY 1", (period,)
    )  # fmt: skip
    return dict(rows.fetchall())
