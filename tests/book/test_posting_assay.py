"""Assays by the posting table: place +x where the lot stands, and who bears −x."""

from __future__ import annotations

from typing import Any

from tests.book.plants import Book, Document, amount, bought, lot, minus, ticket

START = bought(1, "MELT", lot("A", "100.0000", gold="500", silver="200"))


def assay(n: int, name: str, gold: str, silver: str = "200", **fields: Any) -> Document:
    results = {"gold": [[f"{gold}‰"]], "silver": [[f"{silver}‰"]]}
    return ticket(n, "assay", lot=name, method="FIRE", results=results, **fields)


def test_what_an_assay_finds_more_lessens_the_difference_where_the_lot_stands() -> None:
    book = Book([START, assay(2, "A", "510")])
    assert book.posted(2) == {"place MELT A": amount("0", "1", "0"), "difference MELT": minus(amount("0", "1", "0"))}
    assert book.origins("MELT") == {"revaluation": minus(amount("0", "1", "0"))}


def test_a_lot_in_two_areas_is_revalued_in_both() -> None:
    book = Book([START, ticket(2, "move", from_="MELT", to="ROLL", lots=[lot("A", "40.0000")]), assay(3, "A", "510")])
    assert book.posted(3) == {
        "place MELT A": amount("0", "0.6", "0"), "difference MELT": minus(amount("0", "0.6", "0")),
        "place ROLL A": amount("0", "0.4", "0"), "difference ROLL": minus(amount("0", "0.4", "0")),
    }  # fmt: skip


def test_the_mean_is_of_samples_not_of_replicates() -> None:
    """(510, 512) and (517): mean of 511 and 517 = 514 ‰."""
    results = {"gold": [["510", "512"], ["517"]]}
    book = Book([START, ticket(2, "assay", lot="A", method="FIRE", results=results)])
    assert book.at("place MELT A") == amount("100", "51.4", "20")  # silver, not reported, stays


def test_an_assay_applies_to_the_melt_on_request_only() -> None:
    roll = ticket(2, "work", operation="roll", area="MELT", in_=[lot("A", all=True)],
                  out=[lot("P", "60.0000"), lot("Q", "40.0000")])  # fmt: skip
    one = Book([START, roll, assay(3, "P", "510", apply="lot")])
    assert one.at("place MELT Q") == amount("40", "20", "8")
    melt = Book([START, roll, assay(3, "P", "510", apply="melt")])
    assert melt.at("place MELT Q") == amount("40", "20.4", "8")
    assert melt.at("place MELT P") == amount("60", "30.6", "12")


def test_content_found_in_the_whole_lot() -> None:
    book = Book([START, ticket(2, "assay", lot="A", method="FIRE", content={"gold": "49.5 g", "silver": "20.0 g"})])
    assert book.at("place MELT A") == amount("100", "49.5", "20")


def test_the_first_assay_of_a_content_output_falls_on_the_area_that_made_it() -> None:
    """Pickled in MELT, assayed in ROLL at 505 ‰ of 99 g: 49.995 g for 50 g. MELT bears 5 mg, ROLL's stock shows it."""
    documents = [
        START,
        ticket(2, "work", operation="pickle", area="MELT", in_=[lot("A", all=True)], out=[lot("P", "99.0000")]),
        ticket(3, "move", from_="MELT", to="ROLL", lots=[lot("P", all=True)]),
        ticket(4, "assay", lot="P", method="FIRE", results={"gold": [["505"]]}),
    ]
    book = Book(documents)
    assert book.posted(4)["place ROLL P"][1] == -5_000_000
    assert book.posted(4)["difference MELT"][1] == 5_000_000
    assert "difference ROLL" not in book.balances()
    second = Book([*documents, ticket(5, "assay", lot="P", method="FIRE", results={"gold": [["504"]]})])
    assert second.posted(5)["difference ROLL"] == amount("0", "0.099", "0")


