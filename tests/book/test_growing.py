"""What concerns one lot takes SQLite as many steps in an old book as in a young one."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from ledger.book.holdings import plant_facts
from ledger.book.lot_page import lot_page
from tests.book.plants import Book, Document, again, bought, lot, reversal, ticket

OTHERS = 200
BAR: list[Document] = [
    bought(1, "MELT", lot("A", "50.0000", gold="1000"), lot("CU", "50.0000", alloy="BRASS")),
    ticket(2, "work", operation="melt", area="MELT", in_=[lot("A", all=True), lot("CU", all=True)],
           out=[lot("BAR", "98.0000", planned="12K")]),
]  # fmt: skip
ASSAY = ticket(900, "assay", lot="BAR", method="FIRE", results={"gold": [["501.0"]]})


def page(book: Book) -> None:
    assert lot_page(book.connection, plant_facts(book.connection), "BAR") is not None


def assay(book: Book) -> None:
    book.enter(ASSAY)


def corrected(book: Book) -> None:
    book.enter(ASSAY, reversal(901, 900), again(ASSAY, 902, results={"gold": [["502.0"]]}))


def steps(book: Book, do: Callable[[Book], None]) -> int:
    """Return the steps of SQLite's machine that something takes."""
    counted = 0

    def one() -> int:
        nonlocal counted
        counted += 1
        return 0

    book.connection.set_progress_handler(one, 1)
    do(book)
    book.connection.set_progress_handler(None, 1)
    return counted


@pytest.mark.parametrize("do", [page, assay, corrected])
def test_a_lot_is_found_without_reading_every_ticket(do: Callable[[Book], None]) -> None:
    """One step for every other ticket would be too many."""
    others = [bought(10 + n, "VAULT", lot(f"X{n}", "1.0000", alloy="BRASS")) for n in range(OTHERS)]
    assert steps(Book([*BAR, *others]), do) < steps(Book(BAR), do) + OTHERS
