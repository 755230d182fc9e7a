"""Rates learned from the sample year, against the losses that its maker drew: sample_books/year_maker/losses.py.

The maker loses what plant.toml states, with its spread and drift, and knows nothing of the ledger; 22 troubles are
planted in the year, blunders on work tickets among them.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from ledger.balance.months.month import Ledger
from ledger.balance.rates.document import Asked, rates
from ledger.balance.rates.found import look
from ledger.balance.rates.proposing import Proposal, propose
from ledger.balance.rates.ticket_rates import ticket_rates
from ledger.book.setups import Setups, Version
from ledger.book.store import reading
from ledger.plant.changes import apply_change
from ledger.plant.setup import Setup

TRUTH = Path(__file__).parents[2] / "sample_books" / "year" / "truth.json"


@pytest.fixture(scope="module")
def year(year_book: Path) -> Iterator[sqlite3.Connection]:
    with reading(year_book) as connection:
        yield connection


@pytest.fixture(scope="module")
def learned(year: sqlite3.Connection) -> dict[str, list[dict[str, Any]]]:
    return {metal: rates(year, metal, Asked())["rates"] for metal in ("gold", "silver", "gross")}


@pytest.mark.parametrize(("metal", "operations"), [("gold", 10), ("silver", 4), ("gross", 2)])
def test_every_true_rate_lies_in_its_interval(
    learned: dict[str, list[dict[str, Any]]], metal: str, operations: int
) -> None:
    """Sixteen intervals of 95 %: fewer than one is expected to miss, and with this seed none does."""
    found = [r for r in learned[metal] if r["in_force"]["how"] == "stated"]
    assert len(found) == operations
    for rate in found:
        assert rate["loss"]["low"] <= rate["in_force"]["loss"] <= rate["loss"]["high"], rate["operation"]
        assert rate["says"] == "keep"


def test_the_intervals_are_narrow_enough_to_be_of_use(learned: dict[str, list[dict[str, Any]]]) -> None:
    """Rolling, a hundred tickets: a tenth of the rate either way. Annealing rests on assays that hold it poorly."""
    found = {r["operation"]: r["loss"] for r in learned["gold"]}
    assert found["ROLLING"]["high"] - found["ROLLING"]["low"] < 0.25 * 0.0004
    assert found["ANNEALING"]["high"] - found["ANNEALING"]["low"] > 0.0001


def test_planted_blunders_on_work_tickets_are_among_those_that_stand_out(
    year: sqlite3.Connection, learned: dict[str, list[dict[str, Any]]]
) -> None:
    troubles = json.loads(TRUTH.read_text(encoding="utf-8"))["troubles"]
    keyed = {t["tickets"][0] for t in troubles if t["family"] in ("transposed", "digit", "decimal", "tare")}
    ledger = Ledger(year, "gold")
    worked = {rate.ticket for rate in ticket_rates(ledger, ledger.periods)}
    out = {ticket for r in learned["gold"] for ticket in r["standing_out"]}
    assert len(keyed & worked) >= 4
    assert keyed & worked <= out


def wrongly_stated(year: sqlite3.Connection, *operations: dict[str, Any], without: str) -> dict[str, Proposal]:
    """Return what is proposed where the set-up had stated other rates, and none for one operation."""
    setup = Setups.read(year).latest
    change = {"from": "2026-01-01", "by": "OV", "reason": "other rates", "operation": list(operations)}
    document = apply_change(setup, change)[0].to_document()
    for operation in document["operation"]:
        if operation["code"] == without:
            for key in ("loss", "spread", "drift"):
                del operation[key]
    setups = Setups([Version(1, 0, Setup.from_document(document).to_document())])
    ledger = Ledger(year, "gold", setups)
    return {p.found.operation: p for p in propose(look(ledger, ledger.periods))[0]}


def test_wrong_rates_are_found_out_and_true_ones_kept(year: sqlite3.Connection) -> None:
    """Rolling truly loses 0.04 %, buffing 0.50 %, blanking 0.030 % with a spread of 0.010 %."""
    found = wrongly_stated(
        year, {"code": "ROLLING", "loss": {"gold": "0.03%"}}, {"code": "BUFFING", "loss": {"gold": "0.70%"}},
        without="BLANKING",
    )  # fmt: skip
    assert [code for code, p in found.items() if p.values] == ["ROLLING", "BLANKING", "BUFFING"]
    assert (found["ROLLING"].says, found["ROLLING"].raises) == ("raise", True)
    assert float(found["ROLLING"].values["loss"][:-1]) == pytest.approx(0.04, abs=0.004)
    assert (found["BUFFING"].says, found["BUFFING"].raises) == ("lower", False)
    assert float(found["BUFFING"].values["loss"][:-1]) == pytest.approx(0.5, abs=0.02)
    assert (found["BLANKING"].says, found["BLANKING"].raises) == ("state", False)
    assert float(found["BLANKING"].values["loss"][:-1]) == pytest.approx(0.03, abs=0.004)
    assert float(found["BLANKING"].values["spread"][:-1]) == pytest.approx(0.010, abs=0.003)
