"""The record as evidence: entries, duties, changes, expectations, differences, numbers, roll-forward, one ticket."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from ledger.audit.changes import changes_document
from ledger.audit.cutoff import cutoff_document
from ledger.audit.differences import differences_document
from ledger.audit.duties import duties_document
from ledger.audit.entries import entries_document
from ledger.audit.expected import expected_document
from ledger.audit.inquiry import Inquiry
from ledger.audit.numbers import numbers_document
from ledger.audit.rolling import rolled_forward
from ledger.audit.tares import tares_document
from ledger.audit.weighed import ticket_document
from ledger.balance.months.statement import reconcile
from ledger.book.store import reading
from ledger.refusals import WrongUsage
from tests.audit.conftest import asked
from tests.book.plants import Book, bought, lot, reversal, ticket
from tests.book.sample import CHANGED_AT, sample_book

BAR = {"gold": "500", "form": "bar"}


# ------------------------------------------------------------------------------------------------------------- entries


def test_reversals_and_who_made_them() -> None:
    book = Book((bought(1, "VAULT", lot("A", "10.00", **BAR)), bought(2, "VAULT", lot("B", "10.00", **BAR)),
                 reversal(3, 1)))  # fmt: skip
    (row,) = entries_document(asked(book), None)["reversals"]
    assert (row["of"], row["by"], row["of_by"], row["reason"]) == ("T-0001", "W", "W", "wrong")
    assert row["recorded_later"] == 2
    (conflict,) = duties_document(asked(book), None)["conflicts"]
    assert (conflict["what"], conflict["person"]) == ("reversed a ticket of their own", "W")


def test_late_paper_by_how_many_hours() -> None:
    book = Book((bought(1, "VAULT", lot("A", "10.00", **BAR)), bought(9, "VAULT", lot("B", "10.00", **BAR)),
                 bought(4, "MELT", lot("C", "10.00", **BAR))))  # fmt: skip
    (row,) = entries_document(asked(book), None)["late"]
    assert (row["ticket"], row["hours"]) == ("T-0004", 5.0)


def test_what_was_recorded_after_a_close(tmp_path: Path) -> None:
    """A receipt of closed October is reversed in November and entered anew: both count in November, and are told."""
    from ledger.book.entering import Entry, Stamp
    from ledger.book.store import writing

    path = sample_book(tmp_path)
    of = "HC-0003"
    late = (
        {"ticket": "HC-0050", "kind": "reverse", "at": "2026-11-04T06:00", "by": "MQ", "of": of, "reason": "misread"},
        {**ticket_of(path, of), "ticket": "HC-0051", "corrects": of},
    )  # fmt: skip
    with writing(path) as connection:
        entry = Entry(connection)
        for document in late:
            entry.record(document, Stamp("2026-11-04T06:00:00+00:00", "somebody"))
        entry.writer.flush()
    with reading(path) as connection:
        rows = entries_document(Inquiry.of(connection), None)["after_close"]
    assert [(row["ticket"], row["closed"], row["counts_in"]) for row in rows] == [
        ("HC-0050", "2026-10", "2026-11"), ("HC-0051", "2026-10", "2026-11")]  # fmt: skip


def ticket_of(path: Path, number: str) -> dict[str, Any]:
    with reading(path) as connection:
        (body,) = connection.execute(
            "SELECT body FROM record JOIN ticket USING (seq) WHERE number = ?", (number,)).fetchone()  # fmt: skip
    document: dict[str, Any] = json.loads(body)
    return document


def test_odd_hours_are_those_that_hardly_any_ticket_falls_in() -> None:
    book = Book([
        *(bought(n, "VAULT", lot(f"L{n}", "1.00", **BAR), at=f"2026-10-{1 + n // 24:02d}T{9 + n % 6:02d}:00")
          for n in range(1, 300)),
        bought(300, "VAULT", lot("N", "1.00", **BAR), at="2026-10-21T03:00"),
    ])  # fmt: skip
    (row,) = entries_document(asked(book), None)["odd_hours"]
    assert (row["ticket"], row["why"]) == ("T-0300", "03 h")


def test_round_readings_more_often_than_chance() -> None:
    """Sixty readings of which twenty end in two zeros: P(X ≥ 20; 60, 1 %) is about 3·10⁻²⁵."""
    masses = [f"{n}.00" if n % 3 == 0 else f"{n}.37" for n in range(100, 160)]
    book = Book([bought(n, "VAULT", lot(f"L{n}", mass, scale="S1", **BAR)) for n, mass in enumerate(masses, 1)])
    rows = {(r["of"], r["code"]): r for r in entries_document(asked(book), None)["round"]}
    assert (rows["scale", "S1"]["readings"], rows["scale", "S1"]["round"]) == (60, 20)
    assert rows["person", "W"]["more_than_chance"] is True
    honest = Book([bought(n, "VAULT", lot(f"L{n}", f"{n}.37", scale="S1", **BAR)) for n in range(1, 61)])
    assert not any(r["more_than_chance"] for r in entries_document(asked(honest), None)["round"])


# -------------------------------------------------------------------------------------------------------------- duties


def test_the_keeper_who_counts_is_named() -> None:
    """KEEP keeps the vault. The book refuses that KEEP ends its count; a sheet, or a witness, it records."""
    book = Book((bought(1, "VAULT", lot("A", "10.00", **BAR)),
                 ticket(2, "count", area="VAULT", by="KEEP", ended=False, count="C", sheet="1",
                        lots=[lot("A", "10.00")]),
                 ticket(3, "count", area="VAULT", witness="KEEP", count="C", sheet="2", nil=True)))  # fmt: skip
    found = {row["what"]: row["person"] for row in duties_document(asked(book), None)["conflicts"]}
    assert found == {"counted the area they keep": "KEEP", "witnessed the count of the area they keep": "KEEP"}


def test_who_made_a_lot_and_assayed_it() -> None:
    book = Book((bought(1, "MELT", lot("A", "10.00", **BAR)),
                 ticket(2, "work", area="MELT", operation="melt", in_=[lot("A", all=True)], workers=["ONLY"],
                        out=[lot("M", "9.97", form="bar")]),
                 ticket(3, "assay", lot="M", method="FIRE", by="ONLY", results={"gold": [["500‰"]]})))  # fmt: skip
    (row,) = duties_document(asked(book), None)["conflicts"]
    assert (row["what"], row["person"], row["first"]) == ("assayed a lot that they made", "ONLY", "T-0003")


def test_rights_that_meet_in_one_person_and_what_each_did() -> None:
    book = Book([bought(1, "VAULT", lot("A", "10.00", **BAR), witness="KEEP")])
    document = duties_document(asked(book), None)
    assert {"person": "W", "rights": ["count", "accept"]} in document["rights"]
    assert {"person": "KEEP", "rights": ["keep", "count"]} in document["rights"]
    people = {p["person"]: p for p in document["people"]}
    assert (people["W"]["did"]["weighed"], people["KEEP"]["did"]["witnessed"]) == (1, 1)
    assert document["without_witness"] == {}


# ------------------------------------------------------------------------------------------- changes and expectations


def test_changes_of_the_set_up(tmp_path: Path) -> None:
    with reading(sample_book(tmp_path)) as connection:
        (change,) = changes_document(Inquiry.of(connection))["changes"]
    assert (change["record"], change["by"], change["tickets_before"], change["backdated"]) == (
        CHANGED_AT, "OV", 40, False)  # fmt: skip
    assert {"key": 'operation["ROLLING"].loss.gold', "before": "0.05%", "after": "0.03%"} in change["keys"]


def test_expected_loss_is_the_statements_and_was_set_before(year: Inquiry) -> None:
    """E by area is the month-end statement's, and every rate of the year is of the first record."""
    document = expected_document(year, "2026-05", None)
    statement = {a["area"]: a for a in reconcile(year.connection, "2026-05")["areas"]}
    assert {a["area"]: (a["expected"], a["gross_loss"]) for a in document["areas"]} == {
        code: (a["allowed"], a["gross_loss"]) for code, a in statement.items()}  # fmt: skip
    assert {row["record"] for row in document["operations"]} == {1}
    assert all(row["before_first_ticket"] for row in document["operations"])
    melting = next(row for row in document["operations"] if row["operation"] == "MELTING")
    assert (melting["rate"], melting["each"]) == ("0.08 %", "0.020000000 g")


