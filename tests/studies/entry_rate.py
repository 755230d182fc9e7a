"""How fast tickets enter, against a bare floor measured in the same run; in how much memory; how soon a command is up.

    python -m tests.studies.entry_rate

The floor does what any book must: read the same JSON, hash each ticket's canonical text (SHA-256), and write the book's
own rows, table by table, with `executemany`, in one transaction of a file with the same settings. It has the book's
tables, keys and indexes, and neither triggers nor checks; its rows come ready-made, reading them back is not timed.
"""

from __future__ import annotations

import json
import os
import resource
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import closing
from hashlib import sha256
from multiprocessing import get_context
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from time import perf_counter, process_time
from typing import Any, NamedTuple

from ledger.book import schema
from ledger.book.entering import enter
from ledger.book.intake import read_file
from ledger.book.opening import new_book
from ledger.book.store import writing
from tests.studies import invented_tickets
from tests.studies.evaluation_page import circumstances, note, table, write_section

SEED = 20261001
FEW, MANY = 10_000, 100_000
ROUNDS = 2
STARTS = 15
#: What is asked for: the ratio to the floor, and memory at MANY against memory at FEW.
MARK, FLAT = 5.0, 1.2

_LEMEL = "import sys; sys.argv[0] = 'lemel'; from ledger.faces.cli.main import run; run()"
_BARE = "import typer, pydantic, sqlite3"


class Timed(NamedTuple):
    """What one fresh process took: seconds on the clock and of the processor, and its peak memory in MiB."""

    wall: float
    cpu: float
    peak: float


class Rate(NamedTuple):
    """Entering, the floor, and the floor without secondary indexes, of as many tickets; best of the rounds."""

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


def _timed_entry(book: Path, file: Path) -> float:
    new_book(book, invented_tickets.plant(), "study")
    start = perf_counter()
    with writing(book) as connection:
        entered = enter(connection, read_file(file), "study")
    wall = perf_counter() - start
    assert entered.recorded
    return wall


def _timed_floor(book: Path, file: Path, indexes: bool) -> float:
    path = book.with_suffix(".floor")
    with closing(sqlite3.connect(path, isolation_level=None)) as floor, closing(sqlite3.connect(book)) as source:
        floor.executescript("PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; PRAGMA cache_size = -32000;"
                            "PRAGMA ignore_check_constraints = ON;")  # fmt: skip
        for statement in schema.statements():
            if not statement.startswith(("CREATE TRIGGER", *(() if indexes else ("CREATE INDEX",)))):
                floor.execute(statement)
        wall = _clocked(_read_and_hash, file)
        floor.execute("BEGIN IMMEDIATE")
        for insert, rows in _rows(source):
            wall += _clocked(floor.executemany, insert, rows)
        return wall + _clocked(floor.execute, "COMMIT")


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


def _clocked(do: Callable[..., object], *arguments: object) -> float:
    start = perf_counter()
    do(*arguments)
    return perf_counter() - start


# ---- fresh processes ----------------------------------------------------------------------------------------


def _in_child(do: Callable[..., float], arguments: tuple[object, ...]) -> Timed:
    before = process_time()
    wall = do(*arguments)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (2**20 if sys.platform == "darwin" else 2**10)
    return Timed(wall, process_time() - before, peak)


def _fresh(do: Callable[..., float], *arguments: object) -> Timed:
    """Do it in a process of its own, so that memory and caches are its own."""
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
        return pool.submit(_in_child, do, arguments).result()


def measure(tickets: int, rounds: int, folder: Path) -> Rate:
    """Enter that many tickets and write their rows bare, in turn, ``rounds`` times; the best of each."""
    file = folder / f"{tickets}.jsonl"
    invented_tickets.write(file, tickets, SEED)
    found: list[tuple[Timed, Timed, Timed]] = []
    for round_ in range(rounds):
        note(f"{tickets:,} tickets, round {round_ + 1} of {rounds}")
        book = folder / f"{tickets}-{round_}.lemel"
        entered = _fresh(_timed_entry, book, file)
        floors = []
        for indexes in (True, False):
            floors.append(_fresh(_timed_floor, book, file, indexes))
            book.with_suffix(".floor").unlink()
        found.append((entered, *floors))  # type: ignore[arg-type]
        rows = _count_rows(book)
        book.unlink()
    best = [min(times, key=lambda timed: timed.wall) for times in zip(*found, strict=True)]
    return Rate(tickets, rows, *best)


def _count_rows(book: Path) -> int:
    with closing(sqlite3.connect(book)) as connection:
        names = (*schema.RECORD_TABLES, *schema.SUM_TABLES)
        return sum(int(connection.execute(f"SELECT count(*) FROM {name}").fetchone()[0]) for name in names)


# ---- starts -------------------------------------------------------------------------------------------------


def starts(folder: Path, times: int) -> dict[str, float]:
    """Return the median seconds from start to end of each command, all of them in turn ``times`` times."""
    book = folder / "month.lemel"
    new_book(book, invented_tickets.plant(), "study")
    with writing(book) as connection:
        enter(connection, read_file(invented_tickets.MONTH / "tickets.jsonl"), "study")
    new = next(invented_tickets.tickets(1, SEED))
    taken: dict[str, list[float]] = {}
    for time_ in range(times):
        one = folder / "one.jsonl"
        lots = [{**line, "lot": f"{line['lot']}-{time_}"} for line in new["lots"]]
        one.write_text(json.dumps({**new, "ticket": f"S-{time_}", "lots": lots}), encoding="utf-8")
        for name, arguments in {
            f'`python -c "{_BARE}"`': ("-c", _BARE),
            "`lemel --version`": ("-c", _LEMEL, "--version"),
            "`lemel stock`, sample month": ("-c", _LEMEL, "stock", "--book", str(book)),
            "`lemel enter`, one ticket": ("-c", _LEMEL, "enter", str(one), "--book", str(book)),
        }.items():
            taken.setdefault(name, []).append(_clocked(_run, *arguments))
    return {name: median(seconds) for name, seconds in taken.items()}


def _run(*arguments: str) -> None:
    done = subprocess.run([sys.executable, *arguments], cwd=invented_tickets.ROOT, capture_output=True, text=True,
                          check=False)  # fmt: skip
    assert done.returncode == 0, done.stderr


# ---- the section --------------------------------------------------------------------------------------------


def run() -> tuple[Rate, Rate, dict[str, float]]:
    """Measure, write the section, and return what was found."""
    with TemporaryDirectory(prefix="lemel-study-") as folder:
        few, many = measure(FEW, ROUNDS, Path(folder)), measure(MANY, ROUNDS, Path(folder))
        note("starts")
        started = starts(Path(folder), STARTS)
    write_section("entry rate", section(few, many, started))
    return few, many, started


def section(few: Rate, many: Rate, started: dict[str, float]) -> str:
    """Return the section of the page."""
    bare = next(iter(started.values()))
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
        f"end), so ratios within the run say more than seconds. Each figure is the best of {ROUNDS} rounds, in a fresh "
        "process, start-up taken off.",
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
            (name, f"{seconds * 1000:.0f}", f"{seconds / bare:.2f}") for name, seconds in started.items()
        ]),
    ])  # fmt: skip


if __name__ == "__main__":
    run()
