"""From the book to the tables that patterns are sought in, and the document that comes of it."""

from __future__ import annotations

import pytest

from ledger.balance.months.month import Ledger
from ledger.causes.patterns.document import patterns
from ledger.causes.patterns.single_faults import single_faults
from ledger.causes.patterns.tickets import Level, Stratum, tickets_of
from ledger.refusals import WrongUsage
from tests.book.plants import Book, lot, ticket
from tests.causes import rolled

PERIOD = "2026-10"


def test_a_ticket_says_what_it_lost_beyond_its_normal_loss_and_under_what() -> None:
    """100 g at 500 ‰ rolled to 99.80 g: 0.1 g of gold lost, of which 0.05 % of 50 g is normal (arithmetic)."""
    one = rolled.rolled(0, keyed="99.80", machine="mill", conditions={"temperature": "620 °C"})
    (found,) = tickets_of(Ledger(Book([rolled.receipt(1), one]).connection, "gold"), [PERIOD])
    assert (found.number, found.put_in, found.excess) == ("T-0002", 50_000_000_000, 75_000_000)
    assert found.stratum == Stratum("roll", "12/24")
    assert {level: share for level, share in found.levels.items() if level.factor != "weekday"} == {
        Level("worker", "W"): 1.0, Level("shift", "not stated"): 1.0, Level("machine", "mill"): 1.0,
        Level("scale", "S1"): 1.0, Level("temperature", "up to 620 °C"): 1.0,
    }  # fmt: skip


def test_a_job_is_one_ticket_shared_by_those_who_worked_it() -> None:
    """Three lines: one in by W, two out by ONLY."""
    job = {"operation": "roll", "area": "ROLL", "job": "J"}
    out = [lot("A", "50.00", scale="S1"), lot("B", "49.90", scale="S1")]
    book = Book([
        rolled.receipt(1), ticket(3, "work", **job, in_=[lot("L0", "100.00", all=True, scale="S1")], workers=["W"]),
        ticket(4, "work", **job, out=out, workers=["ONLY"], done=True),
    ])  # fmt: skip
    (found,) = tickets_of(Ledger(book.connection, "gold"), [PERIOD])
    workers = {level.code: share for level, share in found.levels.items() if level.factor == "worker"}
    assert workers == {"W": pytest.approx(1 / 3), "ONLY": pytest.approx(2 / 3)}
    assert found.excess == 25_000_000


def test_temperatures_are_split_at_their_middle() -> None:
    temperatures = ["600 °C", "610 °C", "620 °C", "630 °C"]
    work = [rolled.rolled(n, conditions={"temperature": t}) for n, t in enumerate(temperatures)]
    found = tickets_of(Ledger(Book([rolled.receipt(4), *work]).connection, "gold"), [PERIOD])
    codes = [level.code for t in found for level in t.levels if level.factor == "temperature"]
    assert codes == ["up to 610 °C", "up to 610 °C", "above 610 °C", "above 610 °C"]


def test_a_figure_keyed_wrong_is_left_out_and_metal_taken_is_not() -> None:
    """99.95 g keyed 95.99 g: the next weighing of all of the lot finds 3.96 g more. Taken metal is not there again."""
    wrong, taken = rolled.rolled(0, keyed="95.99"), rolled.rolled(1, kept=3.96)
    moves = [
        ticket(10 + n, "move", from_="ROLL", to="FINISH", lots=[lot(f"R{n}", mass, all=True, scale="S1")])
        for n, mass in enumerate(("99.95", "95.99"))
    ]  # fmt: skip
    ledger = Ledger(Book([rolled.receipt(2), wrong, taken, *moves]).connection, "gold")
    tickets = tickets_of(ledger, [PERIOD])
    assert all(t.z > 6 for t in tickets)
    (fault,) = single_faults(ledger, tickets)
    assert (fault.ticket.number, fault.lot, fault.opposite) == ("T-0002", "R0", "T-0010")


def test_the_document_names_who_keeps_back_by_code_with_mass() -> None:
    """0.20 g of 100 g kept back: 0.2 % of what was put in; of 50 g of gold each, 0.1 g a ticket."""
    document = patterns(rolled.book(kept=0.20).connection, "gold", PERIOD, PERIOD)
    (found,) = document["patterns"]
    assert (found["factor"], found["level"], found["what"]) == ("worker", "ONLY", "mean")
    assert found["inseparable_from"] == [{"factor": "worker", "level": "W", "operation": "roll", "way": "against"}]
    assert found["share"]["low"] < 0.002 < found["share"]["high"]
    assert float(found["mass"]) == pytest.approx(0.1 * found["tickets"], rel=0.15)
    assert document["tickets"] == 40


def test_nobody_is_named_where_nobody_keeps_anything() -> None:
    document = patterns(rolled.book().connection, "gold", PERIOD, PERIOD)
    assert document["patterns"] == []
    assert document["comparisons"] > 0


def test_periods_the_wrong_way_about_and_periods_without_tickets() -> None:
    connection = rolled.book(2).connection
    for first, last, words in (("2026-11", "2026-10", "ends before"), ("2025-01", "2025-02", "holds nothing")):
        with pytest.raises(WrongUsage, match=words):
            patterns(connection, "gold", first, last)
