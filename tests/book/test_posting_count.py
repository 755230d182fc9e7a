"""Counts by the posting table and handbook 3: place C−R, difference R−C, in the area counted only."""

from __future__ import annotations

from typing import Any

import pytest

from tests.book.plants import Book, Document, amount, bought, lot, minus, reversal, ticket

START = bought(1, "VAULT", lot("A", "100.0000", gold="500", silver="200"), lot("B", "10.0000", gold="500"))
A, B = amount("100", "50", "20"), amount("10", "5", "0")


def count(n: int, *lots: Document, area: str = "VAULT", **fields: Any) -> Document:
    return ticket(n, "count", area=area, lots=list(lots), **fields)


def move(n: int, from_: str, to: str, name: str) -> Document:
    return ticket(n, "move", from_=from_, to=to, lots=[lot(name, all=True)])


#: B was not found in VAULT.
MISSED = [START, count(2, lot("A", "100.0000"))]


def test_what_is_counted_stands_and_what_is_missing_is_the_areas_difference() -> None:
    book = Book([START, count(2, lot("A", "99.9000"), lot("B", "10.0100"))])
    assert book.posted(2) == {
        "place VAULT A": minus(amount("0.1", "0.05", "0.02")), "place VAULT B": amount("0.01", "0.005", "0"),
        "difference VAULT": amount("0.09", "0.045", "0.02"),
    }  # fmt: skip
    assert book.origins("VAULT") == {"count": amount("0.09", "0.045", "0.02")}


def test_an_intact_seal_counts_the_recorded_figures() -> None:
    assert Book([START, count(2, lot("A", seal="77"), lot("B", seal="78"))]).posted(2) == {}


def test_ending_a_count_makes_what_no_sheet_lists_not_found() -> None:
    book = Book(MISSED)
    assert book.posted(2) == {"place VAULT B": minus(B), "difference VAULT": B}
    assert book.flags(2) == ["not found"]
    assert book.missed() == {("VAULT", "B")}


def test_a_spot_count_and_an_open_sheet_make_nothing_not_found() -> None:
    choices: list[Document] = [{"spot": True}, {"ended": False}]
    for fields in choices:
        book = Book([START, count(2, lot("A", "99.0000"), **fields)])
        assert book.missed() == set()
        assert book.at("place VAULT B") == B
        assert book.at("difference VAULT") == amount("1", "0.5", "0.2")


def test_a_sheet_speaks_of_what_earlier_sheets_of_the_count_list_too() -> None:
    book = Book([START, count(2, lot("A", "100.0000"), count="C", sheet="1", ended=False),
                 count(3, lot("B", "10.0000"), count="C", sheet="2")])  # fmt: skip
    assert book.missed() == set()
    other = Book([START, count(2, lot("A", "100.0000"), count="C", ended=False), count(3, lot("B", "10.0000"))])
    assert other.missed() == {("VAULT", "A")}


def test_a_lot_on_two_trays_of_one_count_is_added_and_flagged() -> None:
    book = Book([START, count(2, lot("A", "60.0000"), lot("A", "39.5000"), lot("B", "10.0000"))])
    assert book.at("place VAULT A") == amount("99.5", "49.75", "19.9")
    assert book.flags(2) == ["listed twice"]


def test_the_keeper_may_not_end_the_count_of_his_own_area() -> None:
    book = Book([START])
    book.refuses(count(2, lot("A", "100.0000"), by="KEEP"), "KEEP keeps VAULT and may not end its count")
    book.enter(count(2, lot("A", "100.0000"), by="KEEP", ended=False))
    assert book.missed() == set()


@pytest.mark.parametrize("nobody_keeps", ["MELT", "PLATER"])
def test_nil_counts_an_area_as_empty(nobody_keeps: str) -> None:
    book = Book([START, move(2, "VAULT", nobody_keeps, "B"), ticket(3, "count", area=nobody_keeps, lots=[], nil=True)])
    assert book.missed() == {(nobody_keeps, "B")}


# ---- two teams


def team(n: int, name: str, mass: str, **fields: Any) -> Document:
    return count(n, lot("A", mass, scale="S1"), lot("B", "10.0000", scale="S1"), count="C", team=name, **fields)


def test_two_teams_that_agree_within_the_weighing_leave_the_first_reading() -> None:
    book = Book([START, team(2, "red", "99.9900", ended=False), team(3, "blue", "99.9800")])
    assert book.at("place VAULT A")[0] == amount("99.99", "0", "0")[0]
    assert book.flags(3) == []


def test_two_teams_that_differ_are_flagged_and_a_third_decides() -> None:
    """0.10 g apart on a 0.01 g scale, of which three sd are 24 mg (GUM 4.3.7)."""
    book = Book([START, team(2, "red", "99.9000", ended=False), team(3, "blue", "100.0000", ended=False)])
    assert book.flags(3) == ["teams differ"]
    assert book.at("place VAULT A")[0] == amount("99.9", "0", "0")[0]
    book.enter(team(4, "green", "100.0100"))
    assert book.at("place VAULT A")[0] == amount("100.01", "0", "0")[0]
    kept = book.connection.execute("SELECT weighed_ng FROM line WHERE side = 'count' AND lot = 1 ORDER BY id")
    assert kept.fetchall() == [(amount(m, "0", "0")[0],) for m in ("99.9", "100", "100.01")]


# ---- found again


