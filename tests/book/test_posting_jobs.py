"""Jobs, over several tickets: handbook table "work with `job`"."""

import pytest

from tests.book.plants import Book, Document, amount, bought, g, lot, minus, reversal, ticket


def work(n: int, operation: str, area: str = "ROLL", /, **fields: object) -> Document:
    return ticket(n, "work", operation=operation, area=area, job="J-1", **fields)


CLAD = bought(1, "ROLL", lot("A", "1000.00", clad="CL20"))


def test_what_is_in_and_not_yet_out_stands_as_the_job() -> None:
    book = Book([CLAD, work(2, "roll", in_=[lot("A", "999.90", all=True)])])
    assert book.posted(2) == {
        "place ROLL A": minus(amount("1000.00", "25.00", "10.00")),
        "difference ROLL": amount("0.10", "0.0025", "0.001"),
        "place ROLL J-1": amount("999.90", "24.9975", "9.999"),
    }


def test_its_own_difference_is_struck_once_when_done() -> None:
    book = Book([
        CLAD,
        work(2, "roll", in_=[lot("A", "1000.00", all=True)]),
        work(3, "roll", out=[lot("B", "400.00")]),
        work(4, "roll", out=[lot("C", "599.20")], done=True),
    ])  # fmt: skip
    assert "difference ROLL" not in book.posted(3)
    assert book.posted(4)["difference ROLL"] == amount("0.80", "0.02", "0.008")
    assert book.at("place ROLL J-1") == (0, 0, 0)
    assert book.origins("ROLL") == {"work": amount("0.80", "0.02", "0.008")}


def test_a_carrying_job_shares_the_input_s_determination() -> None:
    book = Book([CLAD, work(2, "roll", in_=[lot("A", all=True)], out=[lot("B", "500.00")])])
    rows = book.connection.execute(
        "SELECT count(DISTINCT determination) FROM valuation JOIN lot ON lot.id = valuation.lot "
        "WHERE number IN ('A', 'B')"
    )
    assert rows.fetchone() == (1,)


def test_a_carrying_job_refuses_another_fineness() -> None:
    book = Book([
        bought(1, "ROLL", lot("A", "100.00", clad="CL20"), lot("X", "100.00", alloy="G12")),
        work(2, "roll", in_=[lot("A", all=True)]),
    ])  # fmt: skip
    book.refuses(work(3, "roll", in_=[lot("X", all=True)]), "carries one fineness")


def test_a_combining_job_leaves_its_fume_out() -> None:
    """Handbook 3: content left ÷ mass left, mass in × (1 − fume)."""
    book = Book([
        bought(1, "MELT", lot("G", "500.00", gold="1000"), lot("C", "500.00", alloy="BRASS")),
        work(2, "melt", "MELT", in_=[lot("G", all=True)]),
        work(3, "melt", "MELT", in_=[lot("C", all=True)]),
        work(4, "melt", "MELT", out=[lot("BAR-1", "498.50")]),
        work(5, "melt", "MELT", out=[lot("BAR-2", "498.50")], done=True),
    ])  # fmt: skip
    assert book.at("place MELT BAR-1") == book.at("place MELT BAR-2") == (g("498.50"), g("250.00"), 0)
    assert book.posted(5)["difference MELT"] == (g("3.00"), 0, 0)


def test_surface_outputs_share_what_is_left_when_done() -> None:
    """1000 g of 1/20 12K lose 2.00 g of layer: 1.00 g gold, 0.40 g silver, never the average."""
    book = Book([
        CLAD | {"to": "FINISH"},
        work(2, "buff", "FINISH", in_=[lot("A", all=True)]),
        work(3, "buff", "FINISH", out=[lot("P", "998.00")], done=True),
    ])  # fmt: skip
    assert book.at("place FINISH P") == amount("998.00", "24.00", "9.60")
    assert book.posted(3)["difference FINISH"] == amount("2.00", "1.00", "0.40")


def test_without_an_output_to_share_the_rest_is_difference_and_flagged() -> None:
    book = Book([
        CLAD | {"to": "FINISH"},
        work(2, "buff", "FINISH", in_=[lot("A", all=True)]),
        work(3, "buff", "FINISH", out=[lot("P", "990.00")]),
        work(4, "buff", "FINISH", done=True),
    ])  # fmt: skip
    assert book.posted(4)["difference FINISH"] == amount("10.00", "0.25", "0.10")
    assert book.flags(4) == ["nothing to share"]


def test_a_job_counted_half_way_makes_no_false_difference() -> None:
    """300 g are out, 699.40 g are on the trays: what is missing is what was lost, 0.60 g, and nothing at `done`."""
    book = Book([
        CLAD,
        work(2, "roll", in_=[lot("A", all=True)]),
        work(3, "roll", out=[lot("B", "300.00")]),
        ticket(4, "count", area="ROLL", lots=[lot("J-1", "699.40"), lot("B", "300.00")]),
        work(5, "roll", out=[lot("C", "699.40")], done=True),
    ])  # fmt: skip
    assert book.posted(4)["difference ROLL"] == amount("0.60", "0.015", "0.006")
    assert "difference ROLL" not in book.posted(5)


