"""Whether a change to a sealed book is found: `python -m tests.studies.tamper`.

Thousands of single changes, made with plain SQLite to the sealed sample month of the tests. Each either has no effect
on any answer, or `verify` names it. And books rewritten wholly, by all the rules: sound in themselves, and found out by
the seal that was printed.
"""

from __future__ import annotations

import json
import sqlite3
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from contextlib import closing
from dataclasses import dataclass, field
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory
from typing import Any

from ledger.balance.months.chain import Chain
from ledger.balance.months.closing import Answers, close_period
from ledger.balance.months.kept import write
from ledger.balance.months.statement import reconcile
from ledger.balance.months.trend import trend
from ledger.balance.months.verifying import verify
from ledger.book import copying, holdings
from ledger.book.closes import closes
from ledger.book.entering import Entry, Stamp
from ledger.book.lot_page import lot_page
from ledger.book.opening import record_change, record_first_setup
from ledger.book.schema import create
from ledger.book.setups import Setups
from ledger.refusals import LemelError
from tests.book.sample import sample_book
from tests.studies.evaluation_page import circumstances, note, table, write_section
from tests.studies.tampering import Change, every_change, opened, tampered

COMMAND = "python -m tests.studies.tamper"
SEED = 8_1893
ROWS, VALUES, BITS = 14, 2, 600
REWRITTEN = 40
METALS = ("gross", "gold", "silver")


@dataclass
class Sort:
    """What became of the changes of one sort."""

    made: int = 0
    named: int = 0
    quickly: int = 0
    without_effect: int = 0


@dataclass
class Found:
    """The study's result; ``missed`` are changes that alter an answer and that nothing names: there must be none."""

    sorts: dict[str, Sort] = field(default_factory=dict)
    missed: list[str] = field(default_factory=list)
    rewritten: int = 0
    sound: int = 0
    caught: int = 0

    @property
    def made(self) -> int:
        """How many single changes."""
        return sum(sort.made for sort in self.sorts.values())


def sealed_book() -> bytes:
    """Return the sealed sample month of the tests, with what it keeps of past months, as one file."""
    with TemporaryDirectory() as folder:
        path = sample_book(Path(folder))
        with closing(sqlite3.connect(path, isolation_level=None)) as connection:
            chain = Chain(connection)
            chain.before("2026-11")
            write(connection, chain.keepable())
            connection.execute("PRAGMA journal_mode = DELETE")
        return path.read_bytes()


def answers(connection: sqlite3.Connection) -> str:
    """Return everything that the book answers, as one text."""
    facts = holdings.plant_facts(connection)
    asked: dict[str, Any] = {
        "statements": [reconcile(connection, f"2026-{month}", metal) for month in (10, 11) for metal in METALS],
        "trend": [trend(connection, metal) for metal in METALS],
        "stock": repr(holdings.stock(connection, facts)),
        "then": repr(holdings.stock(connection, facts, None, 1_792_000_000_000_000)),
        "lost": repr(holdings.not_found(connection)),
        "position": [repr(holdings.position(connection, metal)) for metal in METALS],
        "lots": [repr(lot_page(connection, facts, lot)) for lot in _lots(connection)],
        "records": list(copying.copy_out(connection)),
        "postings": list(copying.postings_rows(connection)),
        "as of": repr(holdings.as_of(connection)),
        "setups": [version.document for version in Setups.read(connection).versions],
    }
    return json.dumps(asked, ensure_ascii=False)


def _lots(connection: sqlite3.Connection) -> list[str]:
    return [number for (number,) in connection.execute("SELECT number FROM lot ORDER BY number")]


def judged(book: bytes, right: str, change: Change) -> str:
    """Return what becomes of one change: named, named quickly as well, without effect, or missed."""
    with closing(tampered(book, change)) as connection:
        if _findings(connection):
            return "quickly" if _findings(connection, quick=True) else "named"
        return "without effect" if _same_answers(connection, right) else "missed"


def _findings(connection: sqlite3.Connection, *, quick: bool = False) -> bool:
    try:
        return bool(verify(connection, quick))
    except (LemelError, sqlite3.Error):
        return True  # told as damage, and refused


def _same_answers(connection: sqlite3.Connection, right: str) -> bool:
    try:
        return answers(connection) == right
    except (LemelError, sqlite3.Error, ValueError, KeyError, TypeError):
        return False


def tried(book: bytes, changes: list[Change], processes: int = 2) -> Found:
    """Make every change to a copy of the book, and look what becomes of it."""
    with closing(opened(book)) as connection:
        right = answers(connection)
        assert verify(connection) == []
    found = Found()
    with ProcessPoolExecutor(processes, mp_context=get_context("fork")) as pool:
        outcomes = pool.map(partial(judged, book, right), changes, chunksize=20)
        for change, outcome in zip(changes, outcomes, strict=True):
            sort = found.sorts.setdefault(change.sort, Sort())
            sort.made += 1
            sort.named += outcome in ("named", "quickly")
            sort.quickly += outcome == "quickly"
            sort.without_effect += outcome == "without effect"
            if outcome == "missed":
                found.missed.append(f"{change.sort}: {change.words}")
            if sum(s.made for s in found.sorts.values()) % 500 == 0:
                note(f"{found.made:,} of {len(changes):,}")
    return found


