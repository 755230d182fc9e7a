"""A book of an earlier schema comes to the present one with every record as it was.

version_1.lemel is the sample book of these tests as the program of schema version 1 left it: kept, never made anew.
"""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from ledger.balance.months.closing import close_period
from ledger.balance.months.verifying import verify
from ledger.book import migrations, schema
from ledger.book.entering import Stamp
from ledger.book.store import reading, writing
from ledger.refusals import BookUnusable
from tests.book.sample import ANSWERS, rows

VERSION_1 = Path(__file__).with_name("version_1.lemel")


@pytest.fixture
def old(tmp_path: Path) -> Path:
    return Path(shutil.copy(VERSION_1, tmp_path / "old.lemel"))


def version(path: Path) -> int:
    with closing(sqlite3.connect(path)) as connection:
        return int(connection.execute("PRAGMA user_version").fetchone()[0])


def test_the_book_kept_is_of_version_1() -> None:
    assert version(VERSION_1) == 1
    assert not VERSION_1.with_name(VERSION_1.name + "-wal").exists()


def test_opening_it_brings_it_to_the_present_version_and_leaves_every_row(old: Path) -> None:
    with closing(sqlite3.connect(old)) as connection:
        tables = [name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
    before = {table: rows(old, table) for table in tables}
    with reading(old) as connection:
        assert verify(connection) == []
    assert version(old) == schema.SCHEMA_VERSION
    assert {table: rows(old, table) for table in tables} == before


def test_its_months_can_be_closed(old: Path) -> None:
    with writing(old) as connection:
        close_period(connection, "2026-10", ANSWERS, Stamp("2026-11-04T07:00:00+00:00", "third user"))
    with reading(old) as connection:
        assert verify(connection) == []


def test_a_step_that_fails_leaves_the_book_as_it_was(old: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(connection: sqlite3.Connection) -> None:
        connection.execute("CREATE TABLE half (x)")
        raise sqlite3.OperationalError("disk is full")

    before = old.read_bytes()
    monkeypatch.setitem(migrations.STEPS, 1, fails)
    with closing(sqlite3.connect(old, isolation_level=None)) as connection, pytest.raises(sqlite3.OperationalError):
        migrations.migrate(connection, 1)
    assert old.read_bytes() == before


def test_somebody_else_was_faster(old: Path) -> None:
    """Both found version 1; the second waits for the first, and then finds that nothing is left to do."""
    with closing(sqlite3.connect(old, isolation_level=None)) as second:
        migrations.migrate(sqlite3.connect(old, isolation_level=None), 1)
        before = second.execute("SELECT name, sql FROM sqlite_master ORDER BY name").fetchall()
        migrations.migrate(second, 1)
        assert second.execute("SELECT name, sql FROM sqlite_master ORDER BY name").fetchall() == before
    with reading(old) as connection:
        assert verify(connection) == []


def test_a_step_that_ended_the_transaction_is_told_as_it_was(old: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """SQLite itself ends the transaction when the disk is full: there is nothing left to undo."""

    def fails(connection: sqlite3.Connection) -> None:
        connection.execute("ROLLBACK")
        raise sqlite3.OperationalError("database or disk is full")

    monkeypatch.setitem(migrations.STEPS, 1, fails)
    with pytest.raises(BookUnusable, match="is full"), reading(old):
        pass
    assert version(old) == 1


def test_every_earlier_version_has_its_book_and_its_step() -> None:
    kept = {version(path) for path in VERSION_1.parent.glob("version_*.lemel")}
    assert kept == set(migrations.STEPS) == set(range(1, schema.SCHEMA_VERSION))
