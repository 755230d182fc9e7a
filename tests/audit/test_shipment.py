"""A shipment against its mark, by hand: content, ratio, give-away, and the waste that goes with it."""

from __future__ import annotations

from typing import Any

import pytest

from ledger.audit.inquiry import Inquiry
from ledger.audit.shipment import shipment_document
from ledger.refusals import WrongUsage
from tests.audit.conftest import asked
from tests.book.plants import Book, bought, lot, ticket


def shipped(billed: str) -> Book:
    """100 g of 12K on 900 g of brass make 1,000 g of clad; rolled, 10 g are lost; half of the rest is shipped."""
    return Book((
        bought(1, "ROLL", lot("PLATE", "100.00", gold="500", method="FIRE", form="plate"),
               lot("BRASS1", "900.00", gold="0", form="sheet")),
        ticket(2, "work", area="ROLL", operation="solder", in_=[lot("PLATE", all=True), lot("BRASS1", all=True)],
               out=[lot("CLAD", "1000.00", form="plate", layer="G12")]),
        ticket(3, "work", area="ROLL", operation="roll", in_=[lot("CLAD", "1000.00", all=True)],
               out=[lot("STRIP", "980.00", form="strip", layer="G12"),
                    {"bin": "ENDS-CAN", "mass": "10.00 g", "class": "ENDS"}]),
        ticket(4, "ship", from_="ROLL", party="CUS", terms="sold", lots=[lot("STRIP", "490.00", billed=billed)]),
    ))  # fmt: skip


def only(book: Book, asked_for: str = "T-0004") -> dict[str, Any]:
    (line,) = shipment_document(asked(book), asked_for)["lots"]
    found: dict[str, Any] = line
    return found


def test_a_lot_richer_than_its_mark() -> None:
    """490 g hold 24.5 g, 50 ‰; billed 1/20 12K, 25 ‰: 12.25 g given away. Layer 500 ‰: a tenth of the weight."""
    line = only(shipped("1/20 12K"))
    assert (line["fine"], line["fineness"], line["billed"], line["given_away"]) == (
        "24.500000000", "50.000", "12.250000000", "12.250000000")  # fmt: skip
    assert (line["verdict"], line["layer_share"], line["mark_share"]) == ("met", 0.1, "1/20")
    assert line["determination"]["rests_on"] == {"measured": 1}


def test_a_lot_below_its_mark_and_one_not_told_apart() -> None:
    assert only(shipped("1/5 12K"))["verdict"] == "not met"
    even = only(shipped("1/10 12K"))
    assert (even["given_away"], even["verdict"]) == ("0.000000000", "not told apart from the mark")
    assert even["u_fine"] > 0


def test_the_waste_that_goes_with_it() -> None:
    """10 g of 1,000 were lost, 0.5 g of gold; of what came out, 49.5 g, half of STRIP's 49 g is shipped: 0.2475 g."""
    line = only(shipped("1/20 12K"))
    assert line["waste"] == f"{0.5 * 24.5 / 49.5:.9f}"
    assert list(line["waste_by_operation"]) == ["roll"]
    assert line["waste_value"] is None  # the set-up has no price
    assert line["made_of"] == [{"what": "received SUP bought", "lot": "PLATE", "fine": "24.500000000"}]


def test_a_mark_says_nothing_of_another_metal() -> None:
    (line,) = shipment_document(asked(shipped("1/20 12K"), "silver"), "T-0004")["lots"]
    assert line["verdict"] == "of silver nothing is stated: billed as weighed"
    assert (line["layer_share"], line["mark_share"]) == (None, None)


def test_by_lot_as_by_ticket() -> None:
    book = shipped("1/20 12K")
    assert only(book, "STRIP") == only(book)


def test_the_assays_on_the_way(year: Inquiry) -> None:
    (line,) = shipment_document(year, "FB-0335")["lots"]
    assert [(a["lot"], a["method"]) for a in line["assays"]][:2] == [("AN-0119", "BEAD"), ("PL-0036", "FIRE")]
    assert line["verdict"] == "met"
    assert float(line["fine"]) / float(line["gross"]) == pytest.approx(0.0253, abs=2e-4)


@pytest.mark.parametrize("wanted", ["T-0001", "CLAD", "nothing"])
def test_what_was_not_shipped(wanted: str) -> None:
    with pytest.raises(WrongUsage, match="nothing was shipped as"):
        shipment_document(asked(shipped("1/20 12K")), wanted)
