"""Opening a book: the right one, and refusing in plain words what is not a sound one."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from ledger.book import schema, store
from ledger.book.opening import new_book
from ledger.book.store import connect, find_book, reading, told, writing
from ledger.plant.toml_file import read_setup
from ledger.refusals import BookUnusable, WrongUsage
from tests.book.sample import MONTH, RECORDS, sample_book


def test_the_book_given_is_the_book(tmp_path: Path) -> None:
    other = tmp_path / "other.lemel"
    other.touch()
    assert find_book(other, tmp_path) == other


def test_the_only_book_of_the_folder(tmp_path: Path) -> None:
    path = sample_book(tmp_path)
    assert find_book(None, tmp_path) == path


def test_no_book(tmp_path: Path) -> None:
    with pytest.raises(WrongUsage, match="there is no book here"):
        find_book(None, tmp_path)
    with pytest.raises(WrongUsage, match=r"there is no book .*none\.lemel"):
        find_book(tmp_path / "none.lemel", tmp_path)
    with pytest.raises(WrongUsage, match="there is no book"):
        find_book(tmp_path, tmp_path)


def test_two_books(tmp_path: Path) -> None:
    for name in ("a.lemel", "b.lemel"):
        (tmp_path / name).touch()
    with pytest.raises(WrongUsage, match=r"there are 2 books here: a.lemel, b.lemel → give --book PATH"):
        find_book(None, tmp_path)


def test_reading_sees_one_moment(tmp_path: Path) -> None:
    path = sample_book(tmp_path)
    with reading(path) as reader:
        assert reader.execute("SELECT count(*) FROM flag").fetchone()[0]
        with writing(path) as writer:
            writer.execute("INSERT INTO flag SELECT 1000000, ticket, line, flag, words FROM flag LIMIT 1")
        assert reader.execute("SELECT max(id) FROM flag").fetchone()[0] < 1_000_000
    with reading(path) as reader:
        assert reader.execute("SELECT max(id) FROM flag").fetchone()[0] == 1_000_000


def test_writing_undoes_what_does_not_end_well(tmp_path: Path) -> None:
    path = sample_book(tmp_path)
    with pytest.raises(ZeroDivisionError), writing(path) as connection:
        assert connection.execute("INSERT INTO void_number VALUES ('HC-9999', 2)").rowcount / 0
    with reading(path) as connection:
        assert not connection.execute("SELECT * FROM void_number WHERE number = 'HC-9999'").fetchall()


def test_a_locked_book_is_told_after_some_patience(tmp_path: Path) -> None:
    path = sample_book(tmp_path)
    with (
        writing(path),
        pytest.raises(BookUnusable, match=r"is being written by somebody else; waited 0\.05 s → try again"),
        writing(path, patience=0.05),
    ):
        pass


def test_reading_goes_on_while_somebody_writes(tmp_path: Path) -> None:
    path = sample_book(tmp_path)
    with writing(path), reading(path, patience=0.05) as connection:
        assert connection.execute("SELECT count(*) FROM record").fetchone()[0] == RECORDS


def marked(path: Path, mark: str, value: int) -> Path:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(f"PRAGMA {mark} = {value}")
    return path


def test_a_later_version(tmp_path: Path) -> None:
    path = marked(sample_book(tmp_path), "user_version", schema.SCHEMA_VERSION + 1)
    with pytest.raises(BookUnusable, match="written by a later version"):
        connect(path)


def test_a_version_that_never_was(tmp_path: Path) -> None:
    path = marked(sample_book(tmp_path), "user_version", 0)
    with pytest.raises(BookUnusable, match="no version of this program wrote"):
        connect(path)


def test_a_database_of_another_program(tmp_path: Path) -> None:
    path = marked(sample_book(tmp_path), "application_id", 1)
    with pytest.raises(BookUnusable, match="not a book of this program"):
        connect(path)


@pytest.mark.parametrize("content", [b"", b"SQLite format 3\0", b"not a database, only text\n" * 100])
def test_not_a_database(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "letter.lemel"
    path.write_bytes(content)
    with pytest.raises(BookUnusable, match="is not a book"):
        connect(path)
    assert path.read_bytes() == content, "a file that is no book is left as it was"


def test_no_file_is_not_made(tmp_path: Path) -> None:
    with pytest.raises(BookUnusable, match="unable to open"):
        connect(tmp_path / "none.lemel")
    assert not list(tmp_path.iterdir())


def test_damaged_pages_are_told(tmp_path: Path) -> None:
    path = sample_book(tmp_path)
    data = bytearray(path.read_bytes())
    data[4096 * 2:] = b"\xa5" * len(data[4096 * 2:])  # fmt: skip
    path.write_bytes(data)
    with pytest.raises(BookUnusable, match=r"is damaged.*backup") as told_, reading(path) as connection:
        connection.execute("SELECT * FROM posting").fetchall()
    assert told_.value.exit_status == 4


def test_a_cut_off_file_is_told(tmp_path: Path) -> None:
    path = sample_book(tmp_path)
    path.write_bytes(path.read_bytes()[: 4096 * 3])
    with pytest.raises(BookUnusable, match="is damaged"), reading(path) as connection:
        connection.execute("SELECT * FROM posting").fetchall()


def write_too_much(path: Path) -> None:
    with writing(path) as connection:
        pages = connection.execute("PRAGMA page_count").fetchone()[0]
        connection.execute(f"PRAGMA max_page_count = {pages}")
        connection.execute("INSERT INTO flag VALUES (1000000, 2, 1, 'long', hex(zeroblob(100000)))")


def test_a_full_disk_is_told_and_nothing_recorded(tmp_path: Path) -> None:
    path = sample_book(tmp_path)
    before = path.read_bytes()
    with pytest.raises(BookUnusable, match="is full; nothing was recorded"):
        write_too_much(path)
    assert path.read_bytes() == before


def test_a_read_only_book_is_told(tmp_path: Path) -> None:
    path = sample_book(tmp_path)
    with (
        closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)) as connection,
        pytest.raises(BookUnusable, match=r"cannot be opened or written.*permissions"),
        told(path),
    ):
        connection.execute("INSERT INTO void_number VALUES ('HC-9999', 2)")


class Failing:
    """A connection whose COMMIT fails, with the transaction still open or ended."""

    def __init__(self, connection: sqlite3.Connection, *, ended: bool) -> None:
        self.connection, self.ended = connection, ended
        self.close = connection.close

    @property
    def in_transaction(self) -> bool:
        return self.connection.in_transaction

    def execute(self, sql: str, *values: object) -> sqlite3.Cursor:
        if sql != "COMMIT":
            return self.connection.execute(sql, *values)
        if self.ended:
            self.connection.execute("COMMIT")
        raise sqlite3.OperationalError("disk I/O error")


@pytest.mark.parametrize("ended", [False, True])
def test_an_error_of_the_commit_says_whether_anything_is_known(
    tmp_path: Path, ended: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, opened = sample_book(tmp_path), connect
    monkeypatch.setattr(store, "connect", lambda p, patience: Failing(opened(p, patience=patience), ended=ended))
    with pytest.raises(BookUnusable, match="enter the same again") as told_, writing(path) as connection:
        connection.execute("INSERT INTO void_number VALUES ('HC-9999', 2)")
    assert ("whether it was recorded is not known" in str(told_.value)) is ended
    with closing(sqlite3.connect(path)) as after:
        there = after.execute("SELECT count(*) FROM void_number WHERE number = 'HC-9999'").fetchone()
    assert there == (int(ended),)


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="the superuser may write everything")
def test_a_book_without_permission_is_told(tmp_path: Path) -> None:
    path = sample_book(tmp_path)
    path.chmod(0o444)
    with pytest.raises(BookUnusable, match="cannot be opened or written"), writing(path):
        pass


def test_a_new_book_is_never_written_over_an_old_one(tmp_path: Path) -> None:
    path = sample_book(tmp_path)
    before = path.read_bytes()
    with pytest.raises(WrongUsage, match="is there already"):
        new_book(path, read_setup(MONTH / "plant.toml"), "test")
    assert path.read_bytes() == before


def test_a_new_book_in_no_folder(tmp_path: Path) -> None:
    with pytest.raises(WrongUsage, match="cannot be made"):
        new_book(tmp_path / "none" / "a.lemel", read_setup(MONTH / "plant.toml"), "test")


def test_a_new_book_leaves_nothing_beside_it(tmp_path: Path) -> None:
    new_book(tmp_path / "a.lemel", read_setup(MONTH / "plant.toml"), "test")
    assert [path.name for path in tmp_path.iterdir()] == ["a.lemel"]
