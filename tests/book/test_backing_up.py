"""A backup is a sound book of one moment, under its name whole or not at all, and written over nothing else."""

from __future__ import annotations

import os
import shutil
import sqlite3
import stat
from contextlib import closing
from hashlib import sha256
from pathlib import Path

import pytest

from ledger.book import backing_up, placing
from ledger.book.backing_up import Backup, back_up
from ledger.book.entering import Entry, Stamp
from ledger.book.opening import new_book
from ledger.book.schema import RECORD_TABLES, SUM_TABLES
from ledger.book.store import reading, writing
from ledger.book.verifying import verify
from ledger.plant.toml_file import read_setup
from ledger.refusals import BookUnusable, WrongUsage
from tests.book.sample import MONTH, RECORDS, forging, rows, sample_book
from tests.book.test_migrations import VERSION_1

CHECK = {"kind": "checkweigh", "by": "MQ", "scale": "S-FLOOR", "standard": "1000.00 g", "reading": "1000.01 g"}


@pytest.fixture
def book(tmp_path: Path) -> Path:
    return sample_book(tmp_path)


@pytest.fixture
def to(tmp_path: Path) -> Path:
    (tmp_path / "safe").mkdir()
    return tmp_path / "safe" / "copy.lemel"


def made(book: Path, to: Path, *, replace: bool = False) -> Backup:
    with reading(book) as connection:
        return back_up(connection, book, to, replace=replace)


def record(book: Path, n: int) -> None:
    with writing(book) as connection:
        entry = Entry(connection)
        entry.record({"ticket": f"HC-{n:04d}", "at": "2026-11-04T08:00", **CHECK},
                     Stamp("2026-11-04T09:00:00+00:00", "user"))  # fmt: skip
        entry.writer.flush()


def holds(path: Path) -> dict[str, list[tuple[object, ...]]]:
    return {table: rows(path, table) for table in (*RECORD_TABLES, *SUM_TABLES)}


def test_a_copy_holds_every_row_and_is_sound(book: Path, to: Path) -> None:
    done = made(book, to)
    assert holds(to) == holds(book)
    with reading(to) as copy:
        assert verify(copy) == []
        (chain,) = copy.execute("SELECT chain FROM record WHERE seq = ?", (RECORDS,)).fetchone()
    assert (done.records, done.chain, done.replaced) == (RECORDS, chain.hex(), None)
    assert done.seal is not None
    assert done.seal.startswith("2026-10 ")


def test_the_hash_printed_is_that_of_the_file(book: Path, to: Path) -> None:
    done = made(book, to)
    data = to.read_bytes()
    assert (done.sha256, done.size) == (sha256(data).hexdigest(), len(data))


def test_nothing_is_left_beside_a_copy(book: Path, to: Path) -> None:
    made(book, to)
    assert [path.name for path in to.parent.iterdir()] == [to.name]


def test_a_copy_is_one_file_and_reads_where_nothing_can_be_written(book: Path, to: Path) -> None:
    made(book, to)
    with closing(sqlite3.connect(f"{to.as_uri()}?mode=ro", uri=True)) as copy:
        assert copy.execute("PRAGMA journal_mode").fetchone() == ("delete",)


def test_whoever_writes_to_a_copy_has_it_log_ahead_again(book: Path, to: Path) -> None:
    made(book, to)
    record(to, 46)
    with closing(sqlite3.connect(to)) as copy:
        assert copy.execute("PRAGMA journal_mode").fetchone() == ("wal",)


def test_a_copy_is_read_by_no_more_people_than_the_book(book: Path, to: Path) -> None:
    book.chmod(0o600)
    made(book, to)
    assert stat.S_IMODE(to.stat().st_mode) == 0o600


