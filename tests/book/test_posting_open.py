"""The take-on of a running plant, and the difference of the first count after it."""

from __future__ import annotations

from tests.book.plants import Book, amount, lot, minus, ticket

OPEN = ticket(
    1, "open", area="VAULT", dust={"gold": "1.5 g", "gross": "10.0 g"},
    lots=[lot("A", "100.0000", gold="500", silver="200"),
          lot("D", "10.0000", gold="500", silver="0", terms="deposited", party="CUS")],
    parties=[{"party": "REF", "terms": "settled", "metal": "gold", "fine": "12.5 g"},
             {"party": "LEND", "terms": "leased", "metal": "gold", "fine": "-20.0 g"}],
)  # fmt: skip


def count(n: int, mass: str, **fields: object) -> dict[str, object]:
    return ticket(n, "count", area="VAULT", lots=[lot("A", mass), lot("D", "10.0000")], **fields)


def test_lots_dust_and_parties_stand_against_own_or_the_party() -> None:
    """Own = −(100 g lot + dust + 12.5 g owed to us − 20 g owed by us), in gold −(50 + 1.5 + 12.5 − 20) = −44 g."""
    assert Book([OPEN]).posted(1) == {
        "place VAULT A": amount("100", "50", "20"), "place VAULT D": amount("10", "5", "0"),
        "dust VAULT": amount("10", "1.5", "0"), "party CUS deposited": minus(amount("10", "5", "0")),
        "party REF settled": amount("0", "12.5", "0"), "party LEND leased": amount("0", "-20", "0"),
        "own": amount("-110", "-44", "-20"),
    }  # fmt: skip


def test_the_first_count_after_it_shows_the_take_on_difference() -> None:
    book = Book([OPEN, count(2, "99.9000"), count(3, "99.8000")])
    assert book.origins("VAULT") == {"take_on": amount("0.1", "0.05", "0.02"), "count": amount("0.1", "0.05", "0.02")}


def test_two_sheets_of_the_first_count_are_both_take_on() -> None:
    first = ticket(2, "count", area="VAULT", count="C1", ended=False, lots=[lot("A", "99.9000")])
    book = Book([OPEN, first, ticket(3, "count", area="VAULT", count="C1", lots=[lot("D", "9.9000")])])
    assert book.origins("VAULT") == {"take_on": amount("0.2", "0.1", "0.02")}


def test_an_area_that_was_not_taken_on_has_no_take_on_difference() -> None:
    book = Book([OPEN, ticket(2, "move", from_="VAULT", to="MELT", lots=[lot("A", all=True)]),
                 ticket(3, "count", area="MELT", lots=[lot("A", "99.9000")])])  # fmt: skip
    assert book.origins("MELT") == {"count": amount("0.1", "0.05", "0.02")}


def test_dust_of_what_is_not_booked_is_refused() -> None:
    Book().refuses(ticket(1, "open", area="VAULT", dust={"copper": "1.0 g"}), "copper")