# ---- books rewritten wholly -------------------------------------------------------------------------------------


def rewrite(book: bytes, found: Found, many: int, seed: int) -> None:
    """Make whole books anew in which one ticket says something else, by all the rules; and hold the seals beside."""
    random = Random(seed)
    with closing(opened(book)) as connection:
        rows = list(copying.record_rows(connection))
        printed = [close.line for close in closes(connection)]
    while found.rewritten < many:
        with closing(sqlite3.connect(":memory:", isolation_level=None)) as other:
            if not _rewritten(rows, random, other):
                continue
            found.rewritten += 1
            found.sound += verify(other) == []
            found.caught += [close.line for close in closes(other)] != printed


def _rewritten(rows: list[dict[str, Any]], random: Random, other: sqlite3.Connection) -> bool:
    """Derive the book anew with one sealed record altered: a digit of a mass, who keyed it, or when."""
    sealed = next(place for place, row in enumerate(rows) if row["kind"] == "close")
    altered = random.randrange(1, sealed)
    how = random.choice(("mass", "mass", "mass", "user", "time"))
    create(other)
    try:
        for place, row in enumerate(rows):
            body, at, by = row["body"], row["recorded_at"], row["recorded_by"]
            if place == altered:
                body, at, by = _altered(body, at, by, how, random)
            _record(other, row["kind"], body, Stamp(at, by), first=place == 0)
    except (LemelError, IndexError):
        return False  # such a book could not have been: another is tried
    return True


def _record(other: sqlite3.Connection, kind: str, body: dict[str, Any], stamp: Stamp, *, first: bool) -> None:
    if kind == "ticket":
        entry = Entry(other)
        entry.record(body, stamp)
        entry.writer.flush()
    elif kind == "close":
        missing = {gap["first"]: gap["note"] for gap in body["missing"]}
        said = Answers(body["by"], body["with"], body["notes"], body["evidence"], missing)
        close_period(other, body["close"], said, stamp)
    elif first:
        record_first_setup(other, body, stamp)
    else:
        record_change(other, body, stamp)


def _altered(body: dict[str, Any], at: str, by: str, how: str, random: Random) -> tuple[dict[str, Any], str, str]:
    if how == "user":
        return body, at, "somebody else"
    if how == "time":
        return body, at[:-7] + "1" + at[-6:], by
    text = json.dumps(body, ensure_ascii=False)
    masses = [i for i, sign in enumerate(text) if sign.isdigit() and text[i + 1 : i + 4] == ' g"']
    place = random.choice(masses)
    return json.loads(text[:place] + str((int(text[place]) + 1) % 10) + text[place + 1 :]), at, by


# ---- the study --------------------------------------------------------------------------------------------------


def run(*, rows: int = ROWS, values: int = VALUES, bits: int = BITS, rewritten: int = REWRITTEN) -> Found:
    """Run the study and write its section."""
    book = sealed_book()
    changes = every_change(book, rows=rows, values=values, bits=bits, seed=SEED)
    note(f"{len(changes):,} changes")
    found = tried(book, changes)
    rewrite(book, found, rewritten, SEED)
    write_section("tamper", page(found))
    return found


def page(found: Found) -> str:
    """Return the section."""
    rows = [(name, f"{s.made:,}", f"{s.named:,}", f"{s.quickly:,}", f"{s.without_effect:,}")
            for name, s in sorted(found.sorts.items())]  # fmt: skip
    total = Counter[str]()
    for sort in found.sorts.values():
        total.update(made=sort.made, named=sort.named, quickly=sort.quickly, without=sort.without_effect)
    rows.append(("all", *(f"{total[key]:,}" for key in ("made", "named", "quickly", "without"))))
    head = ("change", "made", "named by `verify`", "by `verify --quick` too", "without effect on any answer")
    missed = "None was missed." if not found.missed else f"**{len(found.missed)} were missed.**"
    return f"""## Tampering with a sealed book

The sample month of the tests, sealed, with {total['made']:,} single changes, each made with plain SQLite to a
fresh copy, the guards dropped before and put back after. {missed} A change is without effect where every statement,
list, lot, position, copy and chart comes out to the last byte as before: equal rows that changed places, what is kept
of past months marked as another version's (it is derived again) or changed in digits of a variance that no figure
shows, bits of the file that nothing reads.

{table(head, rows)}

{found.rewritten} books were rewritten wholly: one sealed record altered, everything else derived anew by all the
rules. Sound in themselves: {found.sound}. Found out by the seal that was printed: {found.caught}.

{circumstances(COMMAND, SEED)}"""


if __name__ == "__main__":
    result = run()
    for words in result.missed:
        note(f"missed: {words}")
