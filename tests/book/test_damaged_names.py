"""A file damaged where its schema stands: SQLite quotes the broken name, and the name is no text any more."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from ledger.book.store import reading
from ledger.book.verifying import verify
from ledger.refusals import BookUnusable
from tests.book.sample import sample_book


def damaged(path: Path) -> Path:
    """Put a byte that begins no character into the statement that made a table."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")
    path.write_bytes(path.read_bytes().replace(b"CREATE TABLE flag (", b"CRE\xc1TE TABLE flag ("))
    return path


def test_a_book_with_a_broken_name_is_refused_as_damaged(tmp_path: Path) -> None:
    path = damaged(sample_book(tmp_path))
    with pytest.raises(BookUnusable, match="is damaged"), reading(path) as connection:
        connection.execute("SELECT count(*) FROM flag").fetchone()


def test_a_broken_name_is_a_finding(tmp_path: Path) -> None:
    path = damaged(sample_book(tmp_path))
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        assert any("cannot be read" in one.what for one in verify(connection))
