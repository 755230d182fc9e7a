"""The sample year entered once for all tests that only read it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from ledger.balance.months.statement import reconcile
from ledger.book.entering import enter
from ledger.book.intake import read_file
from ledger.book.opening import new_book
from ledger.book.store import reading, writing
from ledger.plant.toml_file import read_setup

YEAR = Path(__file__).parents[2] / "sample_books" / "year"
MONTHS = [f"2026-{month:02d}" for month in range(1, 13)]


@pytest.fixture(scope="session")
def year_book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a book of the sample year; read it only."""
    book = tmp_path_factory.mktemp("year") / "year.lemel"
    new_book(book, read_setup(YEAR / "plant.toml"), "test")
    with writing(book) as connection:
        enter(connection, read_file(YEAR / "tickets.jsonl"), "test")
    return book


@pytest.fixture(scope="session")
def year_statements(year_book: Path) -> dict[str, dict[str, Any]]:
    """Return the statements of the sample year's months, in gold."""
    with reading(year_book) as connection:
        return {month: reconcile(connection, month) for month in MONTHS}
