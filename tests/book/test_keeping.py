"""What is kept in memory while tickets enter changes nothing that is recorded, and does not grow without end."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from fractions import Fraction
from typing import Any

import pytest

from ledger.book import writing
from ledger.book.entering import Entry, Stamp
from ledger.book.expected import Worked, expected_in, expected_loss
from ledger.book.opening import record_first_setup
from ledger.book.schema import RECORD_TABLES, SUM_TABLES, create
from ledger.book.shelf import Shelf
from tests.book.plants import Book, bought, lot, plant, reversal, ticket
from tests.studies.invented_tickets import plant as sample_plant
from tests.studies.invented_tickets import tickets

STAMP = Stamp("2026-10-01T00:00:00+00:00", "tester")


def entry() -> Entry:
    connection = sqlite3.connect(":memory:", isolation_level=None)
    create(connection)
    record_first_setup(connection, sample_plant().to_document(), STAMP)
    return Entry(connection)


def book_of(count: int) -> dict[str, list[Any]]:
    book = entry()
    for document in tickets(count, 11):
        book.record(document, STAMP)
    book.writer.flush()
    ask = book.writer.connection.execute
    return {name: ask(f"SELECT * FROM {name} ORDER BY 1, 2").fetchall() for name in (*RECORD_TABLES, *SUM_TABLES)}


def test_writing_and_forgetting_after_each_ticket_makes_the_same_book(monkeypatch: pytest.MonkeyPatch) -> None:
    kept = book_of(1500)
    monkeypatch.setattr(writing, "_ENOUGH", 0)
    monkeypatch.setattr(writing, "_KEPT", -1)
    assert book_of(1500) == kept


def test_the_shelf_forgets_though_it_is_written_often(monkeypatch: pytest.MonkeyPatch) -> None:
    """A question to the file writes what is pending; counting only that, the shelf once grew without end."""
    monkeypatch.setattr(writing, "_KEPT", 200)
    book, sizes = entry(), []
    for document in tickets(1500, 11):
        book.record(document, STAMP)
        book.writer.flush()
        sizes.append(len(book.writer.shelf))
    assert max(sizes) < 220
    assert min(sizes[1000:]) < 50


def lives() -> Iterator[Book]:
    """A lot that is missed and found, one on its way, a scale checked anew, and reversals of them."""
    book = Book([bought(1, "VAULT", lot("A", "100.00", gold="500"), lot("B", "50.00", gold="500"))])
    for document in [
        ticket(2, "count", area="VAULT", lots=[lot("A", "100.00")]),
        ticket(3, "move", from_="VAULT", to="MELT", lots=[lot("B", all=True)]),
        ticket(4, "move", from_="VAULT", to="MELT", in_transit=True, lots=[lot("A", "40.00")]),
        ticket(5, "checkweigh", scale="S1", standard="100.00 g", reading="100.00 g", calibrated=True),
        ticket(6, "arrive", of="T-0004", lots=[lot("A", "39.99")]),
        reversal(7, 6),
        reversal(8, 5),
        reversal(9, 3),
        reversal(10, 2),
    ]:
        book.entry.record(document, STAMP)
        yield book


def answers(shelf: Shelf) -> list[Any]:
    return [
        *((shelf.places(id_), shelf.missed(id_), shelf.lot_on_the_way(id_)) for id_ in (1, 2)),
        shelf.calibrated_on("S1", 2**62),
    ]  # fmt: skip


def test_what_is_kept_is_what_the_file_says() -> None:
    told = []
    for book in lives():
        kept = answers(book.entry.writer.shelf)
        book.entry.writer.flush()
        assert kept == answers(Shelf(book.connection))
        told.append(str(kept))
    assert len(set(told)) >= 6  # else nothing was kept that could be wrong


@pytest.mark.parametrize("operation", [operation.code for operation in plant().operation])
def test_the_loss_in_one_metal_is_that_of_the_whole(operation: str) -> None:
    metals, setup = ("gross", "gold", "silver"), plant()
    layer = (Fraction(1), Fraction(1, 2), Fraction(1, 5))
    inputs = [Worked([10**11, 10**9, 10**8], None, None, layer), Worked([10**10, 7 * 10**9, 10**8], "G12", None, layer)]
    whole = expected_loss(setup, setup.operations[operation], inputs, metals).loss
    assert any(whole)
    assert tuple(expected_in(setup, setup.operations[operation], inputs, metals, i) for i in range(3)) == whole
