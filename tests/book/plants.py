"""A small invented plant, and books in memory to try tickets on.

Nothing here is a norm: areas, people, parties and rates are made up. A ticket is written short, `ticket(7, "move", …)`;
what it posted is read short, `book.posted(7)` → `{"place MELT A": (gross, gold, silver), …}` in ng.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from datetime import datetime, timedelta
from fractions import Fraction
from functools import cache
from typing import Any

import pytest

from ledger.book.draft import Draft
from ledger.book.entering import Entry, Stamp
from ledger.book.opening import record_first_setup
from ledger.book.schema import create
from ledger.plant.setup import Setup
from ledger.plant.toml_file import parse_setup
from ledger.refusals import Refused

PLANT = """\
[plant]
name = "Invented Works"
metals = ["gold", "silver"]
timezone = "America/New_York"

[[area]]
code = "VAULT"
keeper = "KEEP"
[[area]]
code = "MELT"
[[area]]
code = "ROLL"
[[area]]
code = "FINISH"
[[area]]
code = "PLATER"
outside = true

[[operation]]
code = "melt"
composition = "combines"
loss = {gold = "0.10%"}
fume = "0.3%"
[[operation]]
code = "solder"
composition = "combines"
loss = {gold = "0.01%"}
[[operation]]
code = "roll"
composition = "carries"
loss = {gold = "0.05%"}
[[operation]]
code = "buff"
composition = "surface"
loss = {gold = "0.60%"}
[[operation]]
code = "pickle"
composition = "content"
loss = {gold = "0.01%", gross = "0.02%"}

[[scale]]
code = "S1"
division = "0.01 g"
calibrated = 2026-09-01
calibrate_every = "40 d"
[[scale]]
code = "LAB"
division = "0.0001 g"

[[method]]
code = "FIRE"
kind = "fire"

[[alloy]]
code = "G12"
gold = "12K"
silver = "200‰"
[[alloy]]
code = "BRASS"
gold = "0"
silver = "0"

[[clad]]
code = "CL20"
mark = "1/20 12K"
layer = "G12"
base = "BRASS"

[[class]]
code = "ENDS"
[[class]]
code = "SLAG"
dirty = true

[[bin]]
code = "ENDS-CAN"
area = "ROLL"
class = "ENDS"

[[container]]
code = "TOTE"
tare = "100.00 g"

[[party]]
code = "SUP"
role = "supplier"
[[party]]
code = "CUS"
role = "customer"
[[party]]
code = "LIST"
role = "customer"
owed = "declared"
[[party]]
code = "LEND"
role = "lender"
limit = "60.0 g"
[[party]]
code = "REF"
role = "refiner"

