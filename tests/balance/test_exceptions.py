"""The daily list, section by section, on small books; and that it costs what is open, not what the book has seen."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from math import sqrt
from pathlib import Path
from typing import Any

import pytest

from ledger.balance.daily import exceptions as ex
from ledger.book import holdings
from ledger.book.setups import Setups
from ledger.book.store import reading
from ledger.faces.exceptions_page import Limits, document, gather
from tests.book.plants import PLANT, Book, bought, g, lot, number, reversal, ticket
from tests.book.sample import sample_book

METALS = ("gross", "gold", "silver")


class Morning:
    """A small book at the end of a day; without a day, of its last ticket's."""

    def __init__(self, *documents: dict[str, Any], on: str | None = None, text: str = PLANT) -> None:
        self.connection = Book(documents, text).connection
        self.setups = Setups.read(self.connection)
        day = ex.day_of(self.connection, self.setups, date.fromisoformat(on) if on else None)
        assert day is not None
        self.day = day

    def held(self) -> list[holdings.Held]:
        return holdings.stock(self.connection, holdings.plant_facts(self.connection), None, self.day.instant)

    def transfers(self) -> list[ex.TransferDifference]:
        return ex.transfer_differences(self.connection, self.setups, self.day)

    def bins(self, days: int = ex.ASSAY_DAYS) -> list[ex.OverdueBin]:
        return ex.overdue_bins(self.connection, self.setups, self.day, self.held(), days)

    def scales(self, days: int = ex.CHECK_DAYS) -> dict[tuple[str, str], ex.OverdueScale]:
        found = ex.overdue_scales(self.connection, self.setups, self.day, days)
        return {(s.scale, s.what): s for s in found}

    def text(self, instant: int) -> str:
        return self.setups.calendar.text(instant)


STOCK = bought(1, "ROLL", lot("A", "1000.00", clad="CL20"), lot("B", "200.00", clad="CL20"))


def test_open_jobs_with_what_is_left_in_them_then_and_now() -> None:
    job = {"operation": "roll", "area": "ROLL", "job": "J1"}
    tickets = (
        STOCK, ticket(2, "work", in_=[lot("A", all=True)], out=[], **job),
        ticket(30, "work", in_=[], out=[lot("C", "400.00")], **job),
    )  # fmt: skip
    now, then = Morning(*tickets), Morning(*tickets, on="2026-10-01")
    (left,), (before,) = (ex.aged_jobs(m.connection, m.day, METALS) for m in (now, then))
    assert (left.job, left.area, left.operation, now.text(left.since)) == ("J1", "ROLL", "roll", "2026-10-01T02:00")
    assert (left.amounts, before.amounts) == ([g("600"), g("15"), g("6")], [g("1000"), g("25"), g("10")])
    done = Morning(*tickets, ticket(31, "work", in_=[], out=[lot("D", "600.00")], done=True, **job))
    assert ex.aged_jobs(done.connection, done.day, METALS) == []


def test_lots_on_their_way_then_and_now() -> None:
    tickets = (
        STOCK,
        ticket(2, "move", from_="ROLL", to="FINISH", in_transit=True, lots=[lot("A", all=True), lot("B", "50.00")]),
        ticket(30, "arrive", of=number(2), lots=[lot("A", all=True)]),
    )  # fmt: skip
    now, then = Morning(*tickets), Morning(*tickets, on="2026-10-01")
    (b,) = ex.sent(now.connection, now.day, METALS)
    assert (b.lot, b.move, b.from_, b.to, now.text(b.since)) == ("B", "T-0002", "ROLL", "FINISH", "2026-10-01T02:00")
    assert b.amounts == [g("50"), g("1.25"), g("0.5")]
    assert [s.lot for s in ex.sent(then.connection, then.day, METALS)] == ["A", "B"]


# ------------------------------------------------------------------------------------------- sender and receiver


