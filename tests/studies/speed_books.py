"""Books to be timed, of invented tickets: each made once in its folder, with what entering it took beside it."""

from __future__ import annotations

import json
import os
import sqlite3
from contextlib import closing, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

from ledger.book.schema import SCHEMA_VERSION
from tests.studies import invented_tickets
from tests.studies.entry_rate import SEED, timed_entry
from tests.studies.evaluation_page import note
from tests.studies.fresh_processes import Timed, fresh


class Entered(NamedTuple):
    """A book of so many tickets, all entered in one transaction: when, what it took, and how busy the machine was."""

    book: Path
    tickets: int
    on: str
    took: Timed
    load: float


def tickets_file(folder: Path, tickets: int) -> Path:
    """Return a file of so many tickets, written where it is not there yet."""
    file = folder / f"{tickets}.jsonl"
    if not file.exists():
        note(f"inventing {tickets:,} tickets")
        part = file.with_suffix(".part")
        invented_tickets.write(part, tickets, SEED)
        part.rename(file)
    return file


def entered(folder: Path, tickets: int) -> Entered:
    """Return the book of so many tickets, entered where it is not there yet or is of another schema."""
    book, known = folder / f"{tickets}.lemel", folder / f"{tickets}.json"
    with suppress(OSError, ValueError):
        said = json.loads(known.read_text(encoding="utf-8"))
        if said["schema"] == SCHEMA_VERSION and said["seed"] == SEED and _holds(book, tickets):
            return Entered(book, tickets, said["on"], Timed(*said["took"]), said["load"])
    known.unlink(missing_ok=True)
    made = enter_anew(folder, book, tickets)
    said = {"schema": SCHEMA_VERSION, "seed": SEED, "on": made.on, "took": list(made.took), "load": made.load}
    known.write_text(json.dumps(said), encoding="utf-8")
    return made


def enter_anew(folder: Path, book: Path, tickets: int) -> Entered:
    """Make a book of so many tickets in a fresh process, in place of what stood there."""
    file = tickets_file(folder, tickets)
    for left in (book, *book.parent.glob(f"{book.name}-*")):
        left.unlink(missing_ok=True)
    note(f"entering {tickets:,} tickets")
    took = fresh(timed_entry, book, file)
    return Entered(book, tickets, str(datetime.now(UTC).date()), took, os.getloadavg()[0])


def _holds(book: Path, tickets: int) -> bool:
    with closing(sqlite3.connect(book)) as connection:
        found = connection.execute("SELECT (SELECT count(*) FROM ticket), user_version FROM pragma_user_version")
        return tuple(found.fetchone()) == (tickets, SCHEMA_VERSION)


def a_late_lot(book: Path) -> str:
    """Return the number of the lot that was made last."""
    with closing(sqlite3.connect(book)) as connection:
        (number,) = connection.execute("SELECT number FROM lot WHERE kind = 'lot' ORDER BY id DESC LIMIT 1").fetchone()
    return str(number)
