"""The sample year and its truth, for tests that only read."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from ledger.audit.inquiry import Inquiry
from ledger.book.entering import enter
from ledger.book.intake import read_file
from ledger.book.opening import new_book
from ledger.book.store import reading, writing
from ledger.plant.toml_file import read_setup
from tests.book.plants import Book

YEAR = Path(__file__).parents[2] / "sample_books" / "year"



@pytest.fixture(scope="session")
def year_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A book of the sample year. For reading only."""
    book = tmp_path_factory.mktemp("year") / "year.lemel"
    new_book(book, read_setup(YEAR / "plant.toml"), "test")
    with writing(book) as connection:
        enter(connection, read_file(YEAR / "tickets.jsonl"), "test")
    return book


@pytest.fixture(scope="session")
def year_connection(year_file: Path) -> Iterator[sqlite3.Connection]:
    with reading(year_file) as connection:
        yield connection


@pytest.fixture
def year(year_connection: sqlite3.Connection) -> Inquiry:
    """An inquiry into the sample year, in gold."""
    return Inquiry.of(year_connection)


@pytest.fixture(scope="session")
def troubles() -> dict[str, dict[str, Any]]:
    """The troubles that the sample year's maker planted, by number: what it knows, and the engine does not."""
    told = json.loads((YEAR / "truth.json").read_text(encoding="utf-8"))["troubles"]
    return {trouble["id"]: trouble for trouble in told}


def asked(book: Book, metal: str | None = None) -> Inquiry:
    """Return an inquiry into a book in memory."""
    return Inquiry.of(book.connection, metal)
