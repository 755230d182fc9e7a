"""One book, one SQLite file: opening it, for reading or for writing, and refusing what is not a sound book."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from pathlib import Path
from typing import Final

from ledger.book.migrations import migrate
from ledger.book.schema import APPLICATION_ID, SCHEMA_VERSION
from ledger.refusals import BookUnusable, WrongUsage

#: Seconds a command waits for another that is writing.
PATIENCE_SECONDS: Final = 30.0
_opened: Final[ContextVar[Path | None]] = ContextVar("the book opened last", default=None)


def find_book(given: Path | None, folder: Path = Path()) -> Path:
    """Return the book to use: the one given, else the only ``*.lemel`` file in the folder; raises WrongUsage."""
    if given is not None:
        if not given.is_file():
            raise WrongUsage(f"there is no book {given}", "check the path, or open one with: lemel new")
        return given
    books = sorted(folder.glob("*.lemel"))
    if len(books) == 1:
        return books[0]
    if not books:
        raise WrongUsage("there is no book here", "give --book PATH, or open one with: lemel new")
    raise WrongUsage(f"there are {len(books)} books here: {', '.join(b.name for b in books)}", "give --book PATH")


def connect(path: Path, *, patience: float = PATIENCE_SECONDS) -> sqlite3.Connection:
    """Open a book for reading; raises BookUnusable when it is damaged, foreign, locked or of another version."""
    _opened.set(path)
    with told(path, patience):
        connection = sqlite3.connect(
            f"{path.absolute().as_uri()}?mode=rw", uri=True, timeout=patience, isolation_level=None
        )
        try:
            _check(connection, path)
        except BaseException:
            connection.close()
            raise
    return connection


def _check(connection: sqlite3.Connection, path: Path) -> None:
    if connection.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
        raise BookUnusable(f"{path} is not a book of this program", "check the path")
    version = connection.execute("PRAGMA user_version").fetchone()[0]
    if version > SCHEMA_VERSION:
        what = f"{path} was written by a later version (its schema is {version}, known is {SCHEMA_VERSION})"
        raise BookUnusable(what, "install the later version")
    if version < SCHEMA_VERSION:
        migrate(connection, version)
    connection.execute("PRAGMA cache_size = -32000")
    connection.execute("PRAGMA synchronous = FULL")


@contextmanager
def reading(path: Path, *, patience: float = PATIENCE_SECONDS) -> Iterator[sqlite3.Connection]:
    """Give a connection that sees one moment of the book."""
    connection = connect(path, patience=patience)
    try:
        with told(path, patience):
            connection.execute("BEGIN")
            yield connection
    finally:
        connection.close()


@contextmanager
def writing(path: Path, *, patience: float = PATIENCE_SECONDS) -> Iterator[sqlite3.Connection]:
    """Give a connection that alone may write; committed when the block ends well, undone when it does not."""
    connection = connect(path, patience=patience)
    try:
        with told(path, patience):
            connection.execute("BEGIN IMMEDIATE")
            try:
                yield connection
                _commit(connection, path)
                _write_ahead(connection)
            except BaseException:
                if connection.in_transaction:
                    connection.execute("ROLLBACK")
                raise
    finally:
        connection.close()


def _commit(connection: sqlite3.Connection, path: Path) -> None:
    """Commit; an error of COMMIT does not say that nothing was recorded."""
    try:
        connection.execute("COMMIT")
    except sqlite3.Error as error:
        if connection.in_transaction:  # then it is undone
            raise
        raise BookUnusable(f"{path}: {error} at the very end of recording; whether it was recorded is not known",
                           "enter the same again: a ticket is never recorded twice") from error  # fmt: skip


def opened_last() -> Path | None:
    """Return the book that was opened last in this context; None for none."""
    return _opened.get()


def _write_ahead(connection: sqlite3.Connection) -> None:
    """Log ahead from now on, so that readers and a writer do not wait for each other: a backup comes without a log."""
    with suppress(sqlite3.Error):  # somebody reads it just now: the next writer does it
        connection.execute("PRAGMA busy_timeout = 0")
        connection.execute("PRAGMA journal_mode = WAL")


@contextmanager
def told(path: Path, patience: float = PATIENCE_SECONDS) -> Iterator[None]:
    """Say SQLite's errors in words that a person can act on; ``patience`` is how long a lock was waited for."""
    try:
        yield
    except sqlite3.Error as error:
        raise BookUnusable(*_said(path, str(error), patience)) from error
    except UnicodeDecodeError as error:  # SQLite's own words, where they quote what was damaged
        raise BookUnusable(f"{path} is damaged where its tables are described", "go back to the last backup") from error


def _said(path: Path, what: str, patience: float) -> tuple[str, str]:
    """Return what an error of SQLite is for a person, and the mend."""
    if any(word in what for word in ("locked", "locking", "busy")):
        return f"{path} is being written by somebody else; waited {patience:g} s", "try again in a moment"
    if "disk" in what and "full" in what:
        return f"the disk with {path} is full; nothing was recorded", "make room"
    if "disk I/O" in what:
        mend = "check disk, space and quota; then enter the same again: a ticket is never recorded twice"
        return f"{path} could not be read or written: {what}", mend
    if any(words in what for words in ("unable to open", "readonly", "read-only")):
        mend = "check the permissions of file and folder: whoever opens a book writes beside it; to read, open a backup"
        return f"{path} cannot be opened or written: {what}", mend
    if "not a database" in what:
        return (f"{path} is not a book, or is damaged in its first bytes",
                "check the path; of a damaged book, go back to the last backup")  # fmt: skip
    return f"{path} is damaged: {what}", "go back to the last backup, and run: lemel verify"
