"""Reversals and corrections: the exact opposite at the same date, and what later tickets keep of it."""

from __future__ import annotations

import pytest

from tests.book.plants import Amount, Book, Document, again, amount, bought, g, lot, minus, number, reversal, ticket

START = bought(1, "VAULT", lot("A", "100.0000", gold="500", silver="200"))
A = amount("100", "50", "20")
RIGHT = [lot("A", "100.0000", gold="600", silver="200")]


def move(n: int, from_: str, to: str, *lots: Document) -> Document:
    return ticket(n, "move", from_=from_, to=to, lots=list(lots))


def work(n: int, operation: str, area: str, in_: list[Document], *out: Document, **fields: object) -> Document:
    return ticket(n, "work", operation=operation, area=area, in_=in_, out=list(out), **fields)


def mended(*later: Document) -> Book:
    """A was received at 500 ‰ of gold instead of 600 ‰; later tickets followed; then it was corrected."""
    return Book([START, *later, reversal(90, 1), again(START, 91, lots=RIGHT)])


def apart(a: Book, b: Book) -> dict[str, Amount]:
    """Return a − b by account, where they differ by more than rounding (10 ng)."""
    x, y = a.balances(), b.balances()
    keys = {*x, *y}
    differences = {k: tuple(p - q for p, q in zip(x.get(k, (0, 0, 0)), y.get(k, (0, 0, 0)), strict=True)) for k in keys}
    return {k: d for k, d in differences.items() if max(map(abs, d)) > 10}


# ---- reversals


def test_a_reversal_is_the_exact_opposite_at_the_date_of_what_it_reverses() -> None:
    book = Book([START, reversal(24 * 40, 1)])
    assert book.posted(24 * 40) == {account: minus(a) for account, a in book.posted(1).items()}
    assert book.balances() == {}
    rows = book.connection.execute("SELECT DISTINCT instant, period FROM posting").fetchall()
    assert len(rows) == 1
    assert rows[0][1] == "2026-10"


def test_a_reversal_is_never_reversed_and_nothing_twice() -> None:
    book = Book([START, reversal(2, 1)])
    book.refuses(reversal(3, 2), "T-0002 is itself a reversal")
    book.refuses(reversal(3, 1), "T-0001 was reversed before, by T-0002")
    book.refuses(reversal(3, 77), "no ticket T-0077 is recorded")
    book.enter(ticket(4, "void", numbers=[number(50)], reason="torn"))
    book.refuses(reversal(5, 4), "spoiled numbers")


def test_a_lot_that_was_emptied_keeps_the_stock_a_reversal_would_change() -> None:
    """A left VAULT whole; without its receipt VAULT is over by 100 g, and the lot stands at nothing, not below it."""
    book = Book([START, move(2, "VAULT", "MELT", lot("A", all=True)), reversal(3, 1)])
    assert book.balances() == {"place MELT A": A, "difference VAULT": minus(A)}


def test_a_counted_lot_keeps_its_stock_in_the_period_of_the_count() -> None:
    """Received in October, counted in November: the receipt's reversal is November's difference."""
    november = 24 * 35
    count = ticket(november, "count", area="VAULT", lots=[lot("A", "100.0000")])
    book = Book([START, count, reversal(november + 1, 1)])
    assert book.at("place VAULT A") == A
    rows = book.connection.execute("SELECT period, sum(ng) FROM posting WHERE class = 'difference' AND metal = 'gold' "
                                   "GROUP BY period").fetchall()  # fmt: skip
    assert rows == [("2026-11", -50 * 10**9)]


def test_a_tickets_own_emptying_is_undone_with_it() -> None:
    book = Book([START, move(2, "VAULT", "MELT", lot("A", "99.0000", all=True)), reversal(3, 2)])
    assert book.balances() == {"place VAULT A": A, "own": minus(A)}


def test_what_is_left_below_nothing_until_the_correction_is_flagged() -> None:
    book = Book([START, move(2, "VAULT", "MELT", lot("A", "40.0000")), reversal(3, 1)])
    assert book.flags(3) == ["below nothing"]


