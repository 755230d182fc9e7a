"""How fast tickets enter, against a bare floor measured in the same run; in how much memory; how soon a command is up.

    python -m tests.studies.entry_rate

The floor does what any book must: read the same JSON, hash each ticket's canonical text (SHA-256), and write the book's
own rows, table by table, with `executemany`, in one transaction of a file with the same settings. It has the book's
tables, keys and indexes, and neither triggers nor checks; its rows come ready-made, reading them back is not timed.
"""

from __future__ import annotations

import json
import os
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from hashlib import sha256
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, NamedTuple

from ledger.book import schema
from ledger.book.entering import enter
from ledger.book.intake import read_file
from ledger.book.opening import new_book
from ledger.book.store import writing
from tests.studies import invented_tickets
from tests.studies.evaluation_page import circumstances, note, table, write_section
from tests.studies.fresh_processes import BARE, Timed, Took, clocked, fresh, in_turn, lemel, middle_of, together

SEED = 20261001
FEW, MANY = 10_000, 100_000
ROUNDS = 3
STARTS = 15
#: What is asked for: the ratio to the floor, and memory at MANY against memory at FEW.
MARK, FLAT = 5.0, 1.2
ONE_TICKET = "`lemel enter`, one ticket"


class Rate(NamedTuple):
    """Entering, the floor, and the floor without secondary indexes, of as many tickets; medians of the rounds."""

    tickets: int
    rows: int
    entered: Timed
    floor: Timed
    bare: Timed

    @property
    def ratio(self) -> float:
        """Entering over the floor, by the clock."""
        return self.entered.wall / self.floor.wall


# ---- the two ways -------------------------------------------------------------------------------------------


def timed_entry(book: Path, file: Path) -> Took:
    """Make a book of a file's tickets, in one transaction; the entry is timed, the new book is not."""
    new_book(book, invented_tickets.plant(), "study")
    return clocked(_enter, book, file)


def _enter(book: Path, file: Path) -> None:
    with writing(book) as connection:
        entered = enter(connection, read_file(file), "study")
    assert entered.recorded


def _timed_floor(book: Path, file: Path, indexes: bool) -> Took:
    path = book.with_suffix(".floor")
    with closing(sqlite3.connect(path, isolation_level=None)) as floor, closing(sqlite3.connect(book)) as source:
        floor.executescript("PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; PRAGMA cache_size = -32000;"
                            "PRAGMA ignore_check_constraints = ON;")  # fmt: skip
        for statement in schema.statements():
            if not statement.startswith(("CREATE TRIGGER", *(() if indexes else ("CREATE INDEX",)))):
                floor.execute(statement)
        parts = [clocked(_read_and_hash, file)]
        floor.execute("BEGIN IMMEDIATE")
        for insert, rows in _rows(source):
            parts.append(clocked(floor.executemany, insert, rows))
        return together([*parts, clocked(floor.execute, "COMMIT")])


