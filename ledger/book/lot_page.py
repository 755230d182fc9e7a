"""One lot, with everything the book says of it: determination, places, kin, and the tickets that touched it.

Reads only. Every amount is in whole nanograms, in the book's order, gross first.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from ledger.book.aims import Aim, aims_of
from ledger.book.amounts import Amounts
from ledger.book.holdings import (
    DESCRIPTION,
    TICKET_STANDS,
    Description,
    Held,
    NotFound,
    PlantFacts,
    amounts_from,
    stored,
)


@dataclass(frozen=True, slots=True)
class Determined:
    """A lot's determination: finenesses in the book's order, its basis and method, and the ticket that gave it."""

    composition: tuple[Fraction, ...]
    basis: str
    method: str | None
    sd: Fraction | None
    ticket: str
    at: str


@dataclass(frozen=True, slots=True)
class Relative:
    """A lot this one was made from, or that was made from it, and the ticket that made it."""

    lot: str
    ticket: str


@dataclass(frozen=True, slots=True)
class Event:
    """What one ticket did to the lot in one area: its change of recorded content there, in the book's order."""

    ticket: str
    kind: str
    at: str
    by: str
    area: str
    side: str
    scale: str | None
    change: Amounts
    reverses: str | None
    reversed_by: str | None


@dataclass(frozen=True, slots=True)
class LotPage:
    """Everything the book says of one lot."""

    described: Description
    made_by: str
    made_at: str
    layer: tuple[Fraction, ...] | None
    determined: Determined | None
    aims: tuple[Aim, ...]
    stands: tuple[Held, ...]
    not_found: tuple[NotFound, ...]
    parents: tuple[Relative, ...]
    children: tuple[Relative, ...]
    history: tuple[Event, ...]


def lot_page(connection: sqlite3.Connection, facts: PlantFacts, number: str) -> LotPage | None:
    """Return everything the book says of a lot, or None where no ticket names it."""
    row = connection.execute(
        f"SELECT lot.id, {DESCRIPTION}, lot.layer, t.number, json_extract(r.body, '$.at') FROM lot "
        "JOIN ticket AS t ON t.seq = lot.made_by JOIN record AS r ON r.seq = t.seq WHERE lot.number = ?", (number,)
    ).fetchone()  # fmt: skip
    if row is None:
        return None
    lot, described, layer = row[0], Description(*row[1:9]), row[9]
    determined = _determined(connection, lot)
    basis = determined.basis if determined else None
    return LotPage(
        described, row[10], row[11], _fractions(layer) if layer else None, determined, aims_of(connection, lot),
        tuple(Held(area, described, basis, amounts) for area, amounts in _places(connection, lot)),
        tuple(_not_found_of(connection, lot, described)),
        _relatives(connection, lot, "parent", "lot"), _relatives(connection, lot, "lot", "parent"),
        tuple(_history(connection, facts, lot)),
    )  # fmt: skip


def _fractions(text: str) -> tuple[Fraction, ...]:
    return tuple(Fraction(f) for f in stored(text))


def _determined(connection: sqlite3.Connection, lot: int) -> Determined | None:
    row = connection.execute(
        "SELECT d.composition, d.basis, d.method, d.sd, t.number, json_extract(r.body, '$.at') FROM valuation AS v "
        "JOIN determination AS d ON d.id = v.determination JOIN ticket AS t ON t.seq = d.ticket "
        "JOIN record AS r ON r.seq = d.ticket WHERE v.id = (SELECT max(id) FROM valuation WHERE lot = ?)", (lot,)
    ).fetchone()  # fmt: skip
    if row is None:
        return None
    composition, basis, method, sd, ticket, at = row
    return Determined(_fractions(composition), basis, method, Fraction(sd) if sd else None, ticket, at)


def _places(connection: sqlite3.Connection, lot: int) -> list[tuple[str, Amounts]]:
    rows = connection.execute(
        "SELECT area, amounts FROM standing WHERE lot = ? AND on_hand = 1 ORDER BY area", (lot,)
    )
    return [(area, amounts_from(amounts)) for area, amounts in rows]


def _not_found_of(connection: sqlite3.Connection, lot: int, described: Description) -> Iterable[NotFound]:
    rows = connection.execute(
        "SELECT m.area, t.number, m.amounts FROM missed AS m JOIN ticket AS t ON t.seq = m.ticket WHERE m.lot = ? "
        "ORDER BY m.area", (lot,)
    )  # fmt: skip
    return [NotFound(area, described, count, amounts_from(amounts)) for area, count, amounts in rows]


def _relatives(connection: sqlite3.Connection, lot: int, wanted: str, known: str) -> tuple[Relative, ...]:
    rows = connection.execute(
        f"SELECT lot.number, t.number FROM parent AS p JOIN lot ON lot.id = p.{wanted} "
        f"JOIN ticket AS t ON t.seq = p.ticket WHERE p.{known} = ? AND {TICKET_STANDS.format('t')} "
        "ORDER BY p.id", (lot,)
    )  # fmt: skip
    return tuple(Relative(*row) for row in rows)


def _history(connection: sqlite3.Connection, facts: PlantFacts, lot: int) -> Iterable[Event]:
    changes = _changes(connection, facts, lot)
    rows = connection.execute(
        "SELECT t.seq, t.number, t.kind, json_extract(r.body, '$.at'), json_extract(r.body, '$.by'), l.area, "
        "group_concat(DISTINCT l.side), max(l.scale), o.number, b.number FROM line AS l "
        "JOIN ticket AS t ON t.seq = l.ticket JOIN record AS r ON r.seq = t.seq "
        "LEFT JOIN ticket AS o ON o.seq = t.reverses LEFT JOIN ticket AS b ON b.reverses = t.seq WHERE l.lot = ? "
        "GROUP BY t.seq, l.area ORDER BY t.instant, t.seq, min(l.id)", (lot,)
    )  # fmt: skip
    nothing = [0] * (1 + len(facts.metals))
    for seq, number, kind, at, by, area, sides, scale, *reversal in rows:
        side = ", ".join(sides.split(","))
        yield Event(number, kind, at, by, area, side, scale, changes.pop((seq, area), nothing), *reversal)


def _changes(connection: sqlite3.Connection, facts: PlantFacts, lot: int) -> dict[tuple[int, str], Amounts]:
    rows = connection.execute(
        "SELECT ticket, area, metal, sum(ng) FROM posting WHERE ticket IN (SELECT ticket FROM line WHERE lot = ?1) "
        "AND lot = ?1 AND class = 'place' GROUP BY ticket, area, metal", (lot,)
    )  # fmt: skip
    changes: dict[tuple[int, str], Amounts] = {}
    for ticket, area, metal, ng in rows:
        changes.setdefault((ticket, area), [0] * (1 + len(facts.metals)))[facts.place(metal)] = ng
    return changes


def numbers_like(connection: sqlite3.Connection, number: str) -> list[str]:
    """Return lots whose number holds what was asked for, whatever the case; five at most, for a mistyped number."""
    rows = connection.execute(
        "SELECT number FROM lot WHERE kind <> 'job' AND instr(lower(number), lower(?)) > 0 ORDER BY number LIMIT 5",
        (number,),
    )
    return [number for (number,) in rows]
