"""Backing up: a copy of a book as it is at one moment, checked before it bears its name.

The copy is made by SQLite's online backup while others read and write. It comes without a write-ahead log, so that it
is one file, which can be read where nothing may be written; whoever writes to it has it log ahead again. A copy is a
book: it is restored by being copied back, or used as it is.
"""

from __future__ import annotations

import hashlib
import os
import sqlite3
import stat
from collections.abc import Callable
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from ledger.book.closes import last_close
from ledger.book.placing import clear, draft_name, put_in_place, refuse_strange_log
from ledger.book.store import reading
from ledger.book.verifying import verify
from ledger.refusals import BookUnusable, WrongUsage

#: Pages of a book copied at a time, between one word of progress and the next.
PAGES: Final = 2_000
#: What of SQLite's errors, while copying, can only be of the copy's own place.
_OF_THE_PLACE: Final = ("full", "unable to open", "readonly", "disk I/O")
_ANOTHER: Final = "give another name"

Step = Callable[[int], None]


@dataclass(frozen=True, slots=True)
class Backup:
    """A copy in its place: records, running hash after the last and last seal as printed; the file's SHA-256 and bytes.

    ``replaced`` is the last record of the earlier copy that stood there, None where there was none.
    """

    to: Path
    records: int
    chain: str
    seal: str | None
    sha256: str
    size: int
    replaced: int | None


def back_up(
    connection: sqlite3.Connection, book: Path, to: Path, *, replace: bool = False,
    copied: Step | None = None, checked: Step | None = None,
) -> Backup:  # fmt: skip
    """Copy a book, open as one moment of it (`store.reading`), to a new name; whole and sound, or not at all.

    With ``replace`` an earlier copy of this very book, whose records all stand in it, may be replaced. ``copied`` and
    ``checked`` are told of every batch of pages and records. Raises WrongUsage where ``to`` may not be written,
    BookUnusable where book or copy is not sound.
    """
    head = _head(connection)
    replaced = _may_take(connection, book, to, replace)
    refuse_strange_log(to)
    draft = draft_name(to)
    clear(draft)
    try:
        draft.touch(mode=stat.S_IMODE(book.stat().st_mode) | stat.S_IRUSR | stat.S_IWUSR)  # read by no more than it is
        _copy(connection, draft, to, copied)
        _check(draft, head, checked)
        sha256, size = _digest(draft), draft.stat().st_size
        put_in_place(draft, to, over=replaced is not None)
    except FileExistsError:
        raise WrongUsage(f"{to} is there already", _ANOTHER) from None
    except OSError as error:
        raise WrongUsage(f"{to} cannot be made: {error.strerror}",
                         "check folder, permissions and the space left") from error  # fmt: skip
    finally:
        with suppress(OSError):
            clear(draft)
    close = last_close(connection)
    return Backup(to, head[0], head[1].hex(), close.line if close else None, sha256, size, replaced)


def _head(connection: sqlite3.Connection) -> tuple[int, bytes]:
    """Return the last record's place and running hash; raises BookUnusable for a book without any."""
    head = connection.execute("SELECT seq, chain FROM record ORDER BY seq DESC LIMIT 1").fetchone()
    if head is None or not isinstance(head[1], bytes):
        raise BookUnusable("the book is damaged: it has no last record", "run: lemel verify")
    return int(head[0]), head[1]


# ---- the name ---------------------------------------------------------------------------------------------------


def _may_take(connection: sqlite3.Connection, book: Path, to: Path, replace: bool) -> int | None:
    """Return the last record of the earlier copy to be replaced, None for a new name; raises WrongUsage."""
    if to.is_dir():
        raise WrongUsage(f"{to} is a folder", f"name the copy: {to / 'works-2026-10-31.lemel'}")
    if to.suffix != ".lemel":
        raise WrongUsage(f"{to} is not a name for a book", "let it end in .lemel")
    if not os.path.lexists(to):
        return None
    if to.exists() and to.samefile(book):
        raise WrongUsage(f"{to} is the book itself", _ANOTHER)
    if not replace:
        raise WrongUsage(f"{to} is there already", f"{_ANOTHER}, or --replace where it is an earlier copy of this book")
    return _earlier(connection, to)


def _earlier(connection: sqlite3.Connection, to: Path) -> int:
    """Return the last record of a copy all of whose records stand in this book; raises WrongUsage for any other."""
    head = _head_of_file(to)
    if head is None:
        raise WrongUsage(f"{to} is no book that can be read: it is not replaced", _ANOTHER)
    if any(to.with_name(f"{to.name}{beside}").exists() for beside in ("-wal", "-journal")):
        raise WrongUsage(f"{to} is open elsewhere: it is not replaced", "close it there, or " + _ANOTHER)
    seq, chain = head
    mine = connection.execute("SELECT chain FROM record WHERE seq = ?", (seq,)).fetchone()
    if mine is None or mine[0] != chain:
        raise WrongUsage(f"{to} is not an earlier state of this book: it is not replaced", _ANOTHER)
    return seq


def _head_of_file(path: Path) -> tuple[int, bytes] | None:
    """Return the head of a book of any version, left as it is; None for what cannot be read."""
    try:
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=rw", uri=True, timeout=0)) as other:
            return _head(other)
    except (sqlite3.Error, BookUnusable):
        return None


# ---- the copy ---------------------------------------------------------------------------------------------------


def _copy(connection: sqlite3.Connection, draft: Path, to: Path, copied: Step | None) -> None:
    def told(_: int, left: int, whole: int) -> None:
        if copied is not None:
            copied(whole - left)

    try:
        with closing(sqlite3.connect(draft, isolation_level=None)) as copy:
            connection.backup(copy, pages=PAGES, progress=told)
            copy.execute("PRAGMA journal_mode = DELETE")
    except sqlite3.Error as error:
        if any(words in str(error) for words in _OF_THE_PLACE):
            raise WrongUsage(f"{to} cannot be made: {error}",
                             "check folder, permissions and the space left") from error  # fmt: skip
        raise


def _check(draft: Path, head: tuple[int, bytes], checked: Step | None) -> None:
    """Verify the copy as it lies on the disk: its pages, hashes, running hash, seals and sums; and that it is whole."""
    with reading(draft) as copy:
        findings = verify(copy, quick=True, progress=checked)
        if findings:
            raise BookUnusable(f"the book is not sound, and no copy was kept: {findings[0]}",
                               "run: lemel verify; go back to the last backup")  # fmt: skip
        if _head(copy) != head:
            raise BookUnusable("the copy is not the book as it was, and was not kept", "check the disk, and try again")


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
