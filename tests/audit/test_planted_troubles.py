"""What the year's maker planted, and an auditor's commands show: truth.json is the outside figure."""

from __future__ import annotations

from typing import Any

import pytest

from ledger.audit.counts import counts_document
from ledger.audit.cutoff import cutoff_document
from ledger.audit.event import event_document
from ledger.audit.inquiry import Inquiry
from ledger.audit.numbers import numbers_document
from ledger.audit.weighed import ticket_document

Troubles = dict[str, dict[str, Any]]


def grams(text: str) -> float:
    return float(text.partition(" ")[0])


def test_a_number_that_was_never_entered(year: Inquiry, troubles: Troubles) -> None:
    (gap,) = numbers_document(year, None)["missing"]
    assert (gap["first"], gap["numbers"]) == (troubles["T02"]["missing_number"], 1)


def test_a_delivery_entered_twice(year: Inquiry, troubles: Troubles) -> None:
    (pair,) = numbers_document(year, None)["alike"]
    assert [pair["ticket"], pair["other"]] == troubles["T05"]["tickets"]


def test_a_shipment_dated_in_the_next_period(year: Inquiry, troubles: Troubles) -> None:
    trouble = troubles["T11"]
    (found,) = cutoff_document(year, trouble["month"])["found_later"]
    assert [found["lot"], found["ticket"], found["area"]] == [trouble["lots"][0], trouble["tickets"][0], "DISPATCH"]


def test_a_scale_that_was_out_of_control_at_that_ticket(year: Inquiry, troubles: Troubles) -> None:
    """S-PRESS read 0.2 % high from 8 to 28 April: its tickets in between lie between a good check and a bad one."""
    trouble = troubles["T06"]
    at = ticket_document(year, trouble["tickets"][len(trouble["tickets"]) // 2])
    (scale,) = [s for s in at["scales"] if s["scale"] == trouble["scale"]]
    assert scale["check_before"]["mark"] != "act"
    assert scale["check_after"]["mark"] == "act"
    assert scale["in_control"] is False
    assert float(scale["check_after"]["off"]) == pytest.approx(2000 * (trouble["factor"] - 1), rel=0.1)


def test_metal_taken_at_once_has_its_chain(year: Inquiry, troubles: Troubles) -> None:
    """8.4 g out of GB-0022 on 13 August: seen before, missed after, by the count that the maker names."""
    trouble = troubles["T14"]
    start, end = year.setups.calendar.bounds(trouble["month"])
    document = event_document(year, (start, end - 1), trouble["area"], 10**9)
    (event,) = document["events"]
    assert event["lot"] == trouble["lots"][0]
    assert float(event["mass"]) == pytest.approx(grams(trouble["size"]["gold"]), abs=0.01)
    assert event["last_seen"]["at"] < trouble["at"] < event["first_missed"]["at"]
    assert (event["first_missed"]["ticket"], event["evidence"]) == (trouble["visible"]["ticket"], "count")


def test_a_lot_left_off_the_sheets_was_found_again(year: Inquiry, troubles: Troubles) -> None:
    trouble = troubles["T13"]
    start, end = year.setups.calendar.bounds(trouble["month"])
    events = event_document(year, (start, end - 1), trouble["area"], 10**9)["events"]
    (event,) = [e for e in events if e["lot"] == trouble["lots"][0]]
    assert event["found_again"] is True
    assert float(event["mass"]) == pytest.approx(-grams(trouble["size"]["gold"]), abs=0.01)


def test_count_accuracy_shows_what_was_counted_twice_and_not_found(year: Inquiry, troubles: Troubles) -> None:
    by_period = {row["period"]: row for row in counts_document(year, None, None)["by_period"]}
    assert by_period[troubles["T19"]["month"]]["listed twice"] == 1
    assert by_period[troubles["T02"]["month"]]["not found"] == 1
    wrong_area = by_period[troubles["T17"]["month"]]
    assert (wrong_area["not found"], wrong_area["counted where it is not recorded"]) == (1, 1)
    assert all(row["accuracy"] == pytest.approx(row["true"] / row["lots"]) for row in by_period.values())


def test_the_keeper_took_part_in_no_count(year: Inquiry) -> None:
    counts = counts_document(year, None, None)["counts"]
    assert len(counts) > 150
    assert not any(count["keeper_took_part"] for count in counts)
