"""The whole table of speeds, each beside what was asked for: one command, ratios of one run.

    python -m tests.studies.speed [--quick] [--old TICKETS] [--books FOLDER]

Prints the table, and writes it to docs/evaluation.md. In the folder the books of 100,000 and 1,000,000 tickets (or as
many as --old says) are made once, which takes a quarter of an hour; without one they are made anew and go. `--quick`
takes a few thousand tickets, says nothing of the marks' sizes, and writes nothing. How each thing is measured stands
with its own study: entry_rate, reconcile_time, causes_time, trace_speed.
"""

from __future__ import annotations

import argparse
import os
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from hashlib import sha256
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final, NamedTuple

from ledger.balance.months.verifying import verify
from ledger.book.store import reading
from tests.studies import causes_time, entry_rate, trace_speed
from tests.studies.entry_rate import SEED
from tests.studies.evaluation_page import circumstances, note, table, write_section
from tests.studies.fresh_processes import BARE, Timed, Took, clocked, fresh, in_turn, lemel, middle_of
from tests.studies.reconcile_time import LastMonth, last_month
from tests.studies.speed_books import Entered, a_late_lot, enter_anew, entered

#: Peak memory in MB, whatever the number of tickets; a command against bare imports; the old book against the young.
MEMORY, COMMAND, FLAT = 250, 2.5, 1.2
#: Seconds of a month's statement in the old book, and that against the young one.
STATEMENT, STATEMENT_FLAT = 1.5, 1.3
#: The quick check against reading and hashing, the whole check against entering.
QUICK, WHOLE = 3.0, 1.5


class Sizes(NamedTuple):
    """How much is measured: tickets of the young and of the old book, halls asked for causes, layers traced, rounds."""

    young: int = 100_000
    old: int = 1_000_000
    halls: tuple[int, ...] = causes_time.HALLS
    layers: int = trace_speed.LAYERS
    rounds: int = 3
    starts: int = 15


FULL: Final = Sizes()
SMALL: Final = Sizes(2_000, 4_000, (1,), 10, 1, 3)


class Row(NamedTuple):
    """A line of the table: what, its figure by the clock and by the processor, unit, and what was asked for."""

    what: str
    clock: float
    processor: float | None
    unit: str
    mark: float

    @property
    def judged(self) -> str:
        """Met, or by how much it is not."""
        if self.clock <= self.mark:
            return "met"
        if self.processor is not None and self.processor <= self.mark:
            return "met by the processor's seconds alone"
        return f"not met: {self.clock / self.mark:.2f} × the mark"

    def cells(self) -> tuple[str, ...]:
        """Return the line in words."""
        processor = "" if self.processor is None else self._figure(self.processor)
        return self.what, self._figure(self.clock), processor, f"{self.mark:g} {self.unit}", self.judged

    def _figure(self, value: float) -> str:
        return f"{value:.0f} {self.unit}" if self.unit == "MB" else f"{value:.2f} {self.unit}"


def _ratio(what: str, one: Took | Timed, other: Took | Timed, mark: float) -> Row:
    return Row(what, one.wall / other.wall, one.cpu / other.cpu, "×", mark)


def _seconds(what: str, took: Took, mark: float) -> Row:
    return Row(what, took.wall, took.cpu, "s", mark)


# ---- entering ---------------------------------------------------------------------------------------------------


def entering(sizes: Sizes, folder: Path, old: Entered) -> Iterator[Row]:
    """Yield the rate of entering against its floor, and the memory of entering few and many."""
    with TemporaryDirectory(dir=folder) as scratch:
        rate = entry_rate.measure(sizes.young, sizes.rounds, Path(scratch))
    few, many = (peak * 2**20 / 1e6 for peak in (rate.entered.peak, old.took.peak))
    yield _ratio(f"enter {rate.tickets:,} tickets, against the floor", rate.entered, rate.floor, entry_rate.MARK)
    yield Row(f"peak memory, {rate.tickets:,} tickets entered", few, None, "MB", MEMORY)
    yield Row(f"peak memory, {old.tickets:,} tickets entered", many, None, "MB", MEMORY)
    yield Row("memory of the second against the first", many / few, None, "×", FLAT)


# ---- commands ---------------------------------------------------------------------------------------------------


