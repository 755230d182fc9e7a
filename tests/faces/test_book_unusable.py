"""A book that cannot be read, written or waited for: status 4, words with a mend, and nothing changed."""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from ledger.book import store
from ledger.book.schema import SCHEMA_VERSION
from tests.book.test_migrations import VERSION_1
from tests.faces.conftest import ANSWERS, Done, Lemel

WRITING = {
    "enter": ("enter", "one.csv"),
    "close": ("close", "2026-10", "--by", "MQ", "--with", "HB", *ANSWERS),
    "write-off": ("write-off", "ROLL", "0.5 g", "--by", "MQ", "--witness", "HB", "--cause", "x", "--evidence", "x",
                  "--reason", "x", "--at", "2026-10-31T18:00"),
    "ticket": ("ticket", "checkweigh", "--set", "scale=S-FLOOR", "--set", "standard=1000.00 g", "--set",
               "reading=1000.01 g", "--by", "MQ", "--at", "2026-10-31T18:00"),
}  # fmt: skip
READING = {"stock": ("stock",), "verify": ("verify", "--quick"), "reconcile": ("reconcile", "2026-10"),
           "copy-out": ("copy-out",)}  # fmt: skip
NOBODY = 65534
ONE_MORE = (
    "ticket,kind,at,by,scale,standard,reading\n"
    "HC-0077,checkweigh,2026-10-31T18:00,MQ,S-FLOOR,1000.00 g,1000.01 g\n"
)


@pytest.fixture
def book(month: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A book of its own in an open folder, which is given back to its owner at the end."""
    place = Path("/tmp") / f"lemel-rights-{os.getpid()}"  # where other users may go
    place.mkdir(exist_ok=True)
    monkeypatch.chdir(place)
    (place / "one.csv").write_text(ONE_MORE, encoding="utf-8")
    yield Path(shutil.copy(month, place / "month.lemel"))
    place.chmod(0o755)
    shutil.rmtree(place)


@contextmanager
def as_another() -> Iterator[None]:
    """Be somebody without the superuser's rights meanwhile."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(NOBODY)
    try:
        yield
    finally:
        os.seteuid(0)


def refused(done: Done, *words: str) -> None:
    assert done.status == 4, (done.status, done.err)
    assert " → " in done.err
    assert done.out == ""
    for word in words:
        assert word in done.err, done.err


@pytest.fixture(autouse=True)
def warm(lemel: Lemel, month: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Load what the commands need while it may still be read."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "one.csv").write_text(ONE_MORE, encoding="utf-8")
    copy = Path(shutil.copy(month, tmp_path / "warm.lemel"))
    for command in (*READING.values(), *WRITING.values()):
        lemel(*command, "--book", copy)
    copy.unlink()


# ---- permissions ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("command", WRITING)
@pytest.mark.parametrize(("file", "place"), [(0o444, 0o777), (0o444, 0o555)])
def test_a_book_that_may_only_be_read_refuses_writing(
    lemel: Lemel, book: Path, command: str, file: int, place: int
) -> None:
    before = book.read_bytes()
    book.chmod(file)
    book.parent.chmod(place)
    with as_another():
        refused(lemel(*WRITING[command], "--book", book), "check the permissions")
    assert book.read_bytes() == before


@pytest.mark.parametrize("command", READING)
def test_a_book_that_may_not_be_read(lemel: Lemel, book: Path, command: str) -> None:
    book.chmod(0)
    with as_another():
        refused(lemel(*READING[command], "--book", book), "cannot be opened or written", "check the permissions")


@pytest.mark.parametrize("command", READING)
def test_a_copy_is_read_from_a_place_where_nothing_can_be_written(
    lemel: Lemel, book: Path, month: Path, command: str
) -> None:
    copy = book.with_name("copy.lemel")
    assert lemel("backup", copy, "--book", book).status == 0
    copy.chmod(0o444)
    book.parent.chmod(0o555)
    with as_another():
        done = lemel(*READING[command], "--book", copy)
    assert (done.status, done.out) == (0, lemel(*READING[command], "--book", month).out)


def test_a_book_at_work_in_a_place_where_nothing_can_be_written_says_to_open_a_backup(lemel: Lemel, book: Path) -> None:
    book.chmod(0o444)
    book.parent.chmod(0o555)
    with as_another():
        refused(lemel("stock", "--book", book), "cannot be opened or written", "to read, open a backup")


@pytest.mark.parametrize("command", [*WRITING, *READING])
def test_no_log_can_be_made_beside_the_book(lemel: Lemel, book: Path, command: str) -> None:
    before = book.read_bytes()
    (book.parent / "month.lemel-wal").mkdir()
    refused(lemel(*(WRITING | READING)[command], "--book", book), "cannot be opened or written", "permissions")
    assert book.read_bytes() == before


# ---- locks ------------------------------------------------------------------------------------------------------


@pytest.fixture
def locked(book: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A book that somebody is writing to, and less patience than the half a minute that is usual."""
    monkeypatch.setitem(store.writing.__wrapped__.__kwdefaults__, "patience", 0.3)  # type: ignore[attr-defined]
    with closing(sqlite3.connect(book, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        yield book


@pytest.mark.parametrize("command", WRITING)
def test_a_locked_book_is_waited_for_and_then_told(lemel: Lemel, locked: Path, command: str) -> None:
    refused(lemel(*WRITING[command], "--book", locked), "is being written by somebody else; waited 0.3 s → try again")


@pytest.mark.parametrize("command", READING)
def test_a_locked_book_is_read_all_the_same(lemel: Lemel, locked: Path, month: Path, command: str) -> None:
    done = lemel(*READING[command], "--book", locked)
    assert (done.status, done.out) == (0, lemel(*READING[command], "--book", month).out)


def test_half_a_minute_is_waited() -> None:
    assert store.PATIENCE_SECONDS == 30.0
    assert {f.__wrapped__.__kwdefaults__["patience"] for f in (store.writing, store.reading)} == {30.0}  # type: ignore[attr-defined]


# ---- versions ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("command", [*WRITING, *READING])
def test_a_book_of_a_later_version_is_left_alone(lemel: Lemel, book: Path, command: str) -> None:
    with closing(sqlite3.connect(book)) as connection:
        connection.execute(f"PRAGMA user_version = {SCHEMA_VERSION + 1}")
    before = book.read_bytes()
    refused(lemel(*(WRITING | READING)[command], "--book", book), "later version", "install the later version")
    assert book.read_bytes() == before


def test_an_earlier_version_in_a_place_where_nothing_can_be_written(lemel: Lemel, book: Path) -> None:
    shutil.copy(VERSION_1, book)
    book.chmod(0o444)
    book.parent.chmod(0o555)
    with as_another():
        refused(lemel("stock", "--book", book), "cannot be opened or written", "permissions")
    assert book.read_bytes() == VERSION_1.read_bytes()
