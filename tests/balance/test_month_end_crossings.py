"""What runs over a month-end: a job counted half-way, and metal on its way."""

from decimal import Decimal
from typing import Any

from ledger.balance.months.statement import reconcile
from tests.book.plants import Book, bought, lot, number, ticket

OCTOBER, NOVEMBER = "2026-10", "2026-11"


def row(book: Book, period: str, area: str) -> dict[str, Any]:
    rows: list[dict[str, Any]] = reconcile(book.connection, period)["areas"]
    return next(each for each in rows if each["area"] == area)


def test_a_job_counted_half_way_closes_the_month_without_a_false_difference() -> None:
    """1000 g of 1/20 12K lose 0.05 % evenly, 0.2 g until the count and 0.3 g after: both months close to nothing."""
    def work(n: int, **fields: object) -> dict[str, object]:
        return ticket(n, "work", operation="roll", area="ROLL", job="J-1", **fields)

    book = Book([
        bought(1, "ROLL", lot("A", "1000.00", clad="CL20")),
        work(2, in_=[lot("A", all=True)]),
        work(3, out=[lot("B", "400.00")]),
        ticket(740, "count", area="ROLL", lots=[lot("J-1", "599.80"), lot("B", "400.00")]),
        work(750, out=[lot("C", "599.50")], done=True),
        ticket(1440, "count", area="ROLL", lots=[lot("B", "400.00"), lot("C", "599.50")]),
    ])  # fmt: skip
    october, november = row(book, OCTOBER, "ROLL"), row(book, NOVEMBER, "ROLL")
    assert (october["gross_loss"], october["allowed"], october["unexplained"]) == (
        "0.005000000", "0.005000000", "0.000000000"
    )  # fmt: skip
    assert (november["gross_loss"], november["allowed"], november["unexplained"]) == (
        "0.007500000", "0.007500000", "0.000000000"
    )  # fmt: skip
    assert [job["job"] for job in october["open_jobs"]] == ["J-1"]
    assert november["open_jobs"] == []
    assert october["verdict"] == november["verdict"] == "within"


def test_an_arrival_in_the_next_month_stands_as_transit() -> None:
    """Sent on the 31st, weighed on the 1st: nothing is missing in October; the receiver's 0.10 g is November's."""
    book = Book([
        bought(1, "ROLL", lot("A", "1000.00", clad="CL20")),
        ticket(735, "move", from_="ROLL", to="FINISH", in_transit=True, lots=[lot("A", "1000.00", all=True)]),
        ticket(740, "count", area="ROLL", nil=True),
        ticket(741, "count", area="FINISH", nil=True),
        ticket(750, "arrive", of=number(735), lots=[lot("A", "999.90")]),
    ])  # fmt: skip
    sender, receiver = row(book, OCTOBER, "ROLL"), row(book, OCTOBER, "FINISH")
    assert [Decimal(sender[key]) for key in ("issued", "closing", "in_transit")] == [25, 0, 25]
    assert sender["unexplained"] == receiver["unexplained"] == receiver["received"] == "0.000000000"
    later = row(book, NOVEMBER, "FINISH")
    assert Decimal(later["received"]) == 25
    assert (later["difference_from"]["transfer"], later["closing"]) == ("0.002500000", "24.997500000")
    assert row(book, NOVEMBER, "ROLL")["in_transit"] == "0.000000000"


def test_a_fine_metal_loss_of_a_content_step_is_allowed_where_it_was_made() -> None:
    """Pickled, rolled on, and only then assayed: the pickle's 0.01 % once, in its own area."""
    book = Book([
        bought(1, "FINISH", lot("A", "1000.00", clad="CL20")),
        ticket(2, "work", operation="pickle", area="FINISH", in_=[lot("A", all=True)], out=[lot("P", "999.80")]),
        ticket(3, "move", from_="FINISH", to="ROLL", lots=[lot("P", all=True)]),
        ticket(4, "work", operation="roll", area="ROLL", in_=[lot("P", all=True)], out=[lot("R", "999.30")]),
        ticket(5, "assay", lot="R", method="FIRE", results={"gold": [["2.5%"]], "silver": [["1.0%"]]}),
    ])  # fmt: skip
    assert row(book, OCTOBER, "FINISH")["allowed"] == "0.002500000"
    assert row(book, OCTOBER, "ROLL")["allowed"] == "0.012500000"
