"""The pass with derivatives gives the book's own differences: same origins, areas and periods, to a few nanograms."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from ledger.balance.measurement.propagation import propagate
from ledger.book.entering import enter
from ledger.book.intake import read_file
from ledger.book.opening import new_book
from ledger.book.setups import Setups
from ledger.book.store import reading, writing
from ledger.plant.toml_file import read_setup
from tests.balance.invented_months import Months
from tests.balance.plant_model import PLANT
from tests.balance.test_derivatives import BOOKS, TEXT
from tests.book.plants import Book

SAMPLE = Path(__file__).parents[2] / "sample_books"
#: Contents are rounded once a line and metal; the pass does not round.
PER_POSTING_NG = 2


def agree(connection: sqlite3.Connection) -> int:
    """Compare the sums of residuals with the difference accounts; returns how many sums there are."""
    found = propagate(connection, Setups.read(connection), 2**62)
    ours: dict[tuple[str, str, str, str], float] = {}
    for residual in found.residuals:
        for metal, ng in zip(found.metals, residual.content.values, strict=True):
            key = (residual.area, residual.period, residual.kind, metal)
            ours[key] = ours.get(key, 0.0) + ng
    rows = connection.execute(
        "SELECT area, period, origin, metal, sum(ng), count(*) FROM posting WHERE class = 'difference' "
        "AND origin NOT IN ('write-off', 'close') GROUP BY 1, 2, 3, 4"
    ).fetchall()
    booked = {tuple(key): (ng, n) for *key, ng, n in rows}
    for key in ours.keys() | booked.keys():
        ng, n = booked.get(key, (0, 1))
        assert ours.get(key, 0.0) == pytest.approx(ng, abs=PER_POSTING_NG * (n + 10)), key
    return len(booked)


@pytest.mark.parametrize("name", BOOKS)
def test_small_books(name: str) -> None:
    assert agree(Book(BOOKS[name], TEXT).connection)


def test_two_invented_months() -> None:
    assert agree(Book(Months(3, 60).documents, PLANT).connection) > 40


@pytest.mark.parametrize("sample", ["month", "year"])
def test_the_sample_books(sample: str, tmp_path: Path) -> None:
    book = tmp_path / "sample.lemel"
    new_book(book, read_setup(SAMPLE / sample / "plant.toml"), "test")
    with writing(book) as connection:
        enter(connection, read_file(SAMPLE / sample / "tickets.jsonl"), "test")
    with reading(book) as connection:
        assert agree(connection) > 20