def _read_and_hash(file: Path) -> None:
    encode = json.JSONEncoder(ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode
    with file.open("rb") as lines:
        for line in lines:
            sha256(encode(json.loads(line)).encode()).digest()


def _rows(source: sqlite3.Connection) -> Iterator[tuple[str, list[tuple[Any, ...]]]]:
    for name in (*schema.RECORD_TABLES, *schema.SUM_TABLES):
        cursor = source.execute(f"SELECT * FROM {name}")
        marks = ", ".join("?" * len(cursor.description))
        while rows := cursor.fetchmany(20_000):
            yield f"INSERT INTO {name} VALUES ({marks})", rows


def measure(tickets: int, rounds: int, folder: Path) -> Rate:
    """Enter that many tickets and write their rows bare, in turn, ``rounds`` times; the median of each."""
    file = folder / f"{tickets}.jsonl"
    invented_tickets.write(file, tickets, SEED)
    found: list[tuple[Timed, Timed, Timed]] = []
    for round_ in range(rounds):
        note(f"{tickets:,} tickets, round {round_ + 1} of {rounds}")
        book = folder / f"{tickets}-{round_}.lemel"
        entered = fresh(timed_entry, book, file)
        floors = []
        for indexes in (True, False):
            floors.append(fresh(_timed_floor, book, file, indexes))
            book.with_suffix(".floor").unlink()
        found.append((entered, *floors))  # type: ignore[arg-type]
        rows = _count_rows(book)
        book.unlink()
    return Rate(tickets, rows, *map(middle_of, zip(*found, strict=True)))


def _count_rows(book: Path) -> int:
    with closing(sqlite3.connect(book)) as connection:
        names = (*schema.RECORD_TABLES, *schema.SUM_TABLES)
        return sum(int(connection.execute(f"SELECT count(*) FROM {name}").fetchone()[0]) for name in names)


# ---- starts -------------------------------------------------------------------------------------------------


def starts(folder: Path) -> dict[str, Callable[[int], Sequence[str]]]:
    """Return commands to start in turn: the bare imports, the version, a book's stock, and one ticket entered in it."""
    book, one = folder / "month.lemel", folder / "one.jsonl"
    new_book(book, invented_tickets.plant(), "study")
    _enter(book, invented_tickets.MONTH / "tickets.jsonl")
    new = next(invented_tickets.tickets(1, SEED))

    def another(round_: int) -> Sequence[str]:
        lots = [{**line, "lot": f"{line['lot']}-{round_}"} for line in new["lots"]]
        one.write_text(json.dumps({**new, "ticket": f"S-{round_}", "lots": lots}), encoding="utf-8")
        return lemel("enter", one, "--book", book)(round_)

    return {
        f'`python -c "{BARE}"`': lambda _: ("-c", BARE),
        "`lemel --version`": lemel("--version"),
        "`lemel stock`, sample month": lemel("stock", "--book", book),
        ONE_TICKET: another,
    }


# ---- the section --------------------------------------------------------------------------------------------


def run() -> tuple[Rate, Rate, dict[str, Took]]:
    """Measure, write the section, and return what was found."""
    with TemporaryDirectory(prefix="lemel-study-") as folder:
        few, many = measure(FEW, ROUNDS, Path(folder)), measure(MANY, ROUNDS, Path(folder))
        note("starts")
        started = in_turn(starts(Path(folder)), STARTS)
    write_section("entry rate", section(few, many, started))
    return few, many, started


def section(few: Rate, many: Rate, started: dict[str, Took]) -> str:
    """Return the section of the page."""
    bare = next(iter(started.values())).wall
    flat = many.entered.peak / few.entered.peak
    floor = (
        "Floor: the same JSON read, SHA-256 of each ticket's canonical text, and the book's own number of rows "
        "written ready-made with `executemany`, in one transaction into the same tables, keys and indexes, same "
        f"settings of the file; no triggers, no checks. Mark: at most {MARK:.0f}, better 3. Memory is flat when "
        f"{many.tickets:,} tickets need at most {FLAT} × what {few.tickets:,} need: {flat:.2f} ×. The tickets: "
        "receipts, work of all four compositions, moves with the receiver's reading, assays, counts, sweeps, "
        "shipments, reversals with their corrections, over five areas."
    )
    return "\n\n".join([
        "## Entry rate, memory, start-up",
        circumstances("python -m tests.studies.entry_rate", SEED)
        + f" Other work may have been running beside it ({os.getloadavg()[0]:.1f} processes waiting or running at the "
        "end), so ratios within the run say more than seconds. Each figure is the median of "
        f"{ROUNDS} rounds, in a fresh process, start-up taken off.",
        table(("", f"{few.tickets:,} tickets", f"{many.tickets:,} tickets"), [
            ("rows a ticket", *(f"{rate.rows / rate.tickets:.1f}" for rate in (few, many))),
            ("`enter`, seconds", *(f"{rate.entered.wall:.2f}" for rate in (few, many))),
            ("tickets a second", *(f"{rate.tickets / rate.entered.wall:,.0f}" for rate in (few, many))),
            ("floor, seconds", *(f"{rate.floor.wall:.2f}" for rate in (few, many))),
            ("**ratio to the floor**", *(f"**{rate.ratio:.2f}**" for rate in (few, many))),
            ("floor without secondary indexes, seconds", *(f"{rate.bare.wall:.2f}" for rate in (few, many))),
            ("ratio to that", *(f"{rate.entered.wall / rate.bare.wall:.2f}" for rate in (few, many))),
            ("peak memory of `enter`, MiB", *(f"{rate.entered.peak:.0f}" for rate in (few, many))),
        ]),
        floor,
        table(("from start to end, median of " + str(STARTS), "ms", "ratio"), [
            (name, f"{took.wall * 1000:.0f}", f"{took.wall / bare:.2f}") for name, took in started.items()
        ]),
    ])  # fmt: skip


if __name__ == "__main__":
    run()
