"""What the file itself remembers: stock by area, what counts missed, what is on its way, and what tickets did."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, NamedTuple, cast

from ledger.book.amounts import Amounts
from ledger.book.lots import JobState, Standing
from ledger.book.stored import composition_from


@dataclass(frozen=True, slots=True)
class Missed:
    """A lot that an ended count did not find: where, how much was recorded, and by which count."""

    area: str
    lot: int
    amounts: Amounts
    ticket: int


@dataclass(frozen=True, slots=True)
class SheetReading:
    """What an earlier sheet of a count said of a lot."""

    team: str
    lot: int
    content: Amounts
    scale: str | None


@dataclass(frozen=True, slots=True)
class Recorded:
    """A ticket of the book, and the numbers of those that reversed and corrected it."""

    seq: int
    number: str
    kind: str
    instant: int
    period: str
    hash: bytes
    reversed_by: str | None
    corrected_by: str | None


@dataclass(frozen=True, slots=True)
class OnTheWay:
    """A lot sent and not yet arrived: by which move, between which areas, since when, and W."""

    move: str
    lot: int
    sender: str
    receiver: str
    instant: int
    amounts: Amounts


class Posting(NamedTuple):
    """One signed amount of one metal on one account; a ticket's postings sum to zero for each metal.

    ``prior`` is 1 where it undoes what a closed or earlier period held.
    """

    ticket: int
    line: int
    instant: int
    period: str
    class_: str
    area: str | None
    lot: int | None
    party: str | None
    terms: str | None
    cause: str | None
    move: str | None
    origin: str | None
    prior: int
    metal: str
    ng: int


def on_the_way_from(row: tuple[Any, ...]) -> OnTheWay:
    """Return what is on its way by a row of the table."""
    move, lot, sender, receiver, instant, amounts = row
    return OnTheWay(move, lot, sender, receiver, instant, json.loads(amounts))


def job_from(row: tuple[Any, ...]) -> JobState:
    """Return the job state of a row of the table."""
    lot, area, operation, opened, mass_in, fume_due, surface, calculated, done = row
    return JobState(
        lot, area, operation, opened, mass_in, Fraction(fume_due), composition_from(surface), bool(calculated),
        bool(done),
    )  # fmt: skip


class Past:
    """Questions to one open book, answered from the file once everything pending is written."""

    def __init__(self, connection: sqlite3.Connection, write_pending: Callable[[], None] = lambda: None) -> None:
        self.connection = connection
        self.write_pending = write_pending

    @staticmethod
    def standing_from(row: tuple[str, int, str, int, str]) -> Standing:
        """Return the standing of a row of the table."""
        area, lot, amounts, instant, ticket = row
        return Standing(area, lot, json.loads(amounts), instant, ticket)

    def ask(self, sql: str, parameters: tuple[object, ...]) -> sqlite3.Cursor:
        """Ask the file, once everything pending is written."""
        self.write_pending()
        return self.connection.execute(sql, parameters)

    def on_hand(self, area: str) -> list[Standing]:
        """Return everything recorded in the area, by lot."""
        rows = self.ask(
            "SELECT area, lot, amounts, last_instant, last_ticket FROM standing WHERE area = ? AND on_hand = 1 "
            "ORDER BY lot", (area,)
        )  # fmt: skip
        return [self.standing_from(row) for row in rows]

    def recorded(self, number: str) -> Recorded | None:
        """Return the ticket recorded under a number, or None."""
        row = self.ask(
            "SELECT t.seq, t.number, t.kind, t.instant, t.period, record.hash, r.number, c.number FROM ticket AS t "
            "JOIN record ON record.seq = t.seq LEFT JOIN ticket AS r ON r.reverses = t.seq "
            "LEFT JOIN ticket AS c ON c.corrects = t.seq WHERE t.number = ?", (number,)
        ).fetchone()  # fmt: skip
        return Recorded(*row) if row else None

    def lots_valued_by(self, ticket: int) -> list[int]:
        """Return the ids of the lots a ticket gave a determination, by lot."""
        rows = self.ask("SELECT DISTINCT lot FROM valuation WHERE ticket = ? ORDER BY lot", (ticket,))
        return [lot for (lot,) in rows]

    def last_valued_by(self, lot: int) -> int:
        """Return the ticket whose valuation of the lot now stands."""
        row = self.ask("SELECT ticket FROM valuation WHERE lot = ? ORDER BY id DESC LIMIT 1", (lot,)).fetchone()
        return cast(int, row[0])

    def missed_by(self, ticket: int) -> list[Missed]:
        """Return the lots still missed that this count did not find."""
        rows = self.ask("SELECT area, lot, amounts, ticket FROM missed WHERE ticket = ? ORDER BY area, lot", (ticket,))
        return [Missed(area, lot, json.loads(amounts), count) for area, lot, amounts, count in rows]

    def found_by(self, ticket: int) -> list[Missed]:
        """Return the lots that a ticket found again, with the count that had missed each."""
        rows = self.ask(
            "SELECT area, lot, content, (SELECT max(m.ticket) FROM line AS m WHERE m.lot = line.lot "
            "AND m.area = line.area AND m.side = 'not found' AND m.ticket < line.ticket) "
            "FROM line WHERE ticket = ? AND side IN ('found', 'missed no more') ORDER BY id", (ticket,)
        )  # fmt: skip
        return [Missed(area, lot, json.loads(amounts), count) for area, lot, amounts, count in rows]

    def postings(self, ticket: int) -> list[Posting]:
        """Return a ticket's postings, in order."""
        rows = self.ask(
            "SELECT ticket, line, instant, period, class, area, lot, party, terms, cause, move, origin, prior, metal, "
            "ng FROM posting WHERE ticket = ? ORDER BY id", (ticket,)
        )  # fmt: skip
        return [Posting(*row) for row in rows]

    def derived_from(self, determination: int) -> list[tuple[int, Fraction]]:
        """Return the determinations calculated from this one by tickets that stand, with ∂(theirs)/∂(this)."""
        rows = self.ask(
            "SELECT n.determination, n.weight FROM derivation AS n JOIN determination AS d ON d.id = n.determination "
            "WHERE n.source = ? AND NOT EXISTS (SELECT 1 FROM ticket WHERE reverses = d.ticket) ORDER BY n.id",
            (determination,),
        )
        return [(child, Fraction(weight)) for child, weight in rows]

    def awaits_take_on(self, area: str, count: str) -> bool:
        """Return whether the area was opened by a take-on and no other count of it has been ended since."""
        row = self.ask(
            "SELECT EXISTS (SELECT 1 FROM opened AS o WHERE area = ? "
            "AND NOT EXISTS (SELECT 1 FROM ticket WHERE reverses = o.ticket)) "
            "AND NOT EXISTS (SELECT 1 FROM count_sheet AS c WHERE area = ? AND count <> ? AND ended = 1 "
            "AND NOT EXISTS (SELECT 1 FROM ticket WHERE reverses = c.ticket))",
            (area, area, count),
        ).fetchone()
        return bool(row[0])

    def counted_elsewhere(self, lot: int, area: str, point: tuple[int, int]) -> bool:
        """Return whether another area counted the lot since it was last handled in this one, before (instant, seq).

        Nothing of it was recorded there: it is found, though not where the book had it.
        """
        row = self.ask(
            "SELECT EXISTS (SELECT 1 FROM line AS l JOIN ticket AS t ON t.seq = l.ticket WHERE l.lot = ? "
            "AND l.area <> ? AND l.side = 'count' AND (t.instant, t.seq) < (?, ?) "
            "AND t.instant >= (SELECT max(h.instant) FROM line AS h WHERE h.lot = l.lot AND h.area = ?) "
            "AND NOT EXISTS (SELECT 1 FROM json_each(l.recorded) WHERE value <> 0) "
            "AND NOT EXISTS (SELECT 1 FROM ticket AS r WHERE r.reverses = t.seq))", (lot, area, *point, area)
        ).fetchone()  # fmt: skip
        return bool(row[0])

    def sheet_readings(self, area: str, count: str) -> list[SheetReading]:
        """Return what the effective sheets of a count have said so far, in order."""
        rows = self.ask(
            "SELECT c.team, l.lot, l.content, l.scale FROM count_sheet AS c JOIN line AS l ON l.ticket = c.ticket "
            "WHERE c.area = ? AND c.count = ? AND l.side = 'count' "
            "AND NOT EXISTS (SELECT 1 FROM ticket WHERE reverses = c.ticket) ORDER BY l.id", (area, count)
        )  # fmt: skip
        return [SheetReading(team, lot, json.loads(amounts), scale) for team, lot, amounts, scale in rows]

    def period_of(self, ticket: int) -> str:
        """Return the period of a ticket, by its place in the book."""
        return str(self.ask("SELECT period FROM ticket WHERE seq = ?", (ticket,)).fetchone()[0])

    def touched_after(self, area: str, instant: int) -> list[Standing]:
        """Return the standings of the area that a ticket dated after the instant has touched."""
        rows = self.ask(
            "SELECT area, lot, amounts, last_instant, last_ticket FROM standing WHERE area = ? AND last_instant > ? "
            "ORDER BY lot", (area, instant)
        )  # fmt: skip
        return [self.standing_from(row) for row in rows]

    def amounts_at(self, area: str, lot: int, instant: int, metals: tuple[str, ...]) -> Amounts:
        """Return what is recorded of the lot in the area at an instant, as the book now knows it."""
        rows = self.ask(
            "SELECT metal, sum(ng) FROM posting WHERE ticket IN (SELECT ticket FROM line WHERE lot = ?) "
            "AND class = 'place' AND area = ? AND lot = ? AND instant <= ? GROUP BY metal", (lot, area, lot, instant)
        )  # fmt: skip
        found = dict(rows.fetchall())
        return [found.get(metal, 0) for metal in metals]

    def on_the_way(self, move: str) -> list[OnTheWay]:
        """Return what a move sent that has not arrived, by lot."""
        rows = self.ask("SELECT * FROM on_the_way WHERE move = ? ORDER BY lot", (move,))
        return [on_the_way_from(row) for row in rows]

    def sent_on(self, way: OnTheWay) -> str | None:
        """Return the scale a lot was weighed on when it was sent, or None."""
        row = self.ask(
            "SELECT scale FROM line WHERE ticket = (SELECT seq FROM ticket WHERE number = ?) AND lot = ? "
            "AND side = 'out'", (way.move, way.lot)
        ).fetchone()  # fmt: skip
        return cast("str | None", row[0]) if row else None

    def destination(self, move: str) -> tuple[str, int]:
        """Return where a move goes and when it left."""
        row = self.ask(
            "SELECT json_extract(record.body, '$.to'), t.instant FROM ticket AS t JOIN record ON record.seq = t.seq "
            "WHERE t.number = ?", (move,)
        ).fetchone()  # fmt: skip
        return row[0], row[1]

    def job_states_around(self, ticket: int) -> list[tuple[JobState | None, JobState]]:
        """Return the job states a ticket wrote, each with the one before it."""
        rows = self.ask(
            "SELECT s.id, s.lot FROM job_state AS s WHERE s.ticket = ? ORDER BY s.id", (ticket,)
        ).fetchall()  # fmt: skip
        found = []
        for id_, lot in rows:
            both = self.connection.execute(
                "SELECT lot, area, operation, opened, mass_in, fume_due, surface, calculated, done FROM job_state "
                "WHERE lot = ? AND id <= ? ORDER BY id DESC LIMIT 2", (lot, id_)
            ).fetchall()  # fmt: skip
            found.append((job_from(both[1]) if len(both) > 1 else None, job_from(both[0])))
        return found

    def calibrations(self, scale: str) -> list[int]:
        """Return when checks found the scale calibrated anew, by tickets that stand, in order."""
        rows = self.ask(
            "SELECT t.instant FROM checked AS c JOIN ticket AS t ON t.seq = c.ticket WHERE c.scale = ? "
            "AND c.calibrated = 1 AND NOT EXISTS (SELECT 1 FROM ticket AS r WHERE r.reverses = t.seq) "
            "ORDER BY t.instant", (scale,)
        )  # fmt: skip
        return [instant for (instant,) in rows]

    def related(self, lot: int, other: int) -> bool:
        """Return whether one of two lots is a parent of the other."""
        row = self.ask(
            "SELECT EXISTS (SELECT 1 FROM parent WHERE (lot = ? AND parent = ?) OR (lot = ? AND parent = ?))",
            (lot, other, other, lot),
        ).fetchone()
        return bool(row[0])

    def balance(self, class_: str, metal: str, *, area: str = "", party: str = "", terms: str = "") -> int:
        """Return what stands on an account other than a place, in nanograms."""
        row = self.ask(
            "SELECT coalesce(sum(ng), 0) FROM period_sum "
            "WHERE class = ? AND metal = ? AND area = ? AND party = ? AND terms = ?",
            (class_, metal, area, party, terms),
        ).fetchone()
        return cast(int, row[0])