def test_a_move_finds_a_missed_lot_where_it_was_missed() -> None:
    book = Book([*MISSED, move(3, "VAULT", "MELT", "B")])
    assert book.posted(3) == {"difference VAULT": minus(B), "place MELT B": B}
    assert book.origins("VAULT") == {}
    assert book.flags(3) == ["found again"]
    assert book.missed() == set()


def test_work_in_another_area_finds_it_by_a_move_without_a_ticket() -> None:
    work = ticket(3, "work", operation="roll", area="ROLL", in_=[lot("B", all=True)], out=[lot("P", "10.0000")])
    book = Book([*MISSED, work])
    assert book.posted(3) == {"difference VAULT": minus(B), "place ROLL P": B}
    assert book.flags(3) == ["found again", "move without a ticket"]
    assert book.missed() == set()


def test_a_shipment_and_a_discard_find_it_too() -> None:
    ship = ticket(3, "ship", from_="VAULT", party="CUS", terms="sold", lots=[lot("B", all=True)])
    assert Book([*MISSED, ship]).posted(3) == {"difference VAULT": minus(B), "own": B}
    content = {"gold": "5.0 g", "silver": "0.0 g"}
    discard = ticket(3, "discard", area="VAULT", lots=[lot("B", all=True, content=content)])
    assert Book([*MISSED, discard]).posted(3) == {"difference VAULT": minus(B), "loss VAULT discard": B}


def test_a_part_of_it_leaves_the_rest_where_it_was_found() -> None:
    part = ticket(3, "move", from_="VAULT", to="MELT", lots=[lot("B", "4.0000")])
    book = Book([*MISSED, part])
    assert book.at("place VAULT B") == amount("6", "3", "0")
    assert "difference VAULT" not in book.balances()


def test_the_next_count_finds_it_by_listing_it() -> None:
    book = Book([*MISSED, count(3, lot("A", "100.0000"), lot("B", "9.9000"))])
    assert book.at("difference VAULT") == amount("0.1", "0.05", "0")
    assert book.missed() == set()
    assert book.flags(3) == []


def test_a_count_elsewhere_gains_it_there_and_it_stops_being_missed() -> None:
    """A count posts only to the area counted: VAULT stays short by what MELT is over, and section 5 pairs the two."""
    book = Book([*MISSED, count(3, lot("B", "10.0000"), area="MELT")])
    assert book.at("difference VAULT") == B
    assert book.at("difference MELT") == minus(B)
    assert book.missed() == set()
    assert book.flags(3) == ["counted where it is not recorded"]


def test_a_lot_found_in_a_later_period_is_of_the_prior_one() -> None:
    book = Book([*MISSED, move(24 * 40, "VAULT", "MELT", "B")])
    rows = book.connection.execute("SELECT DISTINCT prior FROM posting WHERE class = 'difference' AND ng < 0")
    assert rows.fetchall() == [(1,)]


def test_a_not_found_lot_is_refused_saying_that_a_count_missed_it() -> None:
    """Without `all`, and more than was recorded there."""
    more = ticket(3, "move", from_="VAULT", to="MELT", lots=[lot("B", "10.5000")])
    Book(MISSED).refuses(more, "lot B stands at 10.0000 g in VAULT")


def test_the_count_that_missed_it_can_be_reversed() -> None:
    book = Book([*MISSED, reversal(3, 2)])
    assert book.at("place VAULT B") == B
    assert "difference VAULT" not in book.balances()
    assert book.missed() == set()


def test_a_find_that_is_reversed_leaves_the_lot_missed() -> None:
    book = Book([*MISSED, move(3, "VAULT", "MELT", "B"), reversal(4, 3)])
    assert book.at("difference VAULT") == B
    assert book.missed() == {("VAULT", "B")}
    book.enter(move(5, "VAULT", "MELT", "B"))
    assert book.at("place MELT B") == B


# ---- what nobody knows


def test_an_unknown_lot_is_counted_when_it_says_what_it_is() -> None:
    new = lot("X", "3.0000", gold="400", silver="0", basis="estimated")
    book = Book([START, count(2, lot("A", "100.0000"), lot("B", "10.0000"), new)])
    assert book.posted(2) == {
        "place VAULT X": amount("3", "1.2", "0"), "difference VAULT": minus(amount("3", "1.2", "0")),
    }  # fmt: skip
    assert book.flags(2) == ["unknown lot counted"]
    Book([START]).refuses(count(2, lot("X", "3.0000")), "does not say what the lot is made of")


def test_a_count_dated_before_a_ticket_of_a_lot_it_does_not_list_is_refused() -> None:
    book = Book([START, ticket(9, "move", from_="VAULT", to="MELT", lots=[lot("B", "1.0000")])])
    assert book.refuses(count(5, lot("A", "100.0000")), "lot B", "T-0009").code == "order"


def test_a_lot_counted_where_it_really_is_is_not_missed_where_the_book_had_it() -> None:
    """Its area is short by it, the other over; nobody need look for it any more."""
    book = Book([
        bought(1, "ROLL", lot("A", "100.00", clad="CL20")),
        ticket(2, "count", area="FINISH", lots=[lot("A", "100.00")]),
        ticket(3, "count", area="ROLL", nil=True),
    ])  # fmt: skip
    assert book.missed() == set()
    assert book.at("difference ROLL") == amount("100.00", "2.50", "1.00")
    assert book.at("difference FINISH") == minus(amount("100.00", "2.50", "1.00"))
