"""What the book knows of lots and stock at this moment, read when asked for and kept while tickets enter."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, NamedTuple, cast

from ledger.book.amounts import Amounts, Composition
from ledger.book.lots import Basis, Determination, Lot, Origin, Standing, Valuation

_LOT = """
    SELECT id, number, kind, made_by, form, class, alloy, clad, owner, serial, layer,
           (SELECT max(valuation.id) FROM valuation WHERE valuation.lot = lot.id) FROM lot WHERE """
_VALUATION = """
    SELECT v.origin, v.awaiting, d.id, d.ticket, d.basis, d.composition, d.method, d.sd
    FROM valuation AS v LEFT JOIN determination AS d ON d.id = v.determination WHERE v.id = ?"""


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
    kind: str
    instant: int
    period: str
    hash: bytes
    reversed_by: str | None
    corrected_by: str | None


class Gone(NamedTuple):
    """Metal that left the plant under a determination: which, and its metallic mass."""

    determination: int
    mass: int


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
    origin: str | None
    prior: int
    metal: str
    ng: int


@dataclass(frozen=True, slots=True)
class Settling:
    """The first later ticket that emptied or counted a lot in an area, so that it keeps the stock this left."""

    instant: int
    period: str
    origin: str


def composition_json(composition: Composition) -> str:
    """Return a composition as a JSON array of exact fractions, for the file."""
    return json.dumps([str(f) for f in composition])


def composition_from(text: str) -> Composition:
    """Return the composition stored as a JSON array of exact fractions."""
    return tuple(Fraction(f) for f in json.loads(text))


def origin_json(origin: Origin) -> str | None:
    """Return an estimate's origin as JSON for the file; None when there is none."""
    if not origin:
        return None
    return json.dumps([[class_, area, [str(s) for s in shares]] for (class_, area), shares in origin.items()])


def origin_from(text: str | None) -> Origin:
    """Return the origin stored as JSON."""
    rows = json.loads(text) if text else []
    return {(class_, area): tuple(Fraction(s) for s in shares) for class_, area, shares in rows}


