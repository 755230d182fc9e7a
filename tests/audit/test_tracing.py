"""Traces worked by hand, and what holds of every trace: what went in is accounted for to the nanogram."""

from __future__ import annotations

import sqlite3
from typing import Any

import pytest

from ledger.audit.inquiry import Inquiry
from ledger.audit.passages import Passage, lots_by_id, passages, standing_now
from ledger.audit.trace import trace
from ledger.audit.tracing import came, went
from ledger.refusals import WrongUsage
from tests.audit.conftest import asked
from tests.book.plants import Book, bought, lot, ticket

BAR = {"form": "bar"}


def ends(way: dict[str, Any]) -> dict[tuple[str, str | None, str], float]:
    """Return traced grams by what, where and lot."""
    return {(e["what"], e["where"], e["lot"]): float(e["traced"]) for e in way["ends"]}


@pytest.fixture
def mixed() -> Inquiry:
    """A 100 g and B 50 g, both 600 ‰, are joined to M 150 g; M is split into P and Q; 10 g of Q's ends go to a can."""
    return asked(Book((
        bought(1, "MELT", lot("A", "100.00", gold="600", **BAR), lot("B", "50.00", gold="600", **BAR)),
        ticket(2, "work", area="MELT", operation="solder", in_=[lot("A", all=True), lot("B", all=True)],
               out=[lot("M", "150.00", form="bar")]),
        ticket(3, "move", from_="MELT", to="ROLL", lots=[lot("M", all=True)]),
        ticket(4, "work", area="ROLL", operation="roll", in_=[lot("M", "150.00", all=True)],
               out=[lot("P", "90.00", form="strip"), lot("Q", "59.00", form="strip")]),
        ticket(5, "work", area="ROLL", operation="roll", in_=[lot("Q", "20.00")],
               out=[lot("R", "10.00", form="strip"), {"bin": "ENDS-CAN", "mass": "10.00 g", "class": "ENDS"}]),
        ticket(6, "ship", from_="ROLL", party="CUS", terms="sold", lots=[lot("P", "90.00", all=True)]),
    )))  # fmt: skip


def test_where_a_bar_went(mixed: Inquiry) -> None:
    """Two thirds of M's 90 g are A's: of P's 54 g 36, of Q's 35.4 g 23.6, and so on; the gram lost is 0.6 × 2/3."""
    forward = trace(mixed, "A")["forward"]
    fineness = 90 / 150
    assert forward["content"] == "60.000000000"
    assert ends(forward) == pytest.approx({
        ("shipped", "CUS sold", "A"): 90 * fineness * 2 / 3, ("on hand", "ROLL", "Q"): 39 * fineness * 2 / 3,
        ("on hand", "ROLL", "R"): 10 * fineness * 2 / 3, ("on hand", "ROLL", "ENDS-CAN"): 10 * fineness * 2 / 3,
        ("dust, not yet swept", "ROLL", "dust ROLL"): 1 * fineness * 2 / 3,
    }, abs=1e-9)  # fmt: skip


def test_where_the_ends_came_from(mixed: Inquiry) -> None:
    back = trace(mixed, "ENDS-CAN")["back"]
    assert ends(back) == pytest.approx({("received", "SUP bought", "A"): 4.0, ("received", "SUP bought", "B"): 2.0})
    assert [(b["depth"], b["lot"]) for b in back["tree"]] == [
        (0, "ENDS-CAN"), (1, "Q"), (2, "M"), (3, "A"), (3, "B")]  # fmt: skip


def test_the_tree_names_each_step(mixed: Inquiry) -> None:
    tree = trace(mixed, "A")["forward"]["tree"]
    assert [(b["depth"], b["lot"], b["ticket"]) for b in tree][:4] == [
        (0, "A", None), (1, "M", "T-0002"), (2, "P", "T-0004"), (3, "to CUS", "T-0006")]  # fmt: skip
    assert tree[1]["content"] == "90.000000000"
    assert tree[1]["share"] == pytest.approx(1)


