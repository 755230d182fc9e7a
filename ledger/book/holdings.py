"""What the book holds: lots on hand, and the metal position.

Reads only, by the standard library's sqlite3, and nothing is loaded for it that a quick command would wait for. At the
present moment they cost what is on hand, not what the book has seen; at an earlier instant they add up postings.
Every amount is in whole nanograms, in the book's order, gross first.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, cast

from ledger.book.amounts import Amounts
from ledger.book.closes import last_close
from ledger.refusals import BookUnusable


@dataclass(frozen=True, slots=True)
class AreaFacts:
    """An area as people know it."""

    code: str
    name: str
    outside: bool


@dataclass(frozen=True, slots=True)
class PlantFacts:
    """What a page says of the plant: its name, unit, currency, booked metals (gross left out) and areas."""

    name: str
    unit: str
    currency: str
    metals: tuple[str, ...]
    areas: tuple[AreaFacts, ...]

    def place(self, metal: str) -> int:
        """Return where a metal, or gross, stands in amounts."""
        return ("gross", *self.metals).index(metal)


@dataclass(frozen=True, slots=True)
class AsOf:
    """The last record of the book and the running hash up to it: whoever keeps this line can tell a changed book.

    ``seal``: the last close's, as it is printed; None before any.
    """

    record: int
    chain: str
    seal: str | None = None

    def document(self) -> dict[str, Any]:
        """Return the same as keys of a `--json` answer."""
        return {"record": self.record, "chain": self.chain, "seal": self.seal}


@dataclass(frozen=True, slots=True)
class Description:
    """What a lot is, apart from its composition."""

    lot: str
    kind: str
    form: str | None
    class_: str | None
    alloy: str | None
    clad: str | None
    owner: str | None
    serial: str | None

    @property
    def what(self) -> str:
        """The one word that tells most of it: class, clad stock, alloy, else form."""
        return self.class_ or self.clad or self.alloy or self.form or self.kind


@dataclass(frozen=True, slots=True)
class Held:
    """A lot in an area, with what is recorded of it there and the basis of its determination."""

    area: str
    described: Description
    basis: str | None
    amounts: Amounts

    @property
    def estimated(self) -> bool:
        """Whether its content is no more than an estimate."""
        return self.basis == "estimated"


@dataclass(frozen=True, slots=True)
class NotFound:
    """A lot that an ended count of an area did not find, and what was recorded of it."""

    area: str
    described: Description
    count: str
    amounts: Amounts


#: The columns of a Description, and the condition that a ticket is neither reversed nor a reversal. The plus keeps the
#: index of reversals out of it: nearly every ticket stands there as no reversal, and all of them would be read.
DESCRIPTION = "lot.number, lot.kind, lot.form, lot.class, lot.alloy, lot.clad, lot.owner, lot.serial"
TICKET_STANDS = "NOT EXISTS (SELECT 1 FROM ticket AS r WHERE r.reverses = {0}.seq) AND +{0}.reverses IS NULL"


def plant_facts(connection: sqlite3.Connection) -> PlantFacts:
    """Return what a page says of the plant, by the set-up that holds last."""
    row = connection.execute("SELECT document FROM setup_version ORDER BY since DESC, seq DESC LIMIT 1").fetchone()
    document = stored(row[0] if row else "")
    plant = document["plant"]
    areas = (AreaFacts(a["code"], a.get("name", a["code"]), bool(a.get("outside"))) for a in document.get("area", ()))
    unit, currency = plant.get("unit", "g"), plant.get("currency", "USD")
    return PlantFacts(plant["name"], unit, currency, tuple(plant["metals"]), tuple(areas))


def stored(text: str) -> Any:
    """Return what a row holds as JSON; raises BookUnusable where it was damaged."""
    try:
        return json.loads(text)
    except ValueError:
        raise BookUnusable("a row of the book cannot be read: it is damaged", "run: lemel verify") from None


def amounts_from(text: str) -> Amounts:
    """Return amounts stored as a JSON array."""
    return cast(Amounts, stored(text))


def as_of(connection: sqlite3.Connection) -> AsOf:
    """Return the last record, the running hash up to it in hexadecimal digits, and the last seal."""
    row = connection.execute("SELECT seq, chain FROM record ORDER BY seq DESC LIMIT 1").fetchone()
    close = last_close(connection)
    return AsOf(row[0], row[1].hex(), close.line if close else None) if row else AsOf(0, "")


# -------------------------------------------------------------------------------------------------------- on hand


def stock(connection: sqlite3.Connection, facts: PlantFacts, area: str | None = None,
          instant: int | None = None) -> list[Held]:  # fmt: skip
    """Return the lots on hand, by area in the set-up's order and then by number, now or at an instant."""
    held = _stock_now(connection, area) if instant is None else _stock_at(connection, facts, area, instant)
    order = {a.code: place for place, a in enumerate(facts.areas)}
    return sorted(held, key=lambda h: (order.get(h.area, len(order)), h.described.lot))


def _stock_now(connection: sqlite3.Connection, area: str | None) -> Iterable[Held]:
    rows = connection.execute(
        f"SELECT s.area, {DESCRIPTION}, d.basis, s.amounts FROM standing AS s INDEXED BY standing_on_hand "
        "JOIN lot ON lot.id = s.lot "
        "LEFT JOIN valuation AS v ON v.id = (SELECT max(id) FROM valuation WHERE valuation.lot = s.lot) "
        "LEFT JOIN determination AS d ON d.id = v.determination "
        "WHERE s.on_hand = 1 AND (?1 IS NULL OR s.area = ?1)", (area,)
    )  # fmt: skip
    return [Held(row[0], Description(*row[1:9]), row[9], amounts_from(row[10])) for row in rows]