def test_reversing_a_count_takes_back_what_was_found_of_it() -> None:
    """B was missed by the count and found by a part that was moved: without the count nothing was ever missing."""
    book = Book([
        START, ticket(2, "count", area="VAULT", nil=True, lots=[]), move(3, "VAULT", "MELT", lot("A", "40.0000")),
        reversal(4, 2),
    ])  # fmt: skip
    assert book.balances() == {
        "place VAULT A": amount("60", "30", "12"), "place MELT A": amount("40", "20", "8"), "own": minus(A),
    }  # fmt: skip


# ---- corrections


def test_a_correction_names_a_reversed_ticket_of_its_kind_once() -> None:
    book = Book([START])
    book.refuses(again(START, 3), "T-0001 was not reversed")
    book.enter(reversal(2, 1))
    book.refuses(move(3, "VAULT", "MELT", lot("A", all=True)) | {"corrects": "T-0001"}, "is of kind receive")
    book.enter(again(START, 3))
    book.refuses(again(START, 4), "was corrected before, by T-0003")
    book.refuses(reversal(5, 3) | {"corrects": "T-0001"}, "a reversal corrects nothing")


def test_a_corrected_mass_stands_where_nothing_later_fixed_it() -> None:
    right = [lot("A", "110.0000", gold="500", silver="200")]
    book = Book([START, move(2, "VAULT", "MELT", lot("A", "40.0000")), reversal(3, 1), again(START, 4, lots=right)])
    assert book.at("place VAULT A") == amount("70", "35", "14")
    assert "difference VAULT" not in book.balances()


def test_a_corrected_mass_of_a_lot_that_was_emptied_is_the_areas_difference() -> None:
    """110 g came, 100 g left as all there was: 10 g are missing in VAULT."""
    right = [lot("A", "110.0000", gold="500", silver="200")]
    book = Book([START, move(2, "VAULT", "MELT", lot("A", all=True)), reversal(3, 1), again(START, 4, lots=right)])
    assert book.at("difference VAULT") == amount("10", "5", "2")
    assert book.at("place MELT A") == A


def test_a_correction_may_be_dated_before_later_tickets_of_the_lot() -> None:
    late = move(9, "VAULT", "MELT", lot("A", "40.0000"))
    assert Book([START, late, reversal(10, 1), again(START, 11)]).flags(11) == []


