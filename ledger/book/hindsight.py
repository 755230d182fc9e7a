"""What a correction asks of the book: how a lot stood at an earlier date, and what later tickets made of it.

Earlier and later go by the date a ticket counts at, and for one date by the place of the ticket in the book; a
correction takes the place of the first ticket that it corrects.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Final, NamedTuple

from ledger.book.amounts import Amounts, Composition
from ledger.book.lots import Valuation
from ledger.book.past import Missed
from ledger.book.shelf import Shelf
from ledger.book.stored import composition_from

#: Whether posting p of ticket t comes before the point (?1, ?2), ?3 being the tickets corrected in turn.
_BEFORE: Final = """(p.instant < ?1 OR (p.instant = ?1 AND (coalesce(t.reverses, t.corrects, t.seq) <= ?2
    OR t.reverses IN (SELECT value FROM json_each(?3)) OR t.seq IN (SELECT value FROM json_each(?3)))))"""


class Point(NamedTuple):
    """A moment of the book: an instant, and a ticket's place among those of that instant."""

    instant: int
    seq: int


class Event(NamedTuple):
    """A later ticket that fixed what stands of a lot in an area.

    It emptied or counted the lot, or found it again; or assayed it, and so fixed its content. ``composition`` is the
    assay's; an assay, discard or settlement ``trues_up`` an estimate.
    """

    point: Point
    period: str
    origin: str
    trues_up: bool
    composition: Composition | None


class Handled(NamedTuple):
    """A line of a later ticket, recorded under a determination that a correction changes."""

    point: Point
    period: str
    number: str
    kind: str
    side: str
    area: str
    lot: int
    determination: int
    settles: bool
    taken: bool
    mass: int
    given: int
    job: int | None
    job_done: bool
    take_on: int
    move: str | None
    sender: str
    row: int


def corrected_in_turn(shelf: Shelf, corrected: int) -> list[int]:
    """Return a corrected ticket, the one that it corrected, and so on to the first."""
    chain = [corrected]
    while True:
        row = shelf.ask("SELECT corrects FROM ticket WHERE seq = ?", (chain[-1],)).fetchone()
        if row[0] is None:
            return chain
        chain.append(row[0])


def valuation_at(shelf: Shelf, lot: int, point: Point) -> Valuation | None:
    """Return what was known of a lot just before a point, as the book now knows it; None when it did not exist."""
    row = shelf.ask(
        "SELECT max(v.id) FROM valuation AS v JOIN ticket AS t ON t.seq = v.ticket "
        "JOIN determination AS d ON d.id = v.determination JOIN ticket AS made ON made.seq = d.ticket "
        "WHERE v.lot = ? AND t.reverses IS NULL AND (made.instant, made.seq) < (?, ?) "
        "AND (t.instant < ? OR (t.instant = ? AND t.seq < ?)) "
        "AND NOT EXISTS (SELECT 1 FROM ticket AS r WHERE r.reverses = v.ticket)",
        (lot, *point, point.instant, *point),
    ).fetchone()  # fmt: skip
    return shelf.valuation(row[0]) if row[0] is not None else None


def later(shelf: Shelf, ticket: int, point: Point) -> bool:
    """Return whether a ticket comes after a point."""
    row = shelf.ask("SELECT instant, seq FROM ticket WHERE seq = ?", (ticket,)).fetchone()
    return (row[0], row[1]) > point


def melt_at(shelf: Shelf, determination: int, point: Point) -> list[int]:
    """Return the lots that shared a determination just before a point."""
    rows = shelf.ask("SELECT DISTINCT lot FROM valuation WHERE determination = ? ORDER BY lot", (determination,))
    found = []
    for (lot,) in rows.fetchall():
        then = valuation_at(shelf, lot, point)
        if then is not None and then.determination is not None and then.determination.id == determination:
            found.append(lot)
    return found