def test_a_rate_set_after_the_first_ticket_says_so(tmp_path: Path) -> None:
    with reading(sample_book(tmp_path)) as connection:
        before = expected_document(Inquiry.of(connection), "2026-10", "ROLL")
        rolling = next(r for r in before["operations"] if r["operation"] == "ROLLING")
    assert (rolling["rate"], rolling["record"], rolling["before_first_ticket"]) == ("0.05 %", 1, True)


# --------------------------------------------------------------------------------------------------------- differences


def test_gains_and_losses_are_never_netted(year: Inquiry) -> None:
    """Losses less gains are G of the statement, area by area; both are shown."""
    document = differences_document(year, "2026-04", None)
    statement = {a["area"]: a["gross_loss"] for a in reconcile(year.connection, "2026-04")["areas"]}
    assert {a["area"]: a["net"] for a in document["areas"]} == statement
    for area in document["areas"]:
        origins = area["by_origin"].values()
        assert sum(float(o["losses"]) for o in origins) == pytest.approx(float(area["losses"]))
        assert float(area["losses"]) - float(area["gains"]) == pytest.approx(float(area["net"]))


def test_the_oldest_open_difference_and_who_accepted_what() -> None:
    """5 g missing in October and 2 g in November; 4 g are written off: the oldest still open is October's."""
    book = Book((
        bought(1, "VAULT", lot("A", "100.00", **BAR), lot("B", "100.00", **BAR)),
        ticket(2, "count", area="VAULT", lots=[lot("A", "90.00"), lot("B", "100.00")]),
        ticket(740, "count", area="VAULT", at="2026-11-10T09:00", lots=[lot("A", "90.00"), lot("B", "96.00")]),
        ticket(741, "writeoff", area="VAULT", at="2026-11-11T09:00", metal="gold", mass="4.0 g", cause="spill",
               evidence="photo 12", reason="seen", witness="KEEP"),
    ))  # fmt: skip
    document = differences_document(asked(book), "2026-11", "VAULT")
    assert document["open"] == [{"area": "VAULT", "open": "3.000000000", "since": "2026-10", "most_of": "2026-10",
                                 "most": "5.000000000"}]  # fmt: skip
    (row,) = document["written_off"]
    assert (row["mass"], row["by"], row["evidence"], row["witness"]) == ("4.0 g", "W", "photo 12", "KEEP")
    assert differences_document(asked(book), "2026-10", "VAULT")["written_off"] == []