[[person]]
code = "W"
may = ["weigh", "witness", "count", "accept"]
[[person]]
code = "KEEP"
may = ["weigh", "count"]
[[person]]
code = "ONLY"
may = ["weigh"]
"""

#: Gross and fine contents, ng.
Amount = tuple[int, ...]
Document = dict[str, Any]


@cache
def plant(text: str = PLANT) -> Setup:
    """Return the set-up written in TOML."""
    return parse_setup(text)


def g(text: str) -> int:
    """Grams in nanograms, exactly."""
    ng = Fraction(text) * 10**9
    assert ng.denominator == 1, text
    return ng.numerator


def number(n: int) -> str:
    return f"T-{n:04d}"


def ticket(n: int, kind: str, /, **fields: Any) -> Document:
    """Return a ticket: the n-th number, n hours into October, weighed by W; `from_`, `in_` stand for from and in."""
    at = datetime(2026, 10, 1) + timedelta(hours=n)  # noqa: DTZ001 (plant time)
    common = {"ticket": number(n), "kind": kind, "at": at.isoformat(timespec="minutes"), "by": "W"}
    return common | {name.removesuffix("_"): value for name, value in fields.items()}


def lot(name: str, mass: str | None = None, /, **fields: Any) -> Document:
    """Return a line; `gold` and `silver` in per mille make its fineness."""
    line: Document = {"lot": name}
    if mass is not None:
        line["mass"] = f"{mass} g"
    gold, silver = fields.pop("gold", None), fields.pop("silver", "0")
    if gold is not None:
        line["fineness"] = {"gold": f"{gold}‰", "silver": f"{silver}‰"}
    return line | {name.removesuffix("_"): value for name, value in fields.items()}


def bought(n: int, to: str, *lots: Document, **fields: Any) -> Document:
    return ticket(n, "receive", party="SUP", terms="bought", to=to, lots=list(lots), **fields)


def reversal(n: int, of: int, **fields: Any) -> Document:
    return ticket(n, "reverse", of=number(of), reason="wrong", **fields)


def again(document: Document, n: int, **changes: Any) -> Document:
    """Return a ticket anew under the n-th number, as the correction of the first."""
    return document | {"ticket": number(n), "corrects": document["ticket"]} | changes


@cache
def _empty(text: str) -> bytes:
    connection = sqlite3.connect(":memory:", isolation_level=None)
    create(connection)
    record_first_setup(connection, plant(text).to_document(), Stamp("2026-10-01T00:00:00+00:00", "tester"))
    return connection.serialize()


class Book:
    """A fresh book in memory, open for tickets, of the plant written in ``text``."""

    def __init__(self, documents: Iterable[Document] = (), text: str = PLANT) -> None:
        self.connection = sqlite3.connect(":memory:", isolation_level=None)
        self.connection.deserialize(_empty(text))
        self.entry = Entry(self.connection)
        self.metals = self.entry.metals
        self.enter(*documents)

    def enter(self, *documents: Document) -> list[Draft | None]:
        """Record tickets, in order; what they refuse is raised."""
        drafts = [self.entry.record(each, Stamp("2026-10-01T00:00:00+00:00", "tester")) for each in documents]
        self.entry.writer.flush()
        return drafts

    def refuses(self, document: Document, *words: str) -> Refused:
        """Enter a ticket that must be refused, in these words, and leave every table as it was; returns the refusal."""
        before = self.tables()
        with pytest.raises(Refused) as refused:
            self.enter(document)
        assert self.tables() == before
        for word in words:
            assert word in str(refused.value)
        return refused.value

    def tables(self) -> dict[str, list[tuple[Any, ...]]]:
        """Return everything the file holds."""
        names = [n for (n,) in self.connection.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")]
        return {name: self.connection.execute(f"SELECT * FROM {name}").fetchall() for name in names}

    def _sums(self, where: str = "1", *values: object) -> dict[str, Amount]:
        """Return sums of postings by account, written `class area lot party terms cause`, zeros left out."""
        rows = self.connection.execute(
            "SELECT p.class, p.area, lot.number, p.party, p.terms, p.cause, p.metal, sum(p.ng) FROM posting AS p "
            f"LEFT JOIN lot ON lot.id = p.lot WHERE {where} GROUP BY 1, 2, 3, 4, 5, 6, 7",
            values,
        )
        sums: dict[str, list[int]] = {}
        for *key, metal, ng in rows:
            account = " ".join(part for part in key if part is not None)
            sums.setdefault(account, [0] * len(self.metals))[self.metals.index(metal)] = ng
        return {account: tuple(amount) for account, amount in sums.items() if any(amount)}

    def posted(self, n: int) -> dict[str, Amount]:
        """Return what one ticket posted, by account."""
        return self._sums("p.ticket = (SELECT seq FROM ticket WHERE number = ?)", number(n))

    def balances(self) -> dict[str, Amount]:
        """Return what stands on every account."""
        return self._sums()

    def at(self, account: str) -> Amount:
        """Return what stands on one account."""
        return self.balances().get(account, (0,) * len(self.metals))

    def origins(self, area: str) -> dict[str, Amount]:
        """Return the postings to an area's difference by origin."""
        rows = self.connection.execute(
            "SELECT origin, metal, sum(ng) FROM posting WHERE class = 'difference' AND area = ? GROUP BY 1, 2", (area,)
        )
        sums: dict[str, list[int]] = {}
        for origin, metal, ng in rows:
            sums.setdefault(origin, [0] * len(self.metals))[self.metals.index(metal)] = ng
        return {origin: tuple(amount) for origin, amount in sums.items() if any(amount)}

    def flags(self, n: int) -> list[str]:
        """Return the flags of one ticket, in order."""
        rows = self.connection.execute(
            "SELECT flag FROM flag JOIN ticket ON ticket.seq = flag.ticket WHERE number = ? ORDER BY id", (number(n),)
        )
        return [flag for (flag,) in rows]

    def missed(self) -> set[tuple[str, str]]:
        """Return (area, lot) of every lot that a count did not find."""
        rows = self.connection.execute("SELECT area, number FROM missed JOIN lot ON lot.id = missed.lot")
        return set(rows.fetchall())


def amount(gross: str, gold: str, silver: str) -> Amount:
    """Gross, gold and silver in grams, as an amount in ng."""
    return (g(gross), g(gold), g(silver))


def minus(a: Amount) -> Amount:
    return tuple(-x for x in a)