def moved(n: int, name: str, sent: str, received: str, **scales: str) -> dict[str, Any]:
    return ticket(n, "move", from_="ROLL", to="FINISH", lots=[lot(name, sent, received_mass=f"{received} g", **scales)])


def test_two_readings_on_one_scale_share_its_sensitivity() -> None:
    """S1 has σ 0.005 774 g a reading, 0.008 165 g for two: 0.02 g is 2.4 σ and passes, 0.03 g is 3.7 σ."""
    same = {"scale": "S1", "received_scale": "S1"}
    documents = STOCK, moved(2, "A", "100.00", "99.98", **same), moved(3, "B", "100.00", "99.97", **same)
    found = Morning(*documents).transfers()
    assert [(t.ticket, t.lot, t.from_, t.to) for t in found] == [("T-0003", "B", "ROLL", "FINISH")]
    assert found[0].difference == [g("0.03"), g("0.00075"), g("0.0003")]
    assert found[0].sigma == pytest.approx(1e9 * sqrt(2 * (0.005**2 + 0.01**2 / 12)))
    assert found[0].z == pytest.approx(3.674, abs=1e-3)


def test_two_scales_have_a_sensitivity_error_each() -> None:
    """100 g × 0.005 % = 0.005 g for each of the two: σ is then √(0.005774² + 0.0000577² + 2 × 0.005²) = 0.009 13 g."""
    two = {"scale": "S1", "received_scale": "LAB"}
    documents = STOCK, moved(2, "A", "100.00", "99.9740", **two), moved(3, "B", "100.00", "99.9720", **two)
    (found,) = Morning(*documents).transfers()
    assert found.lot == "B"
    assert found.sigma == pytest.approx(0.00913e9, rel=1e-3)


def test_an_arrival_is_held_against_the_sender_s_scale() -> None:
    sent = ticket(2, "move", from_="ROLL", to="FINISH", in_transit=True, lots=[lot("A", "100.00", scale="S1")])
    (found,) = Morning(STOCK, sent, ticket(3, "arrive", of=number(2), lots=[lot("A", "99.97", scale="S1")])).transfers()
    assert (found.kind, found.from_, found.to, found.z) == ("arrive", "ROLL", "FINISH", pytest.approx(3.674, abs=1e-3))


def test_a_list_is_taken_as_weighed_on_another_scale_like_ours() -> None:
    """0.04 g on 100 g: σ = √(2 × 0.005774² + 2 × 0.005²) = 0.0108 g, so 3.7 σ; the party is named, not a person."""
    line = lot("D", "99.96", clad="CL20", declared_mass="100.00 g", scale="S1")
    deposited = ticket(2, "receive", party="LIST", terms="deposited", to="VAULT", lots=[line])
    (found,) = Morning(deposited).transfers()
    assert (found.from_, found.to, found.difference[0]) == ("LIST", "VAULT", g("0.04"))
    assert found.z == pytest.approx(0.04 / sqrt(2 * (0.005**2 + 0.01**2 / 12) + 2 * (0.005 * 0.9996) ** 2), abs=1e-3)


def test_a_reversed_move_is_no_difference_any_more() -> None:
    wrong = moved(2, "A", "100.00", "90.00", scale="S1", received_scale="S1")
    assert Morning(STOCK, wrong, reversal(3, 2)).transfers() == []
    assert len(Morning(STOCK, wrong).transfers()) == 1


# -------------------------------------------------------------------------------------------------- irregular


def test_flags_of_the_day_and_those_still_standing() -> None:
    """T-0002 shows 10 g; T-0030 a day later, too; the first of the month is an earlier day of the same period."""
    odd = moved(2, "A", "100.00", "90.00", scale="S1", received_scale="S1")
    other = moved(30, "B", "100.00", "90.00", scale="S1", received_scale="S1")
    m = Morning(STOCK, odd, other)
    (today,) = ex.irregular_of_the_day(m.connection, m.day)
    assert (today.ticket, today.flag) == ("T-0030", "transfer difference")
    ((flag, (earlier,)),) = ex.irregular_still_standing(m.connection, m.day).items()
    assert (flag, earlier.ticket) == ("transfer difference", "T-0002")
    m = Morning(STOCK, odd, other, reversal(31, 2))
    assert ex.irregular_still_standing(m.connection, m.day) == {}