def test_a_reversed_ticket_is_neither_loss_nor_gain() -> None:
    book = Book((bought(1, "VAULT", lot("A", "100.00", **BAR)),
                 ticket(2, "move", from_="VAULT", to="MELT", lots=[lot("A", "90.00", all=True)]),
                 reversal(3, 2)))  # fmt: skip
    vault = differences_document(asked(book), "2026-10", "VAULT")["areas"][0]
    assert (vault["losses"], vault["gains"], vault["singles"]) == ("0.000000000", "0.000000000", 0)


# --------------------------------------------------------------------------------------------- numbers and roll-forward


def test_gaps_voids_and_sheets() -> None:
    book = Book((
        bought(1, "VAULT", lot("A", "10.00", **BAR)),
        ticket(4, "void", numbers=["T-0002"], reason="torn"),
        *(ticket(n, "count", area="VAULT", count="C", sheet=sheet, ended=False, lots=[lot("A", "10.00")])
          for n, sheet in ((5, "A1"), (6, "A3"), (7, "A3"))),
    ))  # fmt: skip
    document = numbers_document(asked(book), None)
    assert [(g["first"], g["numbers"]) for g in document["missing"]] == [("T-0003", 1)]
    assert [(v["number"], v["reason"]) for v in document["void"]] == [("T-0002", "torn")]
    assert sorted((s["sheet"], s["what"]) for s in document["sheets"]) == [
        ("A2", "sheet number left out"), ("A3", "sheet number twice"), ("A3", "sheet number twice")]  # fmt: skip


def test_two_tickets_that_read_the_same() -> None:
    twice = [bought(n, "VAULT", lot(name, "10.37", **BAR)) for n, name in ((1, "A"), (3, "B"))]
    (pair,) = numbers_document(asked(Book(twice)), None)["alike"]
    assert (pair["ticket"], pair["other"]) == ("T-0001", "T-0003")
    apart = [*twice[:1], bought(3, "VAULT", lot("B", "10.37", **BAR), at="2026-12-24T09:00")]
    assert numbers_document(asked(Book(apart)), None)["alike"] == []


def test_a_count_rolled_forward() -> None:
    """Counted on the 2nd: 45 g; since then 5 g came and 10 g left: 40 g, which is what the book has."""
    book = Book((
        bought(1, "VAULT", lot("A", "100.00", **BAR)),
        ticket(30, "count", area="VAULT", lots=[lot("A", "90.00")]),
        bought(40, "VAULT", lot("B", "10.00", **BAR)),
        ticket(50, "move", from_="VAULT", to="MELT", lots=[lot("A", "20.00")]),
    ))  # fmt: skip
    inquiry = asked(book)
    vault = rolled_forward(inquiry, inquiry.last_instant())["areas"][0]
    assert (vault["count"], vault["counted"], vault["in"], vault["out"], vault["closing"]) == (
        "T-0030", "45.000000000", "5.000000000", "10.000000000", "40.000000000")  # fmt: skip
    before = rolled_forward(inquiry, inquiry.setups.calendar.instant("2026-10-01T12:00"))["areas"][0]
    assert (before["count"], before["counted"], before["closing"]) == (None, None, "50.000000000")


