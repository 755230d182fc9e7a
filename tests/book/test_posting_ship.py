"""Shipments by the posting table: place −R, difference R−W, own or party +B, give-away W−B."""

from __future__ import annotations

from tests.book.plants import Book, amount, bought, lot, minus, ticket

START = bought(1, "VAULT", lot("A", "100.0000", gold="500", silver="200"), lot("B", "10.0000", gold="480"))
SOLD = {"from": "VAULT", "party": "CUS", "terms": "sold"}


def shipped(*lots: dict[str, object], **fields: object) -> Book:
    return Book([START, ticket(2, "ship", lots=list(lots), **(SOLD | fields))])


def test_without_a_bill_own_is_charged_what_was_weighed() -> None:
    w = amount("40", "20", "8")
    assert shipped(lot("A", "40.0000")).posted(2) == {"place VAULT A": minus(w), "own": w}


def test_what_is_shipped_above_the_bill_is_given_away() -> None:
    """Billed 490 ‰ gold: B = 19.6 g of 20 g; the silver, which the bill does not state, is as weighed."""
    book = shipped(lot("A", "40.0000", billed={"gold": "490‰"}))
    assert book.posted(2) == {
        "place VAULT A": minus(amount("40", "20", "8")), "own": amount("40", "19.6", "8"),
        "give-away CUS": amount("0", "0.4", "0"),
    }  # fmt: skip
    assert book.flags(2) == []


def test_a_bare_mark_bills_the_first_metal() -> None:
    assert shipped(lot("A", "40.0000", billed="12K")).posted(2)["own"] == amount("40", "20", "8")


def test_under_delivery_is_flagged_and_netted_with_nothing() -> None:
    """A holds 0.4 g more than billed, B 0.2 g less: both stand in the postings, B is flagged."""
    book = shipped(lot("A", "40.0000", billed={"gold": "490‰"}), lot("B", "10.0000", all=True, billed={"gold": "500‰"}))
    lines = book.connection.execute(
        "SELECT ng FROM posting WHERE class = 'give-away' AND metal = 'gold' ORDER BY id"
    ).fetchall()
    assert lines == [(400_000_000,), (-200_000_000,)]
    assert book.flags(2) == ["under-delivery"]


def test_a_reweighing_that_empties_the_lot_is_the_areas_difference() -> None:
    book = shipped(lot("A", "99.9000", all=True))
    assert book.posted(2) == {
        "place VAULT A": minus(amount("100", "50", "20")), "difference VAULT": amount("0.1", "0.05", "0.02"),
        "own": amount("99.9", "49.95", "19.98"),
    }  # fmt: skip


def test_metal_returned_is_set_against_the_account_named_else_deposited() -> None:
    w = amount("40", "20", "8")
    back = shipped(lot("A", "40.0000"), party="LEND", terms="returned", against="leased")
    assert back.posted(2) == {"place VAULT A": minus(w), "party LEND leased": w}
    assert "party CUS deposited" in shipped(lot("A", "40.0000"), terms="returned").posted(2)


def test_a_bill_of_what_is_not_booked_is_refused() -> None:
    Book([START]).refuses(ticket(2, "ship", lots=[lot("A", "1.0000", billed={"copper": "400‰"})], **SOLD), "copper")