def commands(sizes: Sizes, folder: Path, young: Entered, old: Entered) -> Iterator[Row]:
    """Yield one ticket entered, and the quick readers of the old book: against bare imports, and the young book."""
    readers = {"stock": lambda _: (), "position": lambda _: (), "lot": lambda of: (a_late_lot(of.book),)}
    with TemporaryDirectory(dir=folder) as scratch:
        started: dict[str, Callable[[int], Sequence[str]]] = {
            "bare": lambda _: ("-c", BARE), "one": entry_rate.starts(Path(scratch))[entry_rate.ONE_TICKET],
        }  # fmt: skip
        for name, arguments in readers.items():
            for of in (young, old):
                started[f"{name} {of.tickets}"] = lemel(name, *arguments(of), "--book", of.book)
        note(f"{len(started)} commands, {sizes.starts} times in turn")
        took = in_turn(started, sizes.starts)
    yield _ratio(f"one ticket entered, against `python -c \"{BARE}\"`", took["one"], took["bare"], COMMAND)
    for name in readers:
        before, after = (took[f"{name} {of.tickets}"] for of in (young, old))
        yield _ratio(f"`{name}`, {old.tickets:,} tickets, against that", after, took["bare"], COMMAND)
        yield _ratio(f"`{name}`, against {young.tickets:,} tickets", after, before, FLAT)


# ---- statements and causes --------------------------------------------------------------------------------------


def statements(sizes: Sizes, young: Entered, old: Entered) -> Iterator[Row]:
    """Yield the statement of the last full month in the old book, and that against the young one."""
    months: dict[str, tuple[Entered, LastMonth]] = {of.book.name: (of, last_month(of.book)) for of in (young, old)}
    started = {name: lemel(*month.statement(of.book)) for name, (of, month) in months.items()}
    note("statements: what past months left is derived first, where it is not kept yet")
    in_turn(started, 1)
    took = in_turn(started, sizes.rounds + 2)
    one, many = took.values()
    of_month = [month.of_month for _, month in months.values()]
    yield _seconds(f"`reconcile`, a month of {of_month[1]:,} tickets among {old.tickets:,}", many, STATEMENT)
    yield _ratio(f"the same, against a month of {of_month[0]:,} among {young.tickets:,}", many, one, STATEMENT_FLAT)


def causes(sizes: Sizes) -> Iterator[Row]:
    """Yield the slower answer, of a month as it is and of one with a wrong weighing, for each number of tickets."""
    answers = causes_time.measure(sizes.halls, sizes.rounds)
    for halls in sizes.halls:
        slower = max((one for one in answers if one.halls == halls), key=lambda one: one.took.wall)
        _, mark = causes_time.MARKS[halls]
        yield _seconds(f"`causes`, a month of {slower.tickets:,} tickets", slower.took, mark)


# ---- checks -----------------------------------------------------------------------------------------------------


def _timed_check(book: Path, quick: bool) -> Took:
    with reading(book) as connection:
        found: list[object] = []
        took = clocked(lambda: found.extend(verify(connection, quick)))
    assert found == []
    return took


def _timed_floor_of_check(book: Path) -> Took:
    """Read and hash what a check has to read: each ticket by itself, and the postings in one."""
    with reading(book) as connection:
        return clocked(_hash_all, connection)


def _hash_all(connection: sqlite3.Connection) -> None:
    for (body,) in connection.execute("SELECT body FROM record ORDER BY seq"):
        sha256(body.encode()).digest()
    postings, rows = sha256(), connection.execute("SELECT * FROM posting ORDER BY id")
    while several := rows.fetchmany(1_000):
        postings.update(repr(several).encode())