def test_a_bin_mixes_what_stands_in_it() -> None:
    """10 g of A, then 30 g of B, go into a can; half is taken out: a quarter of it is A's, whatever was first."""
    book = Book((
        bought(1, "ROLL", lot("A", "100.00", gold="500", **BAR), lot("B", "100.00", gold="500", **BAR)),
        ticket(2, "work", area="ROLL", operation="roll", in_=[lot("A", "10.00")],
               out=[{"bin": "ENDS-CAN", "mass": "10.00 g", "class": "ENDS"}]),
        ticket(3, "work", area="ROLL", operation="roll", in_=[lot("B", "30.00")],
               out=[{"bin": "ENDS-CAN", "mass": "30.00 g", "class": "ENDS"}]),
        ticket(4, "work", area="ROLL", operation="roll", in_=[{"bin": "ENDS-CAN", "mass": "20.00 g"}],
               out=[lot("D", "20.00", form="drum")]),
    ))  # fmt: skip
    assert ends(trace(asked(book), "D")["back"]) == pytest.approx({
        ("received", "SUP bought", "A"): 2.5, ("received", "SUP bought", "B"): 7.5})  # fmt: skip
    assert ends(trace(asked(book), "A")["forward"])["on hand", "ROLL", "D"] == pytest.approx(2.5)


def test_scrap_that_loops_is_counted_once() -> None:
    """C goes into a melt, half comes back into the can that the next melt is fed from, three times over."""
    def melt(n: int, out: str) -> dict[str, Any]:
        return ticket(n, "work", area="ROLL", operation="roll", in_=[{"bin": "ENDS-CAN", "mass": "10.00 g"}],
                      out=[lot(out, "5.00", form="bar"), {"bin": "ENDS-CAN", "mass": "5.00 g", "class": "ENDS"}])

    book = Book((
        bought(1, "ROLL", lot("C", "10.00", gold="500", **BAR)),
        ticket(2, "work", area="ROLL", operation="roll", in_=[lot("C", "10.00", all=True)],
               out=[{"bin": "ENDS-CAN", "mass": "10.00 g", "class": "ENDS"}]),
        melt(3, "X"), bought(4, "ROLL", lot("E", "5.00", gold="500", **BAR)),
        ticket(5, "work", area="ROLL", operation="roll", in_=[lot("E", "5.00", all=True)],
               out=[{"bin": "ENDS-CAN", "mass": "5.00 g", "class": "ENDS"}]),
        melt(6, "Y"),
    ))  # fmt: skip
    forward = trace(asked(book), "ENDS-CAN")["forward"]
    assert forward["content"] == "7.500000000"  # 5 of C and 2.5 of E; what looped entered once
    assert sum(ends(forward).values()) == pytest.approx(7.5)
    assert ends(trace(asked(book), "Y")["back"]) == pytest.approx({
        ("received", "SUP bought", "C"): 1.25, ("received", "SUP bought", "E"): 1.25})  # fmt: skip


def test_through_a_job_and_its_sweeps() -> None:
    """A job of two inputs loses 2 g, which is swept up: both inputs' shares come back in the sweep."""
    book = Book((
        bought(1, "ROLL", lot("A", "60.00", gold="500", **BAR), lot("B", "20.00", gold="500", **BAR)),
        ticket(2, "work", area="ROLL", operation="roll", job="J", in_=[lot("A", "60.00", all=True)]),
        ticket(3, "work", area="ROLL", operation="roll", job="J", in_=[lot("B", "20.00", all=True)]),
        ticket(4, "work", area="ROLL", operation="roll", job="J", out=[lot("S", "78.00", form="strip")], done=True),
        ticket(5, "sweep", area="ROLL", cleaned_out=True,
               lots=[lot("W", "5.00", content={"gold": "0.8 g", "silver": "0.0 g"}, basis="estimated")]),
    ))  # fmt: skip
    forward, back = trace(asked(book), "A")["forward"], trace(asked(book), "W")["back"]
    assert ends(forward) == pytest.approx({
        ("on hand", "ROLL", "S"): 29.25, ("on hand", "ROLL", "W"): 0.6, ("dust, never came", "ROLL", "A"): 0.15})
    assert ends(back) == pytest.approx({
        ("received", "SUP bought", "A"): 0.6, ("received", "SUP bought", "B"): 0.2})  # fmt: skip