def _stock_at(connection: sqlite3.Connection, facts: PlantFacts, area: str | None, instant: int) -> Iterable[Held]:
    rows = connection.execute(
        f"SELECT p.area, {DESCRIPTION}, p.lot, p.metal, sum(p.ng) FROM posting AS p JOIN lot ON lot.id = p.lot "
        "WHERE p.class = 'place' AND p.instant <= ?1 AND (?2 IS NULL OR p.area = ?2) "
        "GROUP BY p.area, p.lot, p.metal HAVING sum(p.ng) <> 0", (instant, area)
    )  # fmt: skip
    amounts: dict[tuple[str, int], Amounts] = {}
    described: dict[int, Description] = {}
    for where, *description, lot, metal, ng in rows:
        described[lot] = Description(*description)
        amounts.setdefault((where, lot), [0] * (1 + len(facts.metals)))[facts.place(metal)] = ng
    return [Held(where, described[lot], _basis_at(connection, lot, instant), a) for (where, lot), a in amounts.items()]


def _basis_at(connection: sqlite3.Connection, lot: int, instant: int) -> str | None:
    row = connection.execute(
        "SELECT d.basis FROM valuation AS v JOIN ticket AS t ON t.seq = v.ticket "
        "JOIN determination AS d ON d.id = v.determination WHERE v.lot = ? AND t.instant <= ? "
        f"AND {TICKET_STANDS.format('t')} ORDER BY t.instant DESC, v.id DESC LIMIT 1", (lot, instant)
    ).fetchone()  # fmt: skip
    return row[0] if row else None


def not_found(connection: sqlite3.Connection, area: str | None = None, instant: int | None = None) -> list[NotFound]:
    """Return the lots that counts did not find and nobody has found since, now or at an instant."""
    rows = _not_found_now(connection, area) if instant is None else _not_found_at(connection, area, instant)
    return [NotFound(row[0], Description(*row[1:9]), row[9], amounts_from(row[10])) for row in rows]


def _not_found_now(connection: sqlite3.Connection, area: str | None) -> list[tuple[Any, ...]]:
    return connection.execute(
        f"SELECT m.area, {DESCRIPTION}, t.number, m.amounts FROM missed AS m JOIN lot ON lot.id = m.lot "
        "JOIN ticket AS t ON t.seq = m.ticket WHERE ?1 IS NULL OR m.area = ?1 ORDER BY m.area, lot.number", (area,)
    ).fetchall()  # fmt: skip


def _not_found_at(connection: sqlite3.Connection, area: str | None, instant: int) -> list[tuple[Any, ...]]:
    rows = connection.execute(
        f"SELECT l.area, {DESCRIPTION}, t.number, l.recorded, l.side FROM line AS l "
        "JOIN ticket AS t ON t.seq = l.ticket JOIN lot ON lot.id = l.lot "
        "WHERE l.side IN ('not found', 'found', 'missed no more') AND l.instant <= ?1 "
        f"AND (?2 IS NULL OR l.area = ?2) AND {TICKET_STANDS.format('t')} ORDER BY l.instant, l.id", (instant, area)
    )  # fmt: skip
    last = {(row[0], row[1]): row for row in rows}
    return [row[:-1] for _, row in sorted(last.items()) if row[-1] == "not found"]


# ------------------------------------------------------------------------------------------------------- position


@dataclass(frozen=True, slots=True)
class Account:
    """One account other than a place, with its balance of one metal; ``key`` is its area, party or cause."""

    key: str
    terms: str
    ng: int


@dataclass(frozen=True, slots=True)
class Position:
    """The metal position of one metal: where it is, by area, and whose it is or how it went. As posted: the signs of
    ``own`` and of what is owed are turned only where they are printed."""

    places: tuple[Account, ...]
    transit: tuple[Account, ...]
    dust: tuple[Account, ...]
    own: int
    parties: tuple[Account, ...]
    differences: tuple[Account, ...]
    losses: tuple[Account, ...]
    give_away: tuple[Account, ...]
    retained: tuple[Account, ...]

    @property
    def held(self) -> int:
        """Places, transit and dust."""
        return sum(a.ng for a in (*self.places, *self.transit, *self.dust))

    @property
    def answered(self) -> int:
        """The other side: own and owed, less what is owed to us, missing, gone, given away and retained."""
        gone = (*self.parties, *self.differences, *self.losses, *self.give_away, *self.retained)
        return -self.own - sum(a.ng for a in gone)


def position(connection: sqlite3.Connection, metal: str, instant: int | None = None) -> Position:
    """Return the metal position of a metal, or of gross, now or at an instant."""
    table, where = ("period_sum", "") if instant is None else ("posting", "AND instant <= ?")
    rows = connection.execute(
        f"SELECT class, coalesce(area, ''), coalesce(party, ''), coalesce(terms, ''), coalesce(cause, ''), sum(ng) "
        f"FROM {table} WHERE metal = ? {where} GROUP BY 1, 2, 3, 4, 5 ORDER BY 1, 2, 3, 4, 5",
        (metal,) if instant is None else (metal, instant),
    )
    accounts: dict[str, dict[tuple[str, str], int]] = {}
    for class_, area, party, terms, cause, ng in rows:
        key = (party or area, terms or cause)
        of_class = accounts.setdefault(class_, {})
        of_class[key] = of_class.get(key, 0) + ng

    def of(class_: str) -> tuple[Account, ...]:
        return tuple(Account(*key, ng) for key, ng in accounts.get(class_, {}).items() if ng)

    own = sum(account.ng for account in of("own"))
    return Position(of("place"), of("transit"), of("dust"), own, of("party"), of("difference"), of("loss"),
                    of("give-away"), of("retained"))  # fmt: skip