# ---------------------------------------------------------------------------------------------------- overdue


def ends(n: int, source: str, at: str) -> dict[str, Any]:
    return ticket(n, "work", operation="roll", area="ROLL", at=at, in_=[lot(source, "100.00")],
                  out=[lot(f"S{n}", "90.00"), {"bin": "ENDS-CAN", "mass": "10.00 g"}])  # fmt: skip


def test_a_bin_never_assayed_counts_from_the_first_addition_since_it_was_emptied() -> None:
    can = {"bin": "ENDS-CAN", "all": True}
    emptied = ticket(3, "move", at="2026-10-10T08:00", from_="ROLL", to="VAULT", lots=[can])
    first = (STOCK, ends(2, "A", "2026-10-02T08:00"))
    (old,) = Morning(*first, on="2026-11-02").bins()
    assert (old.bin, old.area, old.assayed) == ("ENDS-CAN", "ROLL", False)
    assert Morning(*first, on="2026-11-01").bins() == []  # thirty days
    anew = Morning(*first, emptied, ends(4, "A", "2026-10-20T08:00"), on="2026-11-18").bins(28)
    assert [(b.area, b.since) for b in anew if b.area == "ROLL"] == [("ROLL", anew[-1].since)]
    assert Morning(STOCK).text(anew[-1].since) == "2026-10-20T08:00"


def test_an_assayed_bin_counts_from_its_assay() -> None:
    assay = ticket(3, "assay", at="2026-10-15T08:00", lot="ENDS-CAN", method="FIRE", results={"gold": [["2.4%"]]})
    m = Morning(STOCK, ends(2, "A", "2026-10-02T08:00"), assay, ends(4, "A", "2026-10-16T08:00"), on="2026-11-15")
    (one,) = m.bins()
    assert (one.assayed, m.text(one.since)) == (True, "2026-10-15T08:00")
    assert m.bins(31) == []


def check(n: int, reading: str, at: str, **fields: object) -> dict[str, Any]:
    return ticket(n, "checkweigh", scale="S1", standard="200.0 g", reading=f"{reading} g", at=at, **fields)


def test_scales_past_their_calibration_off_and_not_checked() -> None:
    """S1 is calibrated on 1 September for 40 days: to 11 October. LAB is never checked and has no interval."""
    m = Morning(check(1, "200.0", "2026-10-04T07:00"), on="2026-10-11")
    assert set(m.scales()) == {("LAB", "never checked")}
    m = Morning(check(1, "200.0", "2026-10-04T07:00"), on="2026-10-12")
    assert str(m.scales()["S1", "past its calibration"].since) == "2026-10-11"
    assert str(m.scales()["S1", "not checked"].since) == "2026-10-04"
    assert ("S1", "not checked") not in m.scales(8)


def test_a_scale_is_out_of_control_until_a_later_check_or_a_calibration() -> None:
    off = check(1, "199.95", "2026-10-04T07:00")
    assert Morning(off).scales()["S1", "out of control"].off == -g("0.05")
    assert ("S1", "out of control") not in Morning(off, check(2, "200.0", "2026-10-04T08:00")).scales()
    upon = check(2, "199.95", "2026-10-04T08:00", calibrated=True)
    assert ("S1", "out of control") not in Morning(off, upon).scales()
    assert ("S1", "past its calibration") not in Morning(off, upon, on="2026-11-01").scales()