def test_what_is_entered_meanwhile_is_not_in_it_and_the_copy_is_whole(
    book: Path, to: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(backing_up, "PAGES", 5)
    turns: list[int] = []

    def enter(pages: int) -> None:
        turns.append(pages)
        if len(turns) in (1, 3, 5):
            record(book, 46 + len(turns))

    with reading(book) as connection:
        done = back_up(connection, book, to, copied=enter)
    assert len(turns) > 5
    assert (done.records, len(rows(to, "record")), len(rows(book, "record"))) == (RECORDS, RECORDS, RECORDS + 3)
    with reading(to) as copy:
        assert verify(copy) == []


def test_a_writer_does_not_wait_for_a_backup(book: Path, to: Path) -> None:
    """A waiting writer would have been refused: its patience is nothing."""

    def enter(_: int) -> None:
        with writing(book, patience=0) as connection:
            connection.execute("INSERT INTO flag SELECT max(id) + 1, ticket, line, flag, words FROM flag")

    with reading(book) as connection:
        back_up(connection, book, to, copied=enter)


# ---- names ------------------------------------------------------------------------------------------------------


def files(folder: Path) -> dict[Path, bytes]:
    return {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def refused(book: Path, to: Path, words: str, *, replace: bool = False) -> None:
    before = files(book.parent)
    with pytest.raises(WrongUsage, match=words):
        made(book, to, replace=replace)
    assert files(book.parent) == before


def test_a_file_that_is_there_is_kept(book: Path, to: Path) -> None:
    to.write_text("a letter")
    refused(book, to, "is there already → give another name, or --replace")
    refused(book, to, "is no book that can be read: it is not replaced", replace=True)


def test_an_earlier_copy_is_replaced_when_asked(book: Path, to: Path) -> None:
    made(book, to)
    record(book, 46)
    refused(book, to, "is there already")
    assert made(book, to, replace=True).replaced == RECORDS
    assert len(rows(to, "record")) == RECORDS + 1
    assert [path.name for path in to.parent.iterdir()] == [to.name]


def test_a_later_state_is_not_replaced(book: Path, to: Path) -> None:
    shutil.copy(book, to)
    record(to, 46)
    refused(book, to, "is not an earlier state of this book", replace=True)


def test_a_copy_that_went_another_way_is_not_replaced(book: Path, to: Path) -> None:
    shutil.copy(book, to)
    record(to, 46)
    record(book, 47)
    refused(book, to, "is not an earlier state of this book", replace=True)


def test_another_book_is_not_replaced(book: Path, to: Path) -> None:
    new_book(to, read_setup(MONTH / "plant.toml"), "another")
    refused(book, to, "is not an earlier state of this book", replace=True)


def test_a_book_rewritten_does_not_replace_what_it_was(book: Path, to: Path) -> None:
    made(book, to)
    with forging(book) as connection:
        connection.execute("UPDATE record SET chain = zeroblob(32) WHERE seq = ?", (RECORDS,))
    refused(book, to, "is not an earlier state of this book", replace=True)


def test_an_earlier_copy_of_an_earlier_version_is_looked_at_and_not_changed(tmp_path: Path, to: Path) -> None:
    shutil.copy(VERSION_1, tmp_path / "old.lemel")
    shutil.copy(VERSION_1, to)
    assert backing_up._head_of_file(to) is not None
    assert to.read_bytes() == VERSION_1.read_bytes()
    assert made(tmp_path / "old.lemel", to, replace=True).replaced == len(rows(to, "record"))


def test_a_copy_that_somebody_has_open_is_not_replaced(book: Path, to: Path) -> None:
    shutil.copy(book, to)
    with reading(to) as other:
        other.execute("SELECT 1 FROM record").fetchone()
        with pytest.raises(WrongUsage, match="is open elsewhere"):
            made(book, to, replace=True)


@pytest.mark.parametrize("replace", [False, True])
def test_the_book_itself_is_never_the_copy(book: Path, replace: bool) -> None:
    other = book.parent / "other.lemel"
    os.link(book, other)
    for name in (book, other):
        with pytest.raises(WrongUsage, match="is the book itself"):
            made(book, name, replace=replace)


@pytest.mark.parametrize(
    ("name", "words"),
    [("copy", "not a name for a book"), ("none/copy.lemel", "cannot be made"), (".", "is a folder")],
)
def test_a_name_that_will_not_do(book: Path, to: Path, name: str, words: str) -> None:
    refused(book, to.parent / name, words)


@pytest.mark.parametrize("beside", ["-wal", "-journal"])
def test_another_books_log_does_not_get_into_a_new_file(book: Path, to: Path, beside: str) -> None:
    left = to.with_name(to.name + beside)
    left.write_bytes(b"left of a book that died")
    for make in (lambda: made(book, to), lambda: new_book(to, read_setup(MONTH / "plant.toml"), "test")):
        with pytest.raises(WrongUsage, match="is left of another book"):
            make()
    assert [path.name for path in to.parent.iterdir()] == [left.name]


def test_an_old_log_would_have_spoilt_the_new_book(book: Path, to: Path) -> None:
    """What the refusal is for: SQLite takes a log that lies beside a file for the file's own."""
    shutil.copy(book, to)
    with closing(sqlite3.connect(to, isolation_level=None)) as dying:
        dying.execute("PRAGMA wal_autocheckpoint = 0")
        dying.execute("INSERT INTO flag SELECT max(id) + 1, ticket, line, flag, words FROM flag")
        log = to.with_name(to.name + "-wal").read_bytes()
    to.unlink()
    new_book(to, read_setup(MONTH / "plant.toml"), "test")
    to.with_name(to.name + "-wal").write_bytes(log)
    assert rows(to, "flag"), "a new book without a ticket has another's flags"


# ---- damage and full disks --------------------------------------------------------------------------------------


def test_a_book_that_is_not_sound_is_not_copied(book: Path, to: Path) -> None:
    with forging(book) as connection:
        connection.execute("UPDATE record SET recorded_by = 'nobody' WHERE seq = 9")
    with pytest.raises(BookUnusable, match=r"not sound, and no copy was kept: .*running hash"):
        made(book, to)
    assert list(to.parent.iterdir()) == []


def test_damaged_pages_are_not_copied(book: Path, to: Path) -> None:
    data = bytearray(book.read_bytes())
    data[4096 * 30 : 4096 * 31] = b"\xa5" * 4096
    book.write_bytes(data)
    with pytest.raises(BookUnusable):
        made(book, to)
    assert list(to.parent.iterdir()) == []


def test_a_disk_that_writes_something_else_is_found_out(
    book: Path, to: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    copy = backing_up._copy

    def lossy(connection: sqlite3.Connection, draft: Path, *others: object) -> None:
        copy(connection, draft, *others)
        with forging(draft) as damaged:
            damaged.execute("DELETE FROM flag WHERE id = 1")
            damaged.execute("UPDATE record SET body = replace(body, '1', '2') WHERE seq = 5")

    monkeypatch.setattr(backing_up, "_copy", lossy)
    with pytest.raises(BookUnusable, match="no copy was kept"):
        made(book, to)
    assert list(to.parent.iterdir()) == []


def test_a_copy_of_another_moment_is_found_out(book: Path, to: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    earlier = to.with_name("earlier.lemel")
    made(book, earlier)
    record(book, 46)
    monkeypatch.setattr(backing_up, "_copy", lambda _c, draft, *_: shutil.copy(earlier, draft))
    with pytest.raises(BookUnusable, match="not the book as it was"):
        made(book, to)


@pytest.mark.parametrize("error", ["database or disk is full", "unable to open database file", "disk I/O error"])
def test_a_disk_that_takes_no_copy_is_told_and_nothing_left(book: Path, to: Path, error: str) -> None:
    def fails(*_: object, **__: object) -> None:
        raise sqlite3.OperationalError(error)

    class Failing:
        """A book open for reading whose copying fails."""

        def __init__(self, connection: sqlite3.Connection) -> None:
            self.execute = connection.execute
            self.backup = fails

    with reading(book) as connection, pytest.raises(WrongUsage, match=f"cannot be made: {error}.*space left"):
        back_up(Failing(connection), book, to)  # type: ignore[arg-type]
    assert list(to.parent.iterdir()) == []


def test_somebody_who_was_faster_keeps_his_file(book: Path, to: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    check = backing_up._check

    def slow(*arguments: object) -> None:
        check(*arguments)  # type: ignore[arg-type]
        to.write_text("mine")

    monkeypatch.setattr(backing_up, "_check", slow)
    with pytest.raises(WrongUsage, match="is there already"):
        made(book, to)
    assert (to.read_text(), len(list(to.parent.iterdir()))) == ("mine", 1)


def test_a_disk_without_hard_links_will_do(book: Path, to: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def none(*_: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(placing.os, "link", none)
    assert made(book, to).records == RECORDS
    to.rename(to.with_name("first.lemel"))
    to.write_text("mine")
    with pytest.raises(FileExistsError):
        placing.put_in_place(to.with_name("first.lemel"), to)
    assert to.read_text() == "mine"