def events_after(
    shelf: Shelf, area: str, lot: int, point: Point, *, recorded_after: int = 0, row: int | None = None
) -> list[Event]:
    """Return the effective later tickets that fixed what stands of a lot in an area, up to the first that emptied it.

    With ``recorded_after`` only those that were recorded after that ticket; with the ``row`` of a line of the point's
    ticket also what that ticket's further lines fixed.
    """
    rows = shelf.ask(
        "SELECT t.instant, t.seq, t.period, CASE WHEN t.kind IN ('assay', 'discard', 'settle') THEN 'revaluation' "
        "WHEN l.side = 'job' THEN 'work' WHEN c.take_on = 1 THEN 'take_on' "
        "WHEN c.ticket IS NOT NULL OR l.side = 'found' THEN 'count' ELSE 'reweighing' END, "
        "(SELECT d.composition FROM determination AS d WHERE d.ticket = t.seq AND l.side = 'assay') "
        "FROM line AS l JOIN ticket AS t ON t.seq = l.ticket LEFT JOIN count_sheet AS c ON c.ticket = t.seq "
        "WHERE l.lot = ? AND l.area = ? AND (l.settles = 1 OR l.side IN ('assay', 'found')) "
        "AND ((t.instant, t.seq) > (?, ?) OR (t.seq = ? AND l.id > ?)) AND t.seq > ? "
        "AND NOT EXISTS (SELECT 1 FROM ticket AS r WHERE r.reverses = t.seq) ORDER BY t.instant, t.seq, l.id",
        (lot, area, *point, point.seq, row, recorded_after),
    ).fetchall()  # fmt: skip
    events: list[Event] = []
    for instant, seq, period, origin, composition in rows:
        if events and events[-1].point.seq == seq:
            continue
        made = composition_from(composition) if composition else None
        events.append(Event(Point(instant, seq), period, origin, origin == "revaluation", made))
        if made is None:
            break
    return events


def lines_under(shelf: Shelf, determinations: Iterable[int], point: Point) -> list[Handled]:
    """Return the lines of effective tickets later than a point under any of the determinations, in order."""
    rows = shelf.ask(
        "SELECT t.instant, t.seq, t.period, t.number, t.kind, l.side, l.area, l.lot, l.determination, l.settles, "
        "l.recorded IS NOT NULL, json_extract(l.content, '$[0]'), coalesce(json_extract(l.given, '$[0]'), 0), "
        "j.lot, coalesce(j.settles, 0), coalesce(c.take_on, 0), "
        "p.move, coalesce(p.area, l.area), l.id "
        "FROM line AS l JOIN ticket AS t ON t.seq = l.ticket LEFT JOIN count_sheet AS c ON c.ticket = t.seq "
        "LEFT JOIN line AS j ON j.ticket = t.seq AND j.side = 'job' "
        "LEFT JOIN posting AS p ON p.id = (SELECT min(id) FROM posting WHERE ticket = t.seq AND line = l.number "
        "AND class = 'transit') "
        "WHERE l.determination IN (SELECT value FROM json_each(?)) AND (t.instant, t.seq) > (?, ?) "
        "AND +t.reverses IS NULL AND l.side NOT IN ('assay', 'revalued', 'missed no more', 'not found', 'job') "
        "AND NOT EXISTS (SELECT 1 FROM ticket AS r WHERE r.reverses = t.seq) ORDER BY t.instant, t.seq, l.id",
        (json.dumps(sorted(determinations)), *point),
    )  # fmt: skip
    return [
        Handled(Point(instant, seq), period, number, kind, side, area, lot, made, bool(settles), bool(taken), *rest)
        for instant, seq, period, number, kind, side, area, lot, made, settles, taken, *rest in rows
    ]


def missed_under(shelf: Shelf, determinations: Iterable[int]) -> list[tuple[Missed, int]]:
    """Return what is missed, and the determination under which it was last recorded, of those that are among them."""
    rows = shelf.ask(
        "SELECT m.area, m.lot, m.amounts, m.ticket, max(l.determination) FROM missed AS m "
        "JOIN line AS l ON l.ticket = m.ticket AND l.lot = m.lot AND l.area = m.area "
        "WHERE l.determination IN (SELECT value FROM json_each(?)) GROUP BY 1, 2 ORDER BY 1, 2",
        (json.dumps(sorted(determinations)),),
    )  # fmt: skip
    return [(Missed(area, lot, json.loads(amounts), ticket), made) for area, lot, amounts, ticket, made in rows]


