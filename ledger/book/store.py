"""One book, one SQLite file: opening it, for reading or for writing, and refusing what is not a sound book."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from ledger.book.migrations import migrate
from ledger.book.schema import APPLICATION_ID, SCHEMA_VERSION
from ledger.refusals import BookUnusable, WrongUsage

#: Seconds a command waits for another that is writing.
PATIENCE_SECONDS: Final = 30.0


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
    with told(path):
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
        with told(path):
            connection.execute("BEGIN")
            yield connection
    finally:
        connection.close()


@contextmanager
def writing(path: Path, *, patience: float = PATIENCE_SECONDS) -> Iterator[sqlite3.Connection]:
    """Give a connection that alone may write; committed when the block ends well, undone when it does not."""
    connection = connect(path, patience=patience)
    try:
        with told(path):
            connection.execute("BEGIN IMMEDIATE")
            try:
                yield connection
                connection.execute("COMMIT")
            except BaseException:
                if connection.in_transaction:
                    connection.execute("ROLLBACK")
                raise
    finally:
        connection.close()


@contextmanager
def told(path: Path) -> Iterator[None]:
    """Say SQLite's errors in words that a person can act on."""
    try:
        yield
    except sqlite3.Error as error:
        what = str(error)
        if "locked" in what or "busy" in what:
            raise BookUnusable(f"{path} is being written by somebody else", "try again in a moment") from error
        if "disk" in what and "full" in what:
            raise BookUnusable(f"the disk with {path} is full; nothing was recorded", "make room") from error
        if "readonly" in what or "read-only" in what or "unable to open" in what:
            mend = "check the permissions of file and folder"
            raise BookUnusable(f"{path} cannot be written: {what}", mend) from error
        if "not a database" in what:
            raise BookUnusable(f"{path} is not a book, or is damaged in its first bytes",
                               "check the path; of a damaged book, go back to the last backup") from error  # fmt: skip
        raise BookUnusable(f"{path} is damaged: {what}", "go back to the last backup, and run: lemel verify") from error
    except UnicodeDecodeError as error:  # SQLite's own words, where they quote what was damaged
        raise BookUnusable(f"{path} is damaged where its tables are described", "go back to the last backup") from error
