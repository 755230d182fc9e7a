"""The small invented plant once more, with people who close, dust in its rates, and books closed month by month."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ledger.balance.months.closing import Answers, close_period
from ledger.balance.months.statement import reconcile
from ledger.book.closes import Close
from ledger.book.entering import Entry, Stamp
from tests.book.plants import PLANT, Book, Document, bought, lot, ticket

CLOSERS = """
[[person]]
code = "CA"
may = ["close"]
[[person]]
code = "CB"
may = ["close", "weigh", "witness"]
[[person]]
code = "RATES"
may = ["set", "close"]
"""
#: Melting makes dust of half of its normal loss.
PLANT_WITH_DUST = PLANT.replace('loss = {gold = "0.10%"}', 'loss = {gold = "0.10%"}\nrecoverable = "50%"') + CLOSERS
AREAS = ("VAULT", "MELT", "ROLL", "FINISH", "PLATER")
METALS = ("gross", "gold", "silver")
NOTED = dict.fromkeys(AREAS, "invented: looked into")
STAMP = Stamp("2026-11-01T07:00:00+00:00", "closer")


def book(*documents: Document) -> Book:
    """Return a book of the plant with these tickets."""
    return Book(documents, PLANT_WITH_DUST)


def closed(made: Book, period: str = "2026-10", **answers: Any) -> Close:
    """Close a period by CA and CB with a note for every area, unless told otherwise."""
    said: Mapping[str, Any] = {"notes": NOTED} | answers
    close, _ = close_period(made.connection, period, Answers("CA", "CB", **said), STAMP)
    made.entry = Entry(made.connection)
    return close


def melted(n: int, out: str = "998.00", mass: str = "1000.00", **fields: Any) -> Document:
    """Return a melt of so much of lot A, 500 ‰ gold, into lot B-n."""
    return ticket(n, "work", operation="melt", area="MELT", in_=[lot("A", mass)], out=[lot(f"B-{n}", out)], **fields)


def begun(*further: Document) -> Book:
    """Return a book with 5 kg of lot A in the melting shop, and these tickets."""
    return book(bought(1, "MELT", lot("A", "5000.00", gold="500")), *further)


def in_november(document: Document, day: int = 2) -> Document:
    """Return a ticket dated so many days into November."""
    return document | {"at": f"2026-11-{day:02d}T08:00"}


def statement(made: Book, period: str, metal: str = "gold") -> dict[str, Any]:
    return reconcile(made.connection, period, metal)


def area(made: Book, period: str, metal: str = "gold", code: str = "MELT") -> dict[str, Any]:
    """Return one area's statement."""
    return next(a for a in statement(made, period, metal)["areas"] if a["area"] == code)