def test_a_count_that_misses_a_job_and_the_ticket_that_finds_it() -> None:
    book = Book([
        CLAD,
        work(2, "roll", in_=[lot("A", all=True)]),
        ticket(3, "count", area="ROLL", nil=True),
        work(4, "roll", out=[lot("B", "999.00")], done=True),
    ])  # fmt: skip
    assert "found again" in book.flags(4)
    assert book.origins("ROLL") == {"work": amount("1.00", "0.025", "0.01")}
    assert book.missed() == set()


@pytest.mark.parametrize(
    ("document", "words"),
    [
        (work(5, "roll", in_=[lot("B", all=True)]), "is done"),
        (ticket(5, "work", operation="roll", area="FINISH", job="J-2", out=[lot("X", "1.00")]), "nothing in it"),
        (ticket(5, "work", operation="roll", area="ROLL", job="B", out=[lot("X", "1.00")]), "not a job"),
    ],
)
def test_what_a_job_refuses(document: Document, words: str) -> None:
    book = Book([CLAD, work(2, "roll", in_=[lot("A", all=True)]), work(3, "roll", out=[lot("B", "999.00")], done=True)])
    book.refuses(document, words)


def test_a_job_keeps_one_area_and_one_operation() -> None:
    book = Book([CLAD, work(2, "roll", in_=[lot("A", all=True)])])
    book.refuses(work(3, "buff", out=[lot("B", "1.00")]), "kept in operation roll")
    book.refuses(work(3, "roll", "FINISH", out=[lot("B", "1.00")]), "kept in area ROLL")


def test_a_lot_may_come_back_out_under_its_own_number() -> None:
    book = Book([
        CLAD,
        work(2, "roll", in_=[lot("A", all=True)]),
        work(3, "roll", out=[lot("A", "600.00")]),
        work(4, "roll", out=[lot("A", "399.50")], done=True),
    ])  # fmt: skip
    assert book.at("place ROLL A") == amount("999.50", "24.9875", "9.995")


def test_reversing_the_last_ticket_opens_the_job_again() -> None:
    tickets = [CLAD, work(2, "roll", in_=[lot("A", all=True)]), work(3, "roll", out=[lot("B", "999.00")], done=True)]
    book = Book([*tickets, reversal(4, 3), work(5, "roll", out=[lot("C", "999.00")], done=True)])
    assert book.at("place ROLL C")[0] == g("999.00")
    assert book.at("place ROLL B") == (0, 0, 0)
    assert book.origins("ROLL") == {"work": amount("1.00", "0.025", "0.01")}


def test_reversing_an_input_takes_its_fume_and_surface_back() -> None:
    tickets = [
        bought(1, "MELT", lot("G", "500.00", gold="1000"), lot("C", "500.00", alloy="BRASS")),
        work(2, "melt", "MELT", in_=[lot("G", all=True)]),
        work(3, "melt", "MELT", in_=[lot("C", all=True)]),
    ]
    book = Book(tickets)
    (before,) = book.connection.execute("SELECT fume_due FROM job_state ORDER BY id LIMIT 1").fetchone()
    book.enter(reversal(4, 3))
    (after,) = book.connection.execute("SELECT fume_due FROM job_state ORDER BY id DESC LIMIT 1").fetchone()
    assert after == before == str(g("1.50"))
    assert book.at("place MELT C") == (g("500.00"), 0, 0)


@pytest.mark.parametrize("operation", ["roll", "melt", "buff", "pickle"])
def test_single_tickets_and_a_job_give_the_same_areas(operation: str) -> None:
    """The same month entered as single tickets and as jobs."""
    stock = bought(1, "ROLL", lot("A", "1000.00", clad="CL20"), lot("B", "500.00", clad="CL20"))
    inputs = [lot("A", "999.98", all=True), lot("B", "499.97", all=True)]
    outputs = [lot("X", "700.00"), lot("Y", "798.00")]
    single = Book([stock, ticket(2, "work", operation=operation, area="ROLL", in_=inputs, out=outputs)])
    job = Book([
        stock,
        work(2, operation, in_=inputs[:1]),
        work(3, operation, in_=inputs[1:]),
        work(4, operation, out=outputs, done=True),
    ])  # fmt: skip
    assert job.balances() == single.balances()
    assert job.origins("ROLL") == single.origins("ROLL")


@pytest.mark.parametrize("job", [{}, {"job": "J-1"}])
def test_an_owner_s_metal_stays_the_owner_s_and_mixing_is_flagged(job: dict[str, str]) -> None:
    deposited = ticket(1, "receive", party="CUS", terms="deposited", to="ROLL", lots=[
        lot("A", "100.00", clad="CL20", owner="CUS"), lot("C", "100.00", clad="CL20", owner="CUS"),
        lot("B", "100.00", clad="CL20")])  # fmt: skip

    def rolled(n: int, made: str, *lots: str) -> Document:
        return ticket(n, "work", operation="roll", area="ROLL", in_=[lot(each, all=True) for each in lots],
                      out=[lot(made, f"{99.95 * len(lots):.2f}")], **{"job": f"J-{n}"} if job else {})  # fmt: skip

    book = Book([deposited, rolled(2, "A1", "A"), rolled(3, "BC", "B", "C")])
    owners = dict(book.connection.execute("SELECT number, owner FROM lot WHERE number IN ('A1', 'BC')").fetchall())
    assert owners == {"A1": "CUS", "BC": None}
    assert (book.flags(2), "owners mixed" in book.flags(3)) == ([], True)