class Shelf:
    """Lots and stock of one book. Read on demand; `keep` holds what the tickets being entered changed.

    Everything handed out may be shared: a caller copies before it changes.
    """

    def __init__(self, connection: sqlite3.Connection, write_pending: Callable[[], None] = lambda: None) -> None:
        self.connection = connection
        self.write_pending = write_pending
        self._lots: dict[str, Lot | None] = {}
        self._numbers: dict[int, str] = {}
        self._standings: dict[tuple[str, int], Standing | None] = {}
        self._compositions: dict[str, Composition] = {}
        self._clocks: dict[str, tuple[int, str] | None] = {}
        self._hashes: dict[str, bytes] = {}
        self._void: dict[str, str] | None = None

    def forget(self) -> None:
        """Empty the cache; everything must have been written."""
        self.__init__(self.connection, self.write_pending)  # type: ignore[misc]

    def __len__(self) -> int:
        return len(self._lots) + len(self._standings)

    def lot(self, number: str) -> Lot | None:
        """Return the lot of that number, or None."""
        if number not in self._lots:
            row = self.connection.execute(_LOT + "number = ?", (number,)).fetchone()
            self._remember(number, row)
        return self._lots[number]

    def lot_by_id(self, lot: int) -> Lot:
        """Return the lot of that id, which must exist."""
        if lot not in self._numbers:
            row = self.connection.execute(_LOT + "id = ?", (lot,)).fetchone()
            self._remember(row[1], row)
        return cast(Lot, self._lots[self._numbers[lot]])

    def _remember(self, number: str, row: tuple[Any, ...] | None) -> None:
        self._lots[number] = lot = self._lot_from(row) if row else None
        if lot:
            self._numbers[lot.id] = number

    def _lot_from(self, row: tuple[Any, ...]) -> Lot:
        id_, number, kind, made_by, form, class_, alloy, clad, owner, serial, layer, valuation = row
        return Lot(
            id_, number, kind, made_by, form, class_, alloy, clad, owner, serial,
            composition_from(layer) if layer else None, self.valuation(valuation),
        )  # fmt: skip

    def valuation_before(self, lot: int, ticket: int) -> Valuation | None:
        """Return what stood of the lot before a ticket, by the latest earlier ticket that is not reversed."""
        row = self._ask(
            "SELECT max(id) FROM valuation AS v WHERE lot = ? AND ticket < ? AND determination IS NOT NULL "
            "AND NOT EXISTS (SELECT 1 FROM ticket AS r WHERE r.reverses = v.ticket OR r.seq = v.ticket "
            "AND r.reverses IS NOT NULL)", (lot, ticket)
        ).fetchone()  # fmt: skip
        return self.valuation(row[0]) if row[0] is not None else None

    def valuation(self, valuation: int) -> Valuation:
        """Return one stored valuation by its id."""
        origin, awaiting, *rest = self.connection.execute(_VALUATION, (valuation,)).fetchone()
        return Valuation(self._determination_from(rest) if rest[0] else None, origin_from(origin), awaiting)

    def _determination_from(self, row: list[object]) -> Determination:
        id_, ticket, basis, text, method, sd = row
        composition = self._compositions.get(cast(str, text))
        if composition is None:
            composition = self._compositions[cast(str, text)] = composition_from(cast(str, text))
        return Determination(
            cast(int, id_), cast(int, ticket), cast(Basis, basis), composition,
            cast("str | None", method), Fraction(cast(str, sd)) if sd else None,
        )  # fmt: skip

    def standing(self, area: str, lot: int) -> Standing | None:
        """Return what is recorded of the lot in the area, or None when it never was there."""
        key = (area, lot)
        if key not in self._standings:
            row = self.connection.execute(
                "SELECT area, lot, amounts, last_instant, last_ticket FROM standing WHERE area = ? AND lot = ?", key
            ).fetchone()
            self._standings[key] = self._standing_from(row) if row else None
        return self._standings[key]

    @staticmethod
    def _standing_from(row: tuple[str, int, str, int, str]) -> Standing:
        area, lot, amounts, instant, ticket = row
        return Standing(area, lot, json.loads(amounts), instant, ticket)

    def clock(self, area: str) -> tuple[int, str] | None:
        """Return the instant and number of the latest-dated ticket of an area, or None."""
        if area not in self._clocks:
            row = self.connection.execute("SELECT instant, ticket FROM area_clock WHERE area = ?", (area,)).fetchone()
            self._clocks[area] = row
        return self._clocks[area]

    def keep_clock(self, area: str, instant: int, ticket: str) -> None:
        """Take over the latest-dated ticket of an area."""
        self._clocks[area] = (instant, ticket)

    def recorded_hash(self, number: str) -> bytes | None:
        """Return the hash of the ticket recorded under a number, or None."""
        if number in self._hashes:
            return self._hashes[number]
        row = self.connection.execute(
            "SELECT hash FROM record WHERE seq = (SELECT seq FROM ticket WHERE number = ?)", (number,)
        ).fetchone()
        return row[0] if row else None

    def keep_hash(self, number: str, hash_: bytes) -> None:
        """Take over the hash of a ticket just recorded."""
        self._hashes[number] = hash_

    def keep(self, lots: Iterable[Lot], standings: Iterable[Standing]) -> None:
        """Take over what a recorded ticket changed."""
        for lot in lots:
            self._lots[lot.number] = lot
            self._numbers[lot.id] = lot.number
        for standing in standings:
            self._standings[standing.area, standing.lot] = standing

    # What follows reads the file, once everything pending is written.

    def _ask(self, sql: str, parameters: tuple[object, ...]) -> sqlite3.Cursor:
        self.write_pending()
        return self.connection.execute(sql, parameters)

    def places(self, lot: int) -> list[Standing]:
        """Return where the lot stands, by area."""
        rows = self._ask(
            "SELECT area, lot, amounts, last_instant, last_ticket FROM standing WHERE lot = ? AND on_hand = 1 "
            "ORDER BY area", (lot,)
        )  # fmt: skip
        return [self._standing_from(row) for row in rows]

    def on_hand(self, area: str) -> list[Standing]:
        """Return everything recorded in the area, by lot."""
        rows = self._ask(
            "SELECT area, lot, amounts, last_instant, last_ticket FROM standing WHERE area = ? AND on_hand = 1 "
            "ORDER BY lot", (area,)
        )  # fmt: skip
        return [self._standing_from(row) for row in rows]

    def missed(self, lot: int) -> list[Missed]:
        """Return where ended counts did not find the lot, by area."""
        rows = self._ask(
            "SELECT area, lot, amounts, ticket FROM missed WHERE lot = ? ORDER BY area", (lot,)
        )
        return [Missed(area, lot_, json.loads(amounts), ticket) for area, lot_, amounts, ticket in rows]

    def recorded(self, number: str) -> Recorded | None:
        """Return the ticket recorded under a number, or None."""
        row = self._ask(
            "SELECT t.seq, t.kind, t.instant, t.period, record.hash, r.number, c.number FROM ticket AS t "
            "JOIN record ON record.seq = t.seq LEFT JOIN ticket AS r ON r.reverses = t.seq "
            "LEFT JOIN ticket AS c ON c.corrects = t.seq WHERE t.number = ?", (number,)
        ).fetchone()  # fmt: skip
        return Recorded(*row) if row else None

    def voided_by(self, number: str) -> str | None:
        """Return the ticket that declared a number spoiled, or None."""
        if self._void is None:
            rows = self._ask("SELECT v.number, t.number FROM void_number AS v JOIN ticket AS t ON t.seq = v.ticket", ())
            self._void = dict(rows.fetchall())
        return self._void.get(number)

    def keep_void(self, numbers: Iterable[str], ticket: str) -> None:
        """Take over numbers just declared spoiled."""
        if self._void is not None:
            self._void.update(dict.fromkeys(numbers, ticket))

    def number_used(self, number: str) -> bool:
        """Return whether a ticket bears the number or a void names it."""
        return self.recorded(number) is not None or self.voided_by(number) is not None

    def lots_valued_by(self, ticket: int) -> list[int]:
        """Return the ids of the lots a ticket gave a determination, by lot."""
        rows = self._ask("SELECT DISTINCT lot FROM valuation WHERE ticket = ? ORDER BY lot", (ticket,))
        return [lot for (lot,) in rows]

    def last_valued_by(self, lot: int) -> int:
        """Return the ticket whose valuation of the lot now stands."""
        row = self._ask("SELECT ticket FROM valuation WHERE lot = ? ORDER BY id DESC LIMIT 1", (lot,)).fetchone()
        return cast(int, row[0])

    def missed_by(self, ticket: int) -> list[Missed]:
        """Return the lots still missed that this count did not find."""
        rows = self._ask("SELECT area, lot, amounts, ticket FROM missed WHERE ticket = ? ORDER BY area, lot", (ticket,))
        return [Missed(area, lot, json.loads(amounts), count) for area, lot, amounts, count in rows]

    def found_by(self, ticket: int) -> list[Missed]:
        """Return the lots that a ticket found again, with the count that had missed each."""
        rows = self._ask(
            "SELECT area, lot, content, (SELECT max(m.ticket) FROM line AS m WHERE m.lot = line.lot "
            "AND m.area = line.area AND m.side = 'not found' AND m.ticket < line.ticket) "
            "FROM line WHERE ticket = ? AND side IN ('found', 'missed no more') ORDER BY id", (ticket,)
        )  # fmt: skip
        return [Missed(area, lot, json.loads(amounts), count) for area, lot, amounts, count in rows]

    def postings(self, ticket: int) -> list[Posting]:
        """Return a ticket's postings, in order."""
        rows = self._ask(
            "SELECT ticket, line, instant, period, class, area, lot, party, terms, cause, origin, prior, metal, ng "
            "FROM posting WHERE ticket = ? ORDER BY id", (ticket,)
        )  # fmt: skip
        return [Posting(*row) for row in rows]

    def determinations_by(self, ticket: int) -> list[tuple[int, Determination]]:
        """Return the determinations a ticket gave, with their lots."""
        rows = self._ask(
            "SELECT v.lot, d.id, d.ticket, d.basis, d.composition, d.method, d.sd FROM valuation AS v "
            "JOIN determination AS d ON d.id = v.determination WHERE v.ticket = ? AND d.ticket = v.ticket "
            "ORDER BY v.id", (ticket,)
        )  # fmt: skip
        return [(lot, self._determination_from(rest)) for lot, *rest in rows]

    def derived_from(self, determination: int) -> list[tuple[int, Fraction]]:
        """Return the determinations calculated from this one by tickets that stand, with ∂(theirs)/∂(this)."""
        rows = self._ask(
            "SELECT n.determination, n.weight FROM derivation AS n JOIN determination AS d ON d.id = n.determination "
            "WHERE n.source = ? AND NOT EXISTS (SELECT 1 FROM ticket WHERE reverses = d.ticket) ORDER BY n.id",
            (determination,),
        )
        return [(child, Fraction(weight)) for child, weight in rows]

    def left_under(self, determinations: list[int]) -> list[Gone]:
        """Return what was shipped, settled or discarded under the determinations, by tickets that stand."""
        rows = self._ask(
            "SELECT l.determination, json_extract(l.content, '$[0]') FROM line AS l "
            "JOIN ticket AS t ON t.seq = l.ticket WHERE l.side = 'out' AND t.kind IN ('ship', 'settle', 'discard') "
            "AND l.determination IN (SELECT value FROM json_each(?)) "
            "AND NOT EXISTS (SELECT 1 FROM ticket WHERE reverses = t.seq) ORDER BY l.id", (json.dumps(determinations),)
        )  # fmt: skip
        return [Gone(*row) for row in rows]

    def melt(self, determination: int) -> list[Lot]:
        """Return the lots on hand that share a determination."""
        rows = self._ask(
            "SELECT DISTINCT lot FROM valuation AS v WHERE determination = ? AND id = "
            "(SELECT max(id) FROM valuation WHERE lot = v.lot) ORDER BY lot", (determination,)
        )  # fmt: skip
        return [self.lot_by_id(lot) for (lot,) in rows.fetchall()]

    def awaits_take_on(self, area: str, count: str) -> bool:
        """Return whether the area was opened by a take-on and no other count of it has been ended since."""
        row = self._ask(
            "SELECT EXISTS (SELECT 1 FROM opened AS o WHERE area = ? "
            "AND NOT EXISTS (SELECT 1 FROM ticket WHERE reverses = o.ticket)) "
            "AND NOT EXISTS (SELECT 1 FROM count_sheet AS c WHERE area = ? AND count <> ? AND ended = 1 "
            "AND NOT EXISTS (SELECT 1 FROM ticket WHERE reverses = c.ticket))",
            (area, area, count),
        ).fetchone()
        return bool(row[0])

    def sheet_readings(self, area: str, count: str) -> list[SheetReading]:
        """Return what the effective sheets of a count have said so far, in order."""
        rows = self._ask(
            "SELECT c.team, l.lot, l.content, l.scale FROM count_sheet AS c JOIN line AS l ON l.ticket = c.ticket "
            "WHERE c.area = ? AND c.count = ? AND l.side = 'count' "
            "AND NOT EXISTS (SELECT 1 FROM ticket WHERE reverses = c.ticket) ORDER BY l.id", (area, count)
        )  # fmt: skip
        return [SheetReading(team, lot, json.loads(amounts), scale) for team, lot, amounts, scale in rows]

    def period_of(self, ticket: int) -> str:
        """Return the period of a ticket, by its place in the book."""
        return str(self._ask("SELECT period FROM ticket WHERE seq = ?", (ticket,)).fetchone()[0])

    def touched_after(self, area: str, instant: int) -> list[Standing]:
        """Return the standings of the area that a ticket dated after the instant has touched."""
        rows = self._ask(
            "SELECT area, lot, amounts, last_instant, last_ticket FROM standing WHERE area = ? AND last_instant > ? "
            "ORDER BY lot", (area, instant)
        )  # fmt: skip
        return [self._standing_from(row) for row in rows]

    def amounts_at(self, area: str, lot: int, instant: int, metals: tuple[str, ...]) -> Amounts:
        """Return what is recorded of the lot in the area at an instant, as the book now knows it."""
        rows = self._ask(
            "SELECT metal, sum(ng) FROM posting WHERE ticket IN (SELECT ticket FROM line WHERE lot = ?) "
            "AND class = 'place' AND area = ? AND lot = ? AND instant <= ? GROUP BY metal", (lot, area, lot, instant)
        )  # fmt: skip
        found = dict(rows.fetchall())
        return [found.get(metal, 0) for metal in metals]

    def places_at(self, lot: int, instant: int, metals: tuple[str, ...]) -> list[Standing]:
        """Return where the lot stood at an instant, as the book now knows it."""
        areas = self._ask("SELECT DISTINCT area FROM line WHERE lot = ? ORDER BY area", (lot,)).fetchall()
        stood = [Standing(area, lot, self.amounts_at(area, lot, instant, metals), instant, "") for (area,) in areas]
        return [standing for standing in stood if standing.on_hand]

    def settled_after(self, area: str, lot: int, instant: int, seq: int) -> Settling | None:
        """Return the first effective ticket after (instant, seq) that emptied or counted the lot in the area."""
        row = self._ask(
            "SELECT t.instant, t.period, CASE WHEN c.take_on = 1 THEN 'take_on' WHEN c.ticket IS NOT NULL THEN 'count' "
            "ELSE 'reweighing' END FROM line AS l JOIN ticket AS t ON t.seq = l.ticket "
            "LEFT JOIN count_sheet AS c ON c.ticket = t.seq "
            "WHERE l.lot = ? AND l.area = ? AND l.settles = 1 AND (t.instant, t.seq) > (?, ?) "
            "AND NOT EXISTS (SELECT 1 FROM ticket AS r WHERE r.reverses = t.seq) "
            "ORDER BY t.instant, t.seq LIMIT 1", (lot, area, instant, seq)
        ).fetchone()  # fmt: skip
        return Settling(*row) if row else None

    def balance(self, class_: str, metal: str, *, area: str = "", party: str = "", terms: str = "") -> int:
        """Return what stands on an account other than a place, in nanograms."""
        row = self._ask(
            "SELECT coalesce(sum(ng), 0) FROM period_sum "
            "WHERE class = ? AND metal = ? AND area = ? AND party = ? AND terms = ?",
            (class_, metal, area, party, terms),
        ).fetchone()
        return cast(int, row[0])