#: What may have happened to A between its wrong receipt and the correction; every mass was weighed.
LATER: dict[str, list[Document]] = {
    "a part moved": [move(2, "VAULT", "MELT", lot("A", "40.0000"))],
    "all moved, weighed by both": [move(2, "VAULT", "MELT", lot("A", "99.9000", all=True, received_mass="99.8000 g"))],
    "counted": [ticket(2, "count", area="VAULT", lots=[lot("A", "99.0000")])],
    "assayed": [ticket(2, "assay", lot="A", method="FIRE", results={"gold": [["590"]], "silver": [["190‰"]]})],
    "rolled, with a loss": [work(2, "roll", "VAULT", [lot("A", "99.9000", all=True)], lot("B", "95.0000"))],
    "rolled in part": [work(2, "roll", "VAULT", [lot("A", "50.0000")], lot("B", "49.0000"))],
    "buffed": [work(2, "buff", "VAULT", [lot("A", "50.0000")], lot("B", "49.0000"))],
    "pickled, moved, assayed": [
        work(2, "pickle", "VAULT", [lot("A", "50.0000")], lot("B", "49.0000")),
        move(3, "VAULT", "ROLL", lot("B", "20.0000")),
        ticket(4, "assay", lot="B", method="FIRE", results={"gold": [["590"]], "silver": [["190‰"]]}),
    ],
    "melted and moved on": [
        bought(2, "VAULT", lot("CU", "60.0000", alloy="BRASS")),
        work(3, "melt", "VAULT", [lot("A", "70.0000"), lot("CU", "60.0000", all=True)], lot("M", "129.0000"),
             lot("SL", "1.0000", gold="40", silver="20", basis="estimated")),
        move(4, "VAULT", "ROLL", lot("M", "100.0000")),
        work(5, "roll", "ROLL", [lot("M", "99.9000", all=True)], lot("R", "90.0000"), lot("S", "9.0000")),
        move(6, "ROLL", "FINISH", lot("S", "9.0100", all=True)),
    ],
    "through a bin": [
        move(2, "VAULT", "ROLL", lot("A", "50.0000")),
        work(3, "roll", "ROLL", [lot("A", "50.0000", all=True)], {"bin": "ENDS-CAN", "mass": "49.0000 g"}),
        move(4, "ROLL", "MELT", {"bin": "ENDS-CAN", "mass": "9.0000 g"}),
    ],
    "on its way": [ticket(2, "move", from_="VAULT", to="PLATER", in_transit=True, lots=[lot("A", "40.0000")])],
    "sent and arrived": [
        ticket(2, "move", from_="VAULT", to="PLATER", in_transit=True, lots=[lot("A", "40.0000")]),
        ticket(3, "arrive", of=number(2), lots=[lot("A", "39.9000")]),
    ],
    "in an open job": [work(2, "roll", "VAULT", [lot("A", "50.0000")], lot("B", "20.0000"), job="J1")],
    "in a job that is done": [
        work(2, "roll", "VAULT", [lot("A", "50.0000")], lot("B", "20.0000"), job="J1"),
        ticket(3, "work", operation="roll", area="VAULT", job="J1", done=True, out=[lot("C", "29.0000")]),
    ],
    "not found, and found whole": [
        ticket(2, "count", area="VAULT", nil=True, lots=[]), move(3, "VAULT", "MELT", lot("A", "99.0000", all=True)),
    ],
    "not found, and found whole elsewhere": [
        ticket(2, "count", area="VAULT", nil=True, lots=[]), move(3, "ROLL", "MELT", lot("A", "99.0000", all=True)),
    ],
    "a part and the rest on one ticket": [move(2, "VAULT", "MELT", lot("A", "40.0000"), lot("A", "59.0000", all=True))],
    "on two trays of one count": [ticket(2, "count", area="VAULT", lots=[lot("A", "40.0000"), lot("A", "59.0000")])],
    "not found": [ticket(2, "count", area="VAULT", nil=True, lots=[])],
    "not found, and found in part elsewhere": [
        ticket(2, "count", area="VAULT", nil=True, lots=[]),
        work(3, "roll", "ROLL", [lot("A", "40.0000")], lot("B", "39.0000")),
    ],
    "discarded": [
        ticket(2, "discard", area="VAULT", lots=[lot("A", "9.0000", content={"gold": "5.0 g", "silver": "1.0 g"})]),
    ],
}  # fmt: skip


@pytest.mark.parametrize("later", LATER.values(), ids=LATER)
def test_the_corrected_book_is_the_book_that_was_right_at_first(later: list[Document]) -> None:
    """Places, differences, dust, jobs and transit, up to the rounding of each line."""
    assert apart(mended(*later), Book([START | {"lots": RIGHT}, *later])) == {}


@pytest.mark.parametrize("later", LATER.values(), ids=LATER)
def test_the_same_ticket_again_changes_nothing(later: list[Document]) -> None:
    book = Book([START, *later])
    before, missed = book.balances(), book.missed()
    book.enter(reversal(90, 1), again(START, 91))
    assert (book.balances(), book.missed()) == (before, missed)


def test_what_stands_is_revalued_against_where_the_corrected_ticket_put_it() -> None:
    """40 g in MELT hold 4 g more gold than was thought, VAULT's 60 g 6 g more: own 10 g, no difference anywhere."""
    book = mended(move(2, "VAULT", "MELT", lot("A", "40.0000")))
    assert book.balances() == {
        "place VAULT A": amount("60", "36", "12"), "place MELT A": amount("40", "24", "8"),
        "own": minus(amount("100", "60", "20")),
    }  # fmt: skip


