"""Receipts by the posting table: what comes in at W, what is owed at V, and the receipt difference between."""

from __future__ import annotations

import pytest

from tests.book.plants import Book, amount, bought, lot, minus, ticket

LOT = lot("A", "100.0000", gold="500", silver="200")
W = amount("100", "50", "20")


def received(party: str, terms: str, **line: object) -> Book:
    return Book([ticket(1, "receive", party=party, terms=terms, to="VAULT", lots=[LOT | line])])


def test_bought_metal_is_the_plants_own() -> None:
    assert received("SUP", "bought").posted(1) == {"place VAULT A": W, "own": minus(W)}


@pytest.mark.parametrize(("party", "terms"), [("CUS", "deposited"), ("LEND", "leased")])
def test_metal_of_others_is_owed_by_our_own_weighing(party: str, terms: str) -> None:
    """The list is kept, and counts for nothing, where the terms owe what was weighed."""
    book = received(party, terms, declared_mass="101.0 g", declared_fineness={"gold": "510‰", "silver": "200‰"})
    assert book.posted(1) == {"place VAULT A": W, f"party {party} {terms}": minus(W)}


def test_metal_owed_by_the_list_leaves_a_receipt_difference() -> None:
    """V = 101 g × (510 ‰, 200 ‰) = 51.51 g and 20.2 g; the difference is V − W: + where metal is missing."""
    book = received("LIST", "deposited", declared_mass="101.0 g", declared_fineness={"gold": "510‰", "silver": "200‰"})
    assert book.posted(1) == {
        "place VAULT A": W,
        "party LIST deposited": minus(amount("101", "51.51", "20.2")),
        "difference VAULT": amount("1", "1.51", "0.2"),
    }
    assert book.origins("VAULT") == {"transfer": amount("1", "1.51", "0.2")}


def test_a_list_that_states_the_mass_alone_owes_at_the_lots_fineness() -> None:
    book = received("LIST", "deposited", declared_mass="101.0 g")
    assert book.posted(1)["party LIST deposited"] == minus(amount("101", "50.5", "20.2"))


def test_a_list_that_states_the_fineness_alone_owes_at_the_weighed_mass() -> None:
    book = received("LIST", "deposited", declared_fineness={"gold": "510‰", "silver": "200‰"})
    assert book.posted(1)["party LIST deposited"] == minus(amount("100", "51", "20"))


def test_without_a_list_the_weighing_is_owed() -> None:
    assert received("LIST", "deposited").posted(1) == {"place VAULT A": W, "party LIST deposited": minus(W)}


def test_metal_returned_by_a_refiner_is_set_against_what_he_owes() -> None:
    assert received("REF", "returned").posted(1) == {"place VAULT A": W, "party REF settled": minus(W)}


def test_metal_returned_by_a_customer_is_the_plants_own_again() -> None:
    assert received("CUS", "returned").posted(1) == {"place VAULT A": W, "own": minus(W)}


def test_a_rejected_lot_comes_back_under_its_number_and_determination() -> None:
    book = Book([
        bought(1, "VAULT", LOT), ticket(2, "ship", from_="VAULT", party="CUS", terms="sold", lots=[lot("A", all=True)]),
        ticket(3, "receive", party="CUS", terms="returned", to="MELT", lots=[lot("A", "40.0000")]),
    ])  # fmt: skip
    assert book.posted(3) == {"place MELT A": amount("40", "20", "8"), "own": minus(amount("40", "20", "8"))}


def test_a_rejected_lot_with_another_composition_needs_another_number() -> None:
    book = Book([
        bought(1, "VAULT", LOT), ticket(2, "ship", from_="VAULT", party="CUS", terms="sold", lots=[lot("A", all=True)]),
    ])  # fmt: skip
    book.refuses(ticket(3, "receive", party="CUS", terms="returned", to="MELT", lots=[LOT]), "has its determination")


@pytest.mark.parametrize(
    ("readings", "metallic"),
    [
        ({"gross": "200.00 g", "tare": "99.50 g"}, "100.5"),
        ({"gross": "200.00 g", "container": "TOTE"}, "100"),
        ({"mass": "100.00 g", "moisture": "8.0%"}, "92"),
        ({"mass": "100.00 g", "metallic": "3.25 g"}, "3.25"),
    ],
    ids=["tare", "container", "moisture", "metallic"],
)
def test_only_metal_is_posted(readings: dict[str, str], metallic: str) -> None:
    """Vessel, water and foreign matter are no metal."""
    book = Book([bought(1, "VAULT", lot("A", gold="500", silver="0") | readings)])
    assert book.at("place VAULT A")[0] == amount(metallic, "0", "0")[0]
    assert book.at("place VAULT A")[1] * 2 == book.at("place VAULT A")[0]


def test_a_dirty_lot_must_say_how_much_of_it_is_metal() -> None:
    Book().refuses(bought(1, "VAULT", lot("A", "10.00", gold="500", class_="SLAG")), "dirty", "metallic")


def test_a_mark_alone_does_not_tell_of_two_metals() -> None:
    Book().refuses(bought(1, "VAULT", lot("A", "10.00", fineness="12K")), "says nothing of silver")


def test_a_composition_comes_from_alloy_clad_or_content() -> None:
    book = Book([bought(1, "VAULT", lot("A", "10.00", alloy="G12"), lot("C", "10.00", clad="CL20"),
                        lot("T", "10.00", content={"gold": "1.5 g", "silver": "0.25 g"}))])  # fmt: skip
    assert book.at("place VAULT A") == amount("10", "5", "2")
    assert book.at("place VAULT C") == amount("10", "0.25", "0.1")  # 1/20 of 12K, and of its 200 ‰ of silver
    assert book.at("place VAULT T") == amount("10", "1.5", "0.25")


def test_a_lot_that_exists_is_not_received_again() -> None:
    Book([bought(1, "VAULT", LOT)]).refuses(bought(2, "VAULT", LOT), "lot A was made before", "VAULT (100.0000 g)")


@pytest.mark.parametrize(
    ("change", "field"),
    [({"party": "WHO"}, "party"), ({"to": "NOWHERE"}, "to"), ({"by": "WHO"}, "by"), ({"witness": "WHO"}, "witness"),
     ({"workers": ["WHO"]}, "workers")],
)  # fmt: skip
def test_codes_the_set_up_does_not_have_are_refused(change: dict[str, object], field: str) -> None:
    assert Book().refuses(bought(1, "VAULT", LOT) | change, "in the set-up").faults[0].field == field