def test_counted_and_rolled_is_the_closing_in_every_area_of_the_year(year: Inquiry) -> None:
    for day in ("2026-03-17T12:00", "2026-10-15T12:00"):
        for area in rolled_forward(year, year.setups.calendar.instant(day))["areas"]:
            counted, came, left, closing = (int(area[k].replace(".", "")) for k in ("counted", "in", "out", "closing"))
            assert counted + came - left == closing


def test_cut_off_shows_what_was_on_its_way_and_numbers_that_cross() -> None:
    book = Book((
        bought(1, "VAULT", lot("A", "100.00", **BAR)),
        ticket(2, "move", from_="VAULT", to="MELT", at="2026-10-31T20:00", in_transit=True, lots=[lot("A", "20.00")]),
        bought(4, "VAULT", lot("B", "10.00", **BAR), at="2026-10-31T21:00"),
        bought(3, "MELT", lot("C", "10.00", **BAR), at="2026-11-01T07:00"),
        ticket(5, "arrive", of="T-0002", at="2026-11-01T08:00", lots=[lot("A", "20.00")]),
    ))  # fmt: skip
    document = cutoff_document(asked(book), "2026-10")
    (prefix,) = document["prefixes"]
    assert (prefix["last_before"], prefix["first_after"]) == ("T-0004", "T-0003")
    assert prefix["lower_numbers_dated_after"] == ["T-0003"]
    (sent,) = document["in_transit"]
    assert (sent["lot"], sent["fine"]) == ("A", "10.000000000")
    assert [(r["side"], r["ticket"]) for r in document["around"] if r["kind"] == "receive"] == [
        ("before", "T-0001"), ("before", "T-0004"), ("after", "T-0003")]  # fmt: skip


# ---------------------------------------------------------------------------------------------------------- one ticket


def test_uncertainty_of_each_measured_quantity_by_hand() -> None:
    """100 g on S1 (d 0.01, s 0.005, sensitivity 5·10⁻⁵), fire assay 0.3 ‰ and 0.2 ‰, bias 0.1 ‰.

    u(m)² = 0.005² + 0.01²/12 + (5·10⁻⁵·100)²; u(f)² = 0.3² + 0.2² + 0.1² ‰²; u(c)² = (f·u(m))² + (m·u(f))².
    """
    book = Book([bought(1, "VAULT", lot("A", "100.00", gold="500", method="FIRE", form="bar", scale="S1"))])
    (line,) = ticket_document(asked(book), "T-0001")["lines"]
    u_mass = (0.005**2 + 0.01**2 / 12 + (5e-5 * 100) ** 2) ** 0.5
    u_fineness = (0.3**2 + 0.2**2 + 0.1**2) ** 0.5 / 1000
    assert line["u_mass"] == pytest.approx(u_mass, rel=1e-6)
    assert line["u_fineness"] == pytest.approx(u_fineness, rel=1e-6)
    assert line["u_fine"] == pytest.approx(((0.5 * u_mass) ** 2 + (100 * u_fineness) ** 2) ** 0.5, rel=1e-6)
    assert line["largest"] == "determinations by FIRE"


def test_a_receiver_reads_net_and_the_sender_with_his_tare() -> None:
    book = Book((
        bought(1, "VAULT", lot("A", "50.00", gold="500", method="FIRE", form="bar", scale="LAB")),
        ticket(2, "move", from_="VAULT", to="MELT", lots=[
            lot("A", gross="150.00 g", container="TOTE", scale="S1", received_mass="49.98 g", received_scale="LAB",
                all=True)]),
    ))  # fmt: skip
    document = ticket_document(asked(book), "T-0002")
    sent, received = document["lines"]
    assert (sent["read"], sent["container"], received["read"], received["container"]) == (
        "150.00 g", "TOTE", "49.98 g", None)  # fmt: skip
    assert received["u_mass"] < sent["u_mass"]
    assert document["containers"][0]["tare"] == "100.000000000"
    assert tares_document(asked(book), None)["containers"][0]["weighings"] == 1


def test_a_work_ticket_against_what_was_expected() -> None:
    book = Book((
        bought(1, "ROLL", lot("A", "100.00", gold="500", form="bar")),
        ticket(2, "work", area="ROLL", operation="roll", in_=[lot("A", "100.00", all=True, scale="S1")],
               out=[lot("P", "99.90", form="strip", scale="S1")]),
    ))  # fmt: skip
    work = ticket_document(asked(book), "T-0002")["work"]
    assert (work["own"], work["expected"]) == ("0.050000000", "0.025000000")  # 0.05 % of 50 g
    assert work["z"] == pytest.approx(0.025 / (work["u_own"] ** 2 + work["spread"] ** 2) ** 0.5, rel=1e-3)


def test_a_ticket_that_is_not_there() -> None:
    with pytest.raises(WrongUsage, match="no ticket 'T-9'"):
        ticket_document(asked(Book()), "T-9")