def test_a_settlement_ends_the_way_with_what_was_agreed() -> None:
    book = Book((
        bought(1, "PLATER", lot("A", "100.00", gold="500", **BAR)),
        ticket(2, "settle", area="PLATER", party="REF",
               lots=[lot("A", received="100.0 g", agreed={"gold": "49.9 g", "silver": "0.0 g"},
                         payable={"gold": "49.0 g", "silver": "0.0 g"})]),
    ))  # fmt: skip
    assert ends(trace(asked(book), "A")["forward"]) == pytest.approx({
        ("settled", "REF", "A"): 49.9, ("measured anew", "PLATER", "A"): 0.1})  # fmt: skip


def test_reversed_tickets_leave_no_trace() -> None:
    book = Book((
        bought(1, "MELT", lot("A", "100.00", gold="500", **BAR)),
        ticket(2, "move", from_="MELT", to="ROLL", lots=[lot("A", "40.00")]),
        ticket(3, "reverse", of="T-0002", reason="wrong"),
    ))  # fmt: skip
    assert ends(trace(asked(book), "A")["forward"]) == {("on hand", "MELT", "A"): 50.0}


def test_a_chain_longer_than_any_stack() -> None:
    """Twelve hundred rollings one after another: nothing recurses."""
    chain = [ticket(2, "work", area="ROLL", operation="roll", in_=[lot(f"L{n}", all=True)],
                    out=[lot(f"L{n + 1}", "100.00", form="strip")]) | {"ticket": f"T-{n + 2:04d}"}
             for n in range(1200)]  # fmt: skip
    book = Book([bought(1, "ROLL", lot("L0", "100.00", gold="500", form="bar")), *chain])
    document = trace(asked(book), "L0")
    assert document["forward"]["tree"][-1]["depth"] == 1200
    assert ends(document["forward"]) == {("on hand", "ROLL", "L1200"): pytest.approx(50.0)}
    assert ends(trace(asked(book), "L1200")["back"]) == {("received", "SUP bought", "L0"): pytest.approx(50.0)}


def test_a_lot_of_no_ticket() -> None:
    with pytest.raises(WrongUsage, match="no ticket names a lot 'Z'"):
        trace(asked(Book()), "Z")


# --------------------------------------------------------------------------------------------------- the sample year


@pytest.fixture(scope="module", params=(0, 1, 2))
def every(request: pytest.FixtureRequest, year_connection: sqlite3.Connection) -> tuple[int, list[Passage]]:
    return request.param, passages(year_connection, request.param)


def test_passages_come_to_what_stands(every: tuple[int, list[Passage]], year_connection: sqlite3.Connection) -> None:
    """Two roads: every taking, addition and change of a lot, and what the book says stands of it, to the nanogram."""
    index, found = every
    sums: dict[Any, int] = {}
    for passage in found:
        for taking in passage.takings:
            sums[taking.node] = sums.get(taking.node, 0) - taking.recorded
        for adding in passage.addings:
            sums[adding.node] = sums.get(adding.node, 0) + adding.content
        for change in passage.changes:
            sums[change.node] = sums.get(change.node, 0) + change.ng
    stands = standing_now(year_connection, index)
    lots = lots_by_id(year_connection)
    assert len(lots) > 2000
    assert [lots[lot][0] for lot in lots if sums.get(lot, 0) != stands.get(lot, 0)] == []


def test_every_trace_is_accounted_for(every: tuple[int, list[Passage]], year_connection: sqlite3.Connection) -> None:
    """Both ways, ends come to the content within rounding of shares (a microgram in kilograms), for every 100th lot."""
    _, found = every
    for each in list(lots_by_id(year_connection))[::100]:
        for way in (went(found, each), came(found, each)):
            assert sum(way.ends.values()) == pytest.approx(way.content, abs=1000, rel=1e-9)
