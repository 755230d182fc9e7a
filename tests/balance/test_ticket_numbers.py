"""Numbers missing, numbers voided, numbers out of their order in time."""

from __future__ import annotations

from ledger.balance.daily.ticket_numbers import Gap, Numbers, OutOfOrder
from tests.book.plants import Book, again, bought, lot, reversal, ticket


def receipt(n: int, **fields: object) -> dict[str, object]:
    return bought(n, "VAULT", lot(f"L{n}", "1.00", alloy="G12"), **fields)


def gaps(book: Book, until: int | None = None) -> list[tuple[str, str, int]]:
    return [(gap.first, gap.last, gap.numbers) for gap in Numbers(book.connection, until).gaps()]


def test_a_gap_by_prefix_and_width() -> None:
    book = Book([receipt(1), receipt(5), receipt(6, ticket="HC-099"), receipt(7, ticket="HC-101")])
    found = Numbers(book.connection).gaps()
    assert found == [Gap("HC-", "HC-100", "HC-100", 1), Gap("T-", "T-0002", "T-0004", 3)]


def test_a_voided_number_is_no_gap() -> None:
    book = Book([receipt(1), receipt(4), ticket(5, "void", numbers=["T-0002"], reason="torn")])
    assert gaps(book) == [("T-0003", "T-0003", 1)]


def test_voids_in_their_own_right_and_a_reversed_ticket_keeps_its_number() -> None:
    book = Book([receipt(1), receipt(2), reversal(3, 2), ticket(4, "void", numbers=["T-0006"], reason="torn")])
    assert gaps(book) == [("T-0005", "T-0005", 1)]


def test_as_of_an_earlier_moment() -> None:
    book = Book([receipt(1), receipt(3), receipt(5)])
    third = book.connection.execute("SELECT instant FROM ticket WHERE number = 'T-0003'").fetchone()[0]
    assert gaps(book, third) == [("T-0002", "T-0002", 1)]
    assert len(gaps(book)) == 2


def out_of_order(book: Book) -> list[OutOfOrder]:
    return Numbers(book.connection).out_of_order(-(2**60), 2**60)


def test_a_ticket_dated_before_the_one_whose_number_comes_first() -> None:
    book = Book([receipt(1), receipt(2, at="2026-10-03T10:00"), receipt(3, at="2026-10-03T09:00")])
    assert [(o.ticket, o.before) for o in out_of_order(book)] == [("T-0003", "T-0002")]


def test_voids_between_are_passed_over() -> None:
    book = Book([
        receipt(1, at="2026-10-03T10:00"), receipt(3, at="2026-10-03T09:00"),
        ticket(90, "void", numbers=["T-0002"], reason="torn"),
    ])  # fmt: skip
    assert [(o.ticket, o.before) for o in out_of_order(book)] == [("T-0003", "T-0001")]


def test_a_correction_comes_late_by_nature() -> None:
    wrong = receipt(2)
    book = Book([receipt(1), wrong, reversal(3, 2, at="2026-10-05T08:00"), again(wrong, 4), receipt(5)])
    assert out_of_order(book) == []
