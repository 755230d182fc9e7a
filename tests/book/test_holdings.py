"""Holdings: at the present moment they read what is on hand, whatever the book's age."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest

from ledger.book.entering import enter
from ledger.book.holdings import as_of, not_found, plant_facts, position, stock
from ledger.book.intake import read_file
from ledger.book.lot_page import lot_page, numbers_like
from ledger.book.opening import new_book
from ledger.book.setups import Setups
from ledger.book.store import reading, writing
from ledger.plant.toml_file import read_setup

MONTH = Path(__file__).resolve().parents[2] / "sample_books" / "month"


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("holdings") / "month.lemel"
    new_book(made, read_setup(MONTH / "plant.toml"), "tester")
    with writing(made) as connection:
        enter(connection, read_file(MONTH / "tickets.jsonl"), "tester")
    return made


@pytest.fixture
def book(path: Path) -> Iterator[sqlite3.Connection]:
    with reading(path) as connection:
        yield connection


def test_nothing_present_is_added_up_from_postings(book: sqlite3.Connection) -> None:
    said: list[str] = []
    book.set_trace_callback(said.append)
    facts = plant_facts(book)
    stock(book, facts)
    stock(book, facts, "VAULT")
    not_found(book)
    position(book, "gold")
    as_of(book)
    assert said
    assert [sql for sql in said if " posting" in sql or " line" in sql] == []


def test_stock_reads_the_index_of_what_is_on_hand(book: sqlite3.Connection) -> None:
    said: list[str] = []
    book.set_trace_callback(said.append)
    stock(book, plant_facts(book))
    book.set_trace_callback(None)
    plan = [row[3] for row in book.execute("EXPLAIN QUERY PLAN " + said[-1])]
    assert any("standing_on_hand" in step for step in plan)
    assert not any(step.startswith("SCAN") and "standing_on_hand" not in step for step in plan)


def test_a_lot_is_found_by_its_indexes(book: sqlite3.Connection) -> None:
    said: list[str] = []
    book.set_trace_callback(said.append)
    assert lot_page(book, plant_facts(book), "PL-1005") is not None
    book.set_trace_callback(None)
    asked = [sql for sql in said if "FROM setup_version" not in sql]
    plans = [row[3] for sql in asked for row in book.execute("EXPLAIN QUERY PLAN " + sql)]
    assert [step for step in plans if step.startswith("SCAN")] == []


@pytest.mark.parametrize("metal", ["gross", "gold", "silver"])
def test_now_is_what_the_postings_up_to_the_last_instant_say(book: sqlite3.Connection, metal: str) -> None:
    facts, late = plant_facts(book), Setups.read(book).calendar.instant("2027-01-01T00:00")
    assert position(book, metal) == position(book, metal, late)
    assert stock(book, facts) == stock(book, facts, instant=late)
    assert not_found(book) == not_found(book, instant=late)


def test_areas_stand_in_the_order_of_the_set_up(book: sqlite3.Connection) -> None:
    assert list(dict.fromkeys(held.area for held in stock(book, plant_facts(book)))) == ["VAULT", "ROLL", "REFINER"]


def test_a_number_that_no_ticket_names(book: sqlite3.Connection) -> None:
    assert lot_page(book, plant_facts(book), "PL-9") is None
    assert numbers_like(book, "pl-10") == ["PL-1005"]