def test_an_estimated_slag_falls_on_the_difference_of_its_maker() -> None:
    """Slag of MELT estimated at 40 ‰ of 2 g (0.08 g), assayed in VAULT at 45 ‰: MELT's difference is 0.01 g less."""
    slag = lot("SL", "5.0000", metallic="2.0000 g", class_="SLAG", gold="40", silver="20", basis="estimated")
    book = Book([
        START,
        ticket(2, "work", operation="melt", area="MELT", in_=[lot("A", all=True)], out=[lot("M", "97.5000"), slag]),
        ticket(3, "move", from_="MELT", to="VAULT", lots=[lot("SL", all=True)]),
        assay(4, "SL", "45", "20"),
    ])  # fmt: skip
    assert book.posted(4) == {
        "place VAULT SL": amount("0", "0.01", "0"), "difference MELT": minus(amount("0", "0.01", "0")),
    }  # fmt: skip


def test_an_estimated_sweep_trues_up_the_dust_it_came_from() -> None:
    book = Book([
        ticket(1, "sweep", area="FINISH", lots=[lot("SW", "10.0000", gold="400", silver="0", basis="estimated")]),
        ticket(2, "move", from_="FINISH", to="VAULT", lots=[lot("SW", all=True)]),
        assay(3, "SW", "350", "10"),
    ])  # fmt: skip
    assert book.posted(3) == {
        "place VAULT SW": amount("0", "-0.5", "0.1"), "dust FINISH": amount("0", "0.5", "-0.1"),
    }  # fmt: skip
    again = Book([
        ticket(1, "sweep", area="FINISH", lots=[lot("SW", "10.0000", gold="400", silver="0", basis="estimated")]),
        assay(2, "SW", "350", "10"), assay(3, "SW", "360", "10"),
    ])  # fmt: skip
    assert "dust FINISH" not in again.posted(3), "assayed, it is no estimate any more"


def test_sweeps_of_two_areas_melted_together_true_up_both_by_their_shares() -> None:
    """3 g and 1 g of estimated gold: three quarters and a quarter of the 0.4 g that the assay does not find."""
    sweeps = [
        ticket(n, "sweep", area=area, lots=[lot(f"S{n}", mass, gold="400", silver="0", basis="estimated")])
        for n, area, mass in ((1, "FINISH", "7.5000"), (2, "ROLL", "2.5000"))
    ]
    moves = [ticket(3, "move", from_="FINISH", to="MELT", lots=[lot("S1", all=True)]),
             ticket(4, "move", from_="ROLL", to="MELT", lots=[lot("S2", all=True)])]  # fmt: skip
    melt = ticket(5, "work", operation="solder", area="MELT", in_=[lot("S1", all=True), lot("S2", all=True)],
                  out=[lot("M", "10.0000")])  # fmt: skip
    book = Book([*sweeps, *moves, melt, assay(6, "M", "360", "0")])
    assert book.posted(6) == {
        "place MELT M": minus(amount("0", "0.4", "0")), "dust FINISH": amount("0", "0.3", "0"),
        "dust ROLL": amount("0", "0.1", "0"),
    }  # fmt: skip


def test_an_assay_of_what_is_used_up_changes_nothing_and_is_flagged() -> None:
    gone = ticket(2, "ship", from_="MELT", party="CUS", terms="sold", lots=[lot("A", all=True)])
    book = Book([START, gone, assay(3, "A", "510")])
    assert book.posted(3) == {}
    assert book.flags(3) == ["nothing on hand"]


def test_what_cannot_be_is_refused() -> None:
    book = Book([START])
    book.refuses(assay(2, "Z", "510"), "no lot Z")
    book.refuses(assay(2, "A", "510") | {"method": "GUESS"}, "no method GUESS")
    book.refuses(assay(2, "A", "900", "200"), "more than pure")
    copper = ticket(2, "assay", lot="A", method="FIRE", results={"copper": [["500"]]})
    book.refuses(copper, "copper is not a booked metal")
