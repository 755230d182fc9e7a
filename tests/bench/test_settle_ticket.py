"""The ticket of an out-turn: whatever the terms, the book accepts it and posts what was computed."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from hypothesis import given, settings

from ledger.bench.settle import Settled
from ledger.bench.settle_ticket import agreed_ng, settle_ticket
from tests.bench.out_turns import Document, lot, out_turn, settled
from tests.bench.test_settle import out_turns
from tests.book.plants import Book, bought, g, number, ticket
from tests.book.plants import lot as line

METALS = ("gold", "silver")


def ticket_of(found: Settled) -> dict[str, Any]:
    return settle_ticket(found, {"ticket": number(2), "at": ticket(2, "settle")["at"], "by": "W"}, "PLATER", METALS)


def entered(found: Settled) -> Book:
    lots = [line(one.lot.lot, "100.00", alloy="G12") for one in found.lots]
    return Book([bought(1, "PLATER", *lots), ticket_of(found)])


@settings(max_examples=60, deadline=None)
@given(out_turns())
def test_the_book_accepts_it_and_posts_what_was_computed(document: Document) -> None:
    found = settled(document)
    posted = entered(found).posted(2)
    payable = sum(round(one.metals[0].payable) for one in found.lots)
    agreed = sum(round(one.metals[0].agreed) for one in found.lots)
    assert posted.get("party REF settled", (0, 0, 0))[1] == payable
    assert posted.get("retained REF", (0, 0, 0))[1] == agreed - payable


def test_wet_melted_and_dirty_lots_as_the_book_reads_them() -> None:
    """Moisture where there is nothing else; what was melted, or the metal of a dirty lot, as metallic."""
    found = settled(out_turn(
        lot("100.0 g", "500‰", name="A", moisture="8.0%"), lot("100.0 g", "500‰", name="B", melted=["90.0 g", "1.5 g"]),
        lot("100.0 g", "20‰", name="C", moisture="8.0%", metallic="4.0 g"), lot("100.0 g", "500‰", name="D"),
    ))  # fmt: skip
    lines = ticket_of(found)["lots"]
    said = [{k: v for k, v in one.items() if k in ("moisture", "metallic")} for one in lines]
    assert said == [{"moisture": "8%"}, {"metallic": "91.5 g"}, {"metallic": "4.0 g"}, {}]
    assert [agreed_ng(one, METALS)[0] for one in found.lots] == [g("92"), g("91.5"), g("4"), g("100")]
    retained = entered(found).posted(2)["retained REF"]
    payable = [round(one.metals[0].payable) for one in found.lots]
    assert retained[0] == g("287.5") - sum(payable)


def test_bars_in_good_delivery_step_down_one_by_one() -> None:
    """401.126 + 401.126 ozt melted: 401.100 each, not 802.250 together."""
    document = out_turn(lot("805.0 ozt", "995.8", melted=["401.126 ozt", "401.126 ozt"]),
                        rounding={"mass": "0.001 ozt", "weight": "good delivery"})  # fmt: skip
    (one,) = settled(document).lots
    assert one.settled == Fraction("802.2") * 31_103_476_800