def valued_under(shelf: Shelf, determinations: Iterable[int]) -> list[tuple[int, int, Valuation]]:
    """Return (lot, determination, valuation) of every standing valuation under the determinations, in order."""
    rows = shelf.ask(
        "SELECT v.lot, v.determination, v.id FROM valuation AS v JOIN ticket AS t ON t.seq = v.ticket "
        "WHERE v.determination IN (SELECT value FROM json_each(?)) AND +t.reverses IS NULL "
        "AND NOT EXISTS (SELECT 1 FROM ticket AS r WHERE r.reverses = v.ticket) ORDER BY v.id",
        (json.dumps(sorted(determinations)),),
    ).fetchall()  # fmt: skip
    return [(lot, determination, shelf.valuation(id_)) for lot, determination, id_ in rows]


def amounts_before(
    shelf: Shelf, area: str, lot: int, point: Point, chain: list[int], metals: tuple[str, ...]
) -> Amounts:
    """Return what is recorded of the lot in the area just before a point, as the book now knows it.

    A posting counts at its own date; of those at the point's date, the ones of earlier tickets, and of what undid or
    replaced them. ``chain`` are the tickets corrected in turn, which their reversals undo.
    """
    rows = shelf.ask(
        "SELECT p.metal, sum(p.ng) FROM posting AS p JOIN ticket AS t ON t.seq = p.ticket "
        "WHERE p.ticket IN (SELECT ticket FROM line WHERE lot = ?5) AND p.class = 'place' AND p.area = ?4 "
        f"AND p.lot = ?5 AND {_BEFORE} GROUP BY p.metal", (*point, json.dumps(chain), area, lot)
    )  # fmt: skip
    found = dict(rows.fetchall())
    return [found.get(metal, 0) for metal in metals]


def difference_before(shelf: Shelf, area: str, metal: str, point: Point, chain: list[int]) -> int:
    """Return what stood on an area's difference just before a point, as the book now knows it, in nanograms."""
    row = shelf.ask(
        "SELECT coalesce(sum(p.ng), 0) FROM posting AS p JOIN ticket AS t ON t.seq = p.ticket "
        f"WHERE p.class = 'difference' AND p.area = ?4 AND p.metal = ?5 AND {_BEFORE}",
        (*point, json.dumps(chain), area, metal),
    ).fetchone()  # fmt: skip
    return int(row[0])


def found_later(shelf: Shelf, area: str, lot: int, point: Point) -> bool:
    """Return whether an effective later ticket found a lot that a count at this point misses in an area."""
    row = shelf.ask(
        "SELECT EXISTS (SELECT 1 FROM line AS l JOIN ticket AS t ON t.seq = l.ticket WHERE l.lot = ? AND l.area = ? "
        "AND l.side IN ('found', 'missed no more') AND (t.instant, t.seq) > (?, ?) "
        "AND NOT EXISTS (SELECT 1 FROM ticket AS r WHERE r.reverses = t.seq))", (lot, area, *point)
    ).fetchone()  # fmt: skip
    return bool(row[0])


def handled_in(shelf: Shelf, area: str) -> list[int]:
    """Return every lot that a ticket has handled in an area, by lot."""
    rows = shelf.ask("SELECT lot FROM standing WHERE area = ? ORDER BY lot", (area,))
    return [lot for (lot,) in rows]


def areas_of(shelf: Shelf, lot: int) -> list[str]:
    """Return every area in which a ticket has handled the lot, by code."""
    rows = shelf.ask("SELECT DISTINCT area FROM line WHERE lot = ? ORDER BY area", (lot,))
    return [area for (area,) in rows]
