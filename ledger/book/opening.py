"""Opening a new book, and recording changes of its set-up."""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import Any

from ledger.book.canonical import canonical_json, digest
from ledger.book.closes import Close, closes
from ledger.book.entering import Stamp, stamp_now
from ledger.book.placing import clear, draft_name, put_in_place, refuse_strange_log
from ledger.book.schema import create
from ledger.book.setups import FROM_THE_FIRST, Setups
from ledger.book.store import told
from ledger.book.writing import Writer
from ledger.plant.calendar import Calendar
from ledger.plant.changes import Difference, apply_change, change_head
from ledger.plant.setup import Setup
from ledger.refusals import SetupRefused, WrongUsage


def new_book(path: Path, setup: Setup, user: str) -> None:
    """Make a book with its first set-up; raises WrongUsage when the file is there already. Whole, or not at all."""
    with told(path), making(path) as connection:
        record_first_setup(connection, setup.to_document(), stamp_now(user))


class making:  # noqa: N801 (read as a statement: with making(path) as connection)
    """Make a book file beside its name and put it in place when the block ends well; never over an existing one."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.draft = draft_name(path)

    def __enter__(self) -> sqlite3.Connection:
        from sqlite_utils import Database  # only here: it loads numpy where that is installed

        if self.path.suffix != ".lemel":
            raise WrongUsage(f"{self.path} is not a name for a book", "let it end in .lemel")
        if self.path.exists():
            raise WrongUsage(f"{self.path} is there already", "give another name; a book is never written over")
        refuse_strange_log(self.path)
        try:
            self.connection = sqlite3.connect(self.draft, isolation_level=None)
            Database(self.connection).enable_wal()
            self.connection.execute("BEGIN IMMEDIATE")
            create(self.connection)
        except sqlite3.Error as error:
            clear(self.draft)
            raise WrongUsage(f"{self.path} cannot be made: {error}", "check folder and permissions") from error
        return self.connection

    def __exit__(self, failed: object, *_: object) -> None:
        try:
            if failed is None:
                self.connection.execute("COMMIT")
                self.connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            self.connection.close()
            if failed is None:
                put_in_place(self.draft, self.path)
        except FileExistsError:
            raise WrongUsage(f"{self.path} is there already", "give another name") from None
        except OSError as error:
            raise WrongUsage(f"{self.path} cannot be put in its place: {error.strerror}",
                             "check folder, permissions and the space left") from error  # fmt: skip
        finally:
            clear(self.draft)


def record_first_setup(connection: sqlite3.Connection, document: dict[str, Any], stamp: Stamp) -> None:
    """Record the set-up a book is opened with."""
    setup = Setup.from_document(document)
    metals = ("gross", *setup.plant.metals)
    connection.executemany("INSERT INTO metal VALUES (?, ?)", enumerate(metals))
    writer = Writer(connection, metals)
    body = canonical_json(document)
    seq = writer.add_record("setup", body.decode(), digest(body), stamp.at, stamp.by)
    writer.add_setup(seq, FROM_THE_FIRST, body.decode())
    writer.flush()


def record_change(connection: sqlite3.Connection, change: dict[str, Any], stamp: Stamp) -> list[Difference]:
    """Record a change inside the caller's transaction. It holds for tickets entered from now on, from its date."""
    setups = Setups.read(connection)
    since = change_head(setups.latest, change).instant
    if since < setups.versions[-1].since:
        raise SetupRefused("a change with a later date is recorded already", "give this one a later date", field="from")
    closed = closes(connection)
    if closed and since < closed[-1].ends:
        first = setups.calendar.text(closed[-1].ends)
        what = f"the change reaches into {closed[-1].period}, which is closed"
        raise SetupRefused(what, f"let it take effect from {first} on, or later", field="from")
    changed, differences = apply_change(setups.latest, change)
    _refuse_other_bounds(setups.calendar, Calendar(changed), closed)
    body, document = canonical_json(change), canonical_json(changed.to_document())
    writer = Writer(connection, ("gross", *changed.plant.metals))
    seq = writer.add_record("setup", body.decode(), digest(body), stamp.at, stamp.by)
    writer.add_setup(seq, since, document.decode())
    if changed.period != setups.latest.period:
        writer.let_go(FROM_THE_FIRST)
    writer.flush()
    return differences


def _refuse_other_bounds(before: Calendar, after: Calendar, closed: list[Close]) -> None:
    """Refuse a list of periods by which a closed one would begin or end elsewhere, or be called otherwise."""
    for close in closed:
        days = before.days_of(close.period)
        if after.period_of_day(days[0]) != close.period or after.days_of(close.period) != days:
            raise SetupRefused(f"the listed periods would change {close.period}, which is closed",
                               "list it as it was, and others only after it", field="period")  # fmt: skip
