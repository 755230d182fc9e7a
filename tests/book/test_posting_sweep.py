"""Sweeps, and what is thrown away: dust taken up, and losses known by measurement."""

from __future__ import annotations

from tests.book.plants import Book, Document, amount, bought, lot, minus, ticket

SWEEP = ticket(1, "sweep", area="FINISH", lots=[lot("SW", "10.0000", gold="400", silver="0", basis="estimated")])
START = bought(1, "MELT", lot("A", "10.0000", gold="500", silver="200"))
CONTENT = {"gold": "4.8 g", "silver": "2.0 g"}


def discard(n: int, area: str, *lots: Document) -> Document:
    return ticket(n, "discard", area=area, lots=list(lots))


def test_a_sweep_takes_dust_up_as_a_lot() -> None:
    s = amount("10", "4", "0")
    assert Book([SWEEP]).posted(1) == {"place FINISH SW": s, "dust FINISH": minus(s)}


def test_a_clean_out_may_find_nothing() -> None:
    assert Book([ticket(1, "sweep", area="FINISH", cleaned_out=True)]).posted(1) == {}


def test_a_discard_is_lost_as_measured_and_the_rest_is_a_difference() -> None:
    """R = 5 g of gold, M = 4.8 g: 0.2 g is not known to be thrown away."""
    book = Book([START, discard(2, "MELT", lot("A", all=True, content=CONTENT))])
    assert book.posted(2) == {
        "place MELT A": minus(amount("10", "5", "2")), "loss MELT discard": amount("10", "4.8", "2"),
        "difference MELT": amount("0", "0.2", "0"),
    }  # fmt: skip
    assert book.origins("MELT") == {"revaluation": amount("0", "0.2", "0")}


def test_a_discard_by_results_loses_the_mass_that_was_weighed() -> None:
    """W = 9.9 g at 480 and 200 ‰: M = 4.752 and 1.98 g."""
    results = {"gold": [["480"]], "silver": [["200‰"]]}
    book = Book([START, discard(2, "MELT", lot("A", "9.9000", all=True, results=results))])
    assert book.posted(2)["loss MELT discard"] == amount("9.9", "4.752", "1.98")
    assert book.posted(2)["difference MELT"] == amount("0.1", "0.248", "0.02")


def test_what_an_estimated_lot_did_not_hold_goes_back_to_its_dust() -> None:
    """The sweeps were thought to hold 4 g and held 3 g: the dust of FINISH has 1 g more, nobody is short."""
    book = Book([SWEEP, ticket(2, "move", from_="FINISH", to="VAULT", lots=[lot("SW", all=True)]),
                 discard(3, "VAULT", lot("SW", all=True, content={"gold": "3.0 g", "silver": "0.1 g"}))])  # fmt: skip
    assert book.posted(3) == {
        "place VAULT SW": minus(amount("10", "4", "0")), "loss VAULT discard": amount("10", "3", "0.1"),
        "dust FINISH": amount("0", "1", "-0.1"),
    }  # fmt: skip


def test_a_discard_without_a_measurement_is_refused() -> None:
    Book([START]).refuses(discard(2, "MELT", lot("A", all=True)), "measured")
    of_gold = lot("A", all=True, content={"gold": "1.0 g"})
    Book([START]).refuses(discard(2, "MELT", of_gold), "nothing is said of silver")