def checks(sizes: Sizes, folder: Path, young: Entered, old: Entered) -> Iterator[Row]:
    """Yield the quick check against its floor, and the whole check against entering, as entered and with months kept.

    The old book keeps what its past months left by now, and so does the young.
    """
    floors, quick = [], []
    for round_ in range(sizes.rounds):
        note(f"quick checks of {old.tickets:,} tickets, round {round_ + 1} of {sizes.rounds}")
        floors.append(fresh(_timed_floor_of_check, old.book))
        quick.append(fresh(_timed_check, old.book, True))
    yield _ratio(f"`verify --quick`, {old.tickets:,} tickets, against reading and hashing tickets and postings",
                 middle_of(quick), middle_of(floors), QUICK)  # fmt: skip
    with TemporaryDirectory(dir=folder) as scratch:
        anew = enter_anew(folder, Path(scratch) / "anew.lemel", young.tickets)
        note(f"whole checks of {young.tickets:,} tickets")
        whole = fresh(_timed_check, anew.book, False)
    yield _ratio(f"`verify`, {young.tickets:,} tickets, against entering them", whole, anew.took, WHOLE)
    kept = fresh(_timed_check, young.book, False)
    yield _ratio("the same, where past months are kept and derived again too", kept, anew.took, WHOLE)
    note(f"the whole check of {old.tickets:,} tickets")
    whole = fresh(_timed_check, old.book, False)
    yield _ratio(f"that, {old.tickets:,} tickets, against entering them on {old.on}", whole, old.took, WHOLE)


def traces(sizes: Sizes) -> Iterator[Row]:
    """Yield the slowest trace, back and forward."""
    lots, found = trace_speed.measure(sizes.layers)
    slowest = max(found, key=lambda one: one.wall)
    yield _seconds(f"`trace` through {lots:,} lots", Took(slowest.wall, slowest.cpu), trace_speed.MARK)


# ---- the table --------------------------------------------------------------------------------------------------


def measure(sizes: Sizes, folder: Path) -> list[Row]:
    """Measure everything, with books in a folder."""
    young, old = (entered(folder, tickets) for tickets in (sizes.young, sizes.old))
    rows: list[Row] = []
    for part in (
        entering(sizes, folder, old), commands(sizes, folder, young, old), statements(sizes, young, old),
        causes(sizes), checks(sizes, folder, young, old), traces(sizes),
    ):  # fmt: skip
        for row in part:
            rows.append(row)
            note(" | ".join(row.cells()))
    return rows


def section(rows: Sequence[Row], sizes: Sizes, loads: tuple[float, float]) -> str:
    """Return the section of the page."""
    head = ("what", "by the clock", "by the processor", "at most", "")
    said = (
        f"Load average {loads[0]:.1f} before and {loads[1]:.1f} after: where other work ran beside it, the processor's "
        "seconds say more than the clock's. Every ratio is of one run, both sides in fresh processes, commands with "
        f"their start-up and in turn; medians of {sizes.rounds} rounds for entering, `causes` and quick checks, of "
        f"{sizes.rounds + 2} for statements, of {sizes.starts} for commands, of {trace_speed.TIMES} for traces; whole "
        "checks once. The floor of entering: the same JSON, SHA-256, and the book's own number of rows by "
        "`executemany`. *Flat* is taken as within 1.2, as for memory. A book that keeps what its past months left "
        "has each of them derived anew by `verify`, beside every row of the tickets, which entering did not do: that "
        "is what it takes longer there. The sections below say more of each."
    )
    return "\n\n".join([
        "## Speed, and what was asked for",
        f"{circumstances(_command(sizes), SEED)} {said}",
        table(head, [row.cells() for row in rows]),
    ])  # fmt: skip


def _command(sizes: Sizes) -> str:
    return "python -m tests.studies.speed" + (f" --old {sizes.old}" if sizes.old != FULL.old else "")


def run(sizes: Sizes = FULL, books: Path | None = None, *, write: bool = True) -> list[Row]:
    """Measure, print the table, and write its section."""
    before = os.getloadavg()[0]
    with TemporaryDirectory(prefix="lemel-study-") as scratch:
        folder = Path(scratch) if books is None else books
        folder.mkdir(parents=True, exist_ok=True)
        rows = measure(sizes, folder)
    told = section(rows, sizes, (before, os.getloadavg()[0]))
    print(told)
    if write:
        write_section("speed", told, first=True)
    return rows


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="Measure every speed that was asked for, and print the table.")
    parser.add_argument("--quick", action="store_true", help="small books, and nothing written")
    parser.add_argument("--old", type=int, default=FULL.old, metavar="TICKETS", help="in the old book; else a million")
    parser.add_argument("--books", type=Path, metavar="FOLDER", help="where the large books are, or are to be kept")
    asked = parser.parse_args()
    run(SMALL if asked.quick else FULL._replace(old=asked.old), asked.books, write=not asked.quick)