def test_metal_that_has_left_is_set_against_own() -> None:
    """The bill to CUS said nothing of gold that was not known of: give-away and accounts stay as they were."""
    line = lot("A", "40.0000", billed={"gold": "490‰"})
    book = mended(ticket(2, "ship", from_="VAULT", party="CUS", terms="sold", lots=[line]))
    assert book.at("give-away CUS") == amount("0", "0.4", "0")
    assert book.at("own") == minus(amount("60", "36.4", "12"))
    assert book.at("place VAULT A") == amount("60", "36", "12")


def test_a_later_ticket_uses_what_the_correction_found() -> None:
    after = work(92, "roll", "MELT", [lot("A", all=True)], lot("B", "39.0000"))
    book = mended(move(2, "VAULT", "MELT", lot("A", "40.0000")))
    book.enter(after)
    assert book.at("place MELT B") == amount("39", "23.4", "7.8")


def test_a_correction_that_was_wrong_is_corrected_in_turn() -> None:
    later = [
        move(2, "VAULT", "MELT", lot("A", "40.0000")),
        work(3, "roll", "MELT", [lot("A", all=True)], lot("B", "39.0000")),
    ]
    book = mended(*later)
    third = [lot("A", "100.0000", gold="550", silver="200")]
    book.enter(reversal(92, 91), again(START, 93, lots=third, corrects=number(91)))
    assert apart(book, Book([START | {"lots": third}, *later])) == {}


SWEPT = ticket(1, "sweep", area="FINISH", lots=[lot("SW", "10.0000", gold="400", silver="0", basis="estimated")])
CONTENT = {"gold": "3.0 g", "silver": "0.1 g"}
SETTLED = {"received": "10.0 g", "agreed": CONTENT, "payable": CONTENT}
AT_VAULT = move(2, "FINISH", "VAULT", lot("SW", "10.0000", all=True))


@pytest.mark.parametrize(
    "later",
    [
        [AT_VAULT, ticket(3, "discard", area="VAULT", lots=[lot("SW", "10.0000", all=True, content=CONTENT)])],
        [AT_VAULT, ticket(3, "discard", area="VAULT", lots=[lot("SW", "9.0000", content=CONTENT)])],
        [AT_VAULT, ticket(3, "settle", area="VAULT", party="REF", lots=[lot("SW", **SETTLED)])],
        [AT_VAULT, ticket(3, "assay", lot="SW", method="FIRE", results={"gold": [["350"]], "silver": [["10‰"]]})],
    ],
    ids=["discarded", "discarded in part", "settled", "assayed"],
)
@pytest.mark.parametrize("right", [lot("SW", "10.0000", gold="450"), lot("SW", "9.9000", gold="400")])
def test_a_corrected_estimate_is_trued_up_to_its_dust(later: list[Document], right: Document) -> None:
    """Whatever the sweeps were thought to hold or weigh: what was measured in the end is FINISH's dust, and no loss."""
    corrected = [right | {"basis": "estimated"}]
    book = Book([SWEPT, *later, reversal(90, 1), again(SWEPT, 91, lots=corrected)])
    assert apart(book, Book([SWEPT | {"lots": corrected}, *later])) == {}


def test_what_is_missed_is_missed_with_the_content_it_should_have_had() -> None:
    book = mended(ticket(2, "count", area="VAULT", nil=True, lots=[]))
    book.enter(move(92, "VAULT", "MELT", lot("A", all=True)))
    assert book.at("place MELT A") == amount("100", "60", "20")
    assert "difference VAULT" not in book.balances()


def test_a_correction_may_make_another_lot_than_the_ticket_it_corrects() -> None:
    made = ticket(2, "work", operation="melt", area="MELT", in_=[lot("A", "100.00")], out=[lot("B", "99.00")])
    book = Book([bought(1, "MELT", lot("A", "500.00", gold="500")), made, reversal(3, 2)])
    book.enter(again(made, 4, out=[lot("C", "99.50")]))
    assert book.at("place MELT C")[0] == g("99.50")
    assert "place MELT B" not in book.balances()