def test_a_scale_is_in_control_within_the_sensitivity_the_set_up_allows() -> None:
    """0.005 % of 200 g is 0.01 g; with repeatability σ = 0.011 55 g: 0.03 g is 2.6 of them, 0.04 g 3.5."""
    inside, outside = (Morning(check(1, reading, "2026-10-04T07:00")) for reading in ("200.03", "200.04"))
    assert ("S1", "out of control") not in inside.scales()
    assert ("S1", "out of control") in outside.scales()
    assert [len(ex.irregular_of_the_day(m.connection, m.day)) for m in (inside, outside)] == [0, 1]


def test_a_lot_below_nothing() -> None:
    """A receipt reversed after a part of it has left: −40 g stand until it is corrected."""
    m = Morning(STOCK, ticket(2, "move", from_="ROLL", to="VAULT", lots=[lot("A", "40.00")]), reversal(3, 1))
    assert [(h.area, h.described.lot, h.amounts[0]) for h in ex.below_nothing(m.held())] == [("ROLL", "A", -g("40"))]


# ---------------------------------------------------------------------------------------------------- as a whole


def whole(path: Path, change: Callable[[ex.Day], ex.Day], trace: list[str] | None = None) -> dict[str, Any]:
    with reading(path) as connection:
        facts, setups = holdings.plant_facts(connection), Setups.read(connection)
        day = ex.day_of(connection, setups)
        assert day is not None
        if trace is not None:
            connection.set_trace_callback(trace.append)
        found = gather(connection, facts, setups, change(day), Limits(5, 0), "gold")
        connection.set_trace_callback(None)
        if trace is not None:
            trace[:] = [plan for sql in trace for (*_, plan) in connection.execute(f"EXPLAIN QUERY PLAN {sql}")]
        return document(found, facts, "gold")


def test_sum_tables_and_postings_tell_the_same(tmp_path: Path) -> None:
    """The list of the last day, asked of what stands now, and added up from postings as of that day's end."""
    book = sample_book(tmp_path)
    now = whole(book, lambda day: day)
    assert now == whole(book, lambda day: replace(day, last=False))
    assert all(now[section] for section in ("open_jobs", "in_transit", "not_found", "scales_overdue"))


def test_it_reads_what_is_open_and_not_the_whole_book(tmp_path: Path) -> None:
    """No table that grows with the book is read through; the ticket numbers are, in their index."""
    plans: list[str] = []
    whole(sample_book(tmp_path), lambda day: day, plans)
    scans = [plan for plan in plans if plan.startswith("SCAN") and "COVERING INDEX" not in plan]
    scanned = {re.split(r"\s+", plan)[1] for plan in scans}
    assert scanned <= {"s", "w", "m", "o", "period_sum", "setup_version"}  # standing, on the way, missed, open jobs
    assert any("SEARCH t USING INDEX ticket_instant" in plan for plan in plans)


def test_without_a_ticket_there_is_no_day() -> None:
    connection = Book().connection
    assert ex.day_of(connection, Setups.read(connection)) is None
    given = ex.day_of(connection, Setups.read(connection), date(2026, 10, 5))
    assert given is not None
    assert given.period == "2026-10"


def test_a_party_owed_more_than_its_limit() -> None:
    """Deposited and leased together count against the limit; what is owed to us does not make another's room."""
    leased = {"party": "LEND", "to": "VAULT"}
    book = Book([
        ticket(1, "receive", terms="leased", **leased, lots=[lot("A", "100.00", alloy="G12")]),
        ticket(2, "receive", terms="deposited", **leased, lots=[lot("B", "20.00", alloy="G12")]),
        ticket(3, "transfer", from_={"party": "REF", "terms": "pool"}, to="own", metal="gold", fine="99.0 g"),
    ])  # fmt: skip
    setups = Setups.read(book.connection)
    assert ex.beyond_limits(setups, holdings.position(book.connection, "gold").parties) == []
    book.enter(ticket(4, "receive", terms="leased", **leased, lots=[lot("C", "0.02", alloy="G12")]))
    found = ex.beyond_limits(setups, holdings.position(book.connection, "gold").parties)
    assert found == [ex.BeyondLimit("LEND", g("60.01"), g("60"))]
