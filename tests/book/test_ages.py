"""Lots by age: the ticket that made them, not their number nor the order of entering."""

from __future__ import annotations

from ledger.book import ages, holdings
from tests.book.plants import Book, Document, lot, ticket


def receipt(number: int, name: str, at: str) -> Document:
    bought = {"party": "SUP", "terms": "bought", "to": "VAULT"}
    return ticket(number, "receive", at=at, lots=[lot(name, "10.0", gold="999")], **bought)


def test_the_oldest_lot_stands_first() -> None:
    book = Book([receipt(1, "C", "2026-10-05T08:00"), receipt(2, "A", "2026-10-07T08:00"),
                 receipt(3, "B", "2026-10-06T08:00"), receipt(4, "D", "2026-10-06T08:00")])  # fmt: skip
    facts = holdings.plant_facts(book.connection)
    held = ages.oldest_first(book.connection, holdings.stock(book.connection, facts))
    assert [one.described.lot for one in held] == ["C", "B", "D", "A"]
