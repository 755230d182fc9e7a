"""How long a month's statement takes, in a book of one year and of many: as a command, start-up and all.

    python -m tests.studies.reconcile_time [YEARS]        # 1: the year's book alone

Invented tickets at the pace of 100,000 a year (`invented_tickets`, five areas). Each figure is the median of fresh
processes of ``lemel reconcile PERIOD --json`` for the last full month: when the book keeps nothing of past months, so
that all of them are derived; when it lacks the last one alone, as after a month's end; and when it keeps all.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import sys
from collections.abc import Iterator
from contextlib import closing
from itertools import islice
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, NamedTuple

from ledger.book.entering import enter
from ledger.book.intake.rows import Row
from ledger.book.opening import new_book
from ledger.book.schema import KEPT_TABLES
from ledger.book.store import writing
from tests.studies import invented_tickets
from tests.studies.evaluation_page import circumstances, note, table, write_section
from tests.studies.fresh_processes import Took, middle, timed_command

SEED = 20261002
YEAR, YEARS = 100_000, 10
TIMES = 5
#: What is asked for: seconds with start-up, for the year's book and the ten years'; the second against the first.
MARK, MARK_OF_MANY, FLAT = 2.0, 1.5, 1.3

_CHUNK = 20_000


class Timed(NamedTuple):
    """One book: tickets in it, the month and its tickets, and what its statement took with so much kept."""

    tickets: int
    period: str
    of_month: int
    bare: Took
    after_a_month: Took
    kept: Took


def _let_go(book: Path, periods: int) -> None:
    """Take out what the book keeps of the last periods; of all for 0."""
    with closing(sqlite3.connect(book)) as connection:
        ends = [e for (e,) in connection.execute("SELECT ends FROM carried ORDER BY ends")]
        since = min(ends[-periods:], default=0) if periods else -(2**62)
        for name in KEPT_TABLES:
            connection.execute(f"DELETE FROM {name} WHERE ends >= ?", (since,))
        connection.commit()


class LastMonth(NamedTuple):
    """The last full month of a book: tickets of the book, the period, its tickets."""

    tickets: int
    period: str
    of_month: int

    def statement(self, book: Path) -> tuple[str, ...]:
        """Return the command that prints its statement."""
        return ("reconcile", self.period, "--book", str(book), "--json")


def last_month(book: Path) -> LastMonth:
    """Return a book's last full month; its only one, where there is one."""
    with closing(sqlite3.connect(book)) as connection:
        months = connection.execute("SELECT period, count(*) FROM ticket GROUP BY period ORDER BY period").fetchall()
    return LastMonth(sum(n for _, n in months), *(months[-2:][0]))


def timed(book: Path, times: int = TIMES) -> Timed:
    """Time the statement of a book's last full month."""
    month = last_month(book)
    arguments = month.statement(book)
    _let_go(book, 0)
    bare = timed_command(*arguments)
    after = []
    for _ in range(times):
        _let_go(book, 1)
        after.append(timed_command(*arguments))
    kept = [timed_command(*arguments) for _ in range(times)]
    return Timed(*month, bare, middle(after), middle(kept))


def books(folder: Path, sizes: tuple[int, ...]) -> Iterator[Path]:
    """Yield books of so many tickets, each the beginning of the next."""
    book, documents, done = folder / "growing.lemel", invented_tickets.tickets(max(sizes), SEED), 0
    new_book(book, invented_tickets.plant(), "study")
    for size in sizes:
        note(f"entering {size:,} tickets")
        while done < size:
            done += _entered(book, list(islice(documents, min(_CHUNK, size - done))), done)
        copy = folder / f"{size}.lemel"
        shutil.copy(book, copy)
        yield copy


def _entered(book: Path, documents: list[dict[str, Any]], done: int) -> int:
    with writing(book) as connection:
        entered = enter(connection, (Row("study", done + i, d) for i, d in enumerate(documents, 1)), "study")
    assert entered.recorded == len(documents)
    return len(documents)


def _said() -> str:
    return (
        f"Median of {TIMES} fresh processes, start-up and all (`all derived`: one). Marks: under {MARK:.0f} s for a "
        f"year of 100,000 tickets, under {MARK_OF_MANY} s for ten, and ten years against one within {FLAT}. Other work "
        f"may have been running beside it ({os.getloadavg()[0]:.1f} processes waiting or running at the end), so the "
        "processor's seconds say more than the clock's."
    )


def measure(years: int, year: int = YEAR) -> list[Timed]:
    """Return what was found of a book of one year and of one of many."""
    with TemporaryDirectory() as folder:
        return [timed(book) for book in books(Path(folder), (year, years * year))]


def run_year() -> Timed:
    """Measure the year's book alone, write its section, and return what was found."""
    with TemporaryDirectory() as folder:
        found = timed(next(books(Path(folder), (YEAR,))))
    write_section("reconcile year", "\n\n".join([
        "## A month's statement in a book of one year",
        (f"{circumstances('python -m tests.studies.reconcile_time 1', SEED)} Median of {TIMES} fresh processes, "
         f"start-up and all, past months kept. Mark: under {MARK:.0f} s for a year of 100,000 tickets. "
         "A month of more tickets takes longer in proportion: see the section of many years."),
        table(("tickets", "month's tickets", "clock", "processor"),
              [(f"{found.tickets:,}", f"{found.of_month:,}", f"{found.kept.wall:.2f} s", f"{found.kept.cpu:.2f} s")]),
    ]))  # fmt: skip
    return found


def run(years: int = YEARS) -> tuple[Timed, Timed]:
    """Measure, write the section, and return what was found of one year and of many."""
    one, many = found = measure(years)
    head = ("tickets", "month's tickets", "all derived", "last month derived", "all kept", "processor, all kept")
    rows = [
        (f"{t.tickets:,}", f"{t.of_month:,}", *(f"{x.wall:.2f} s" for x in (t.bare, t.after_a_month, t.kept)),
         f"{t.kept.cpu:.2f} s") for t in found
    ]  # fmt: skip
    a_ticket = [t.kept.cpu / t.of_month for t in found]
    write_section("reconcile", "\n\n".join([
        f"## A month's statement in a book of 1 year and of {years}",
        f"{circumstances(f'python -m tests.studies.reconcile_time {years}', SEED)} {_said()}",
        table(head, rows),
        (f"{years} years against one, all kept: {many.kept.cpu / one.kept.cpu:.2f} in processor time, "
         f"{a_ticket[1] / a_ticket[0]:.2f} for each of the month's tickets."),
    ]))  # fmt: skip
    return one, many


if __name__ == "__main__":
    asked = int(sys.argv[1]) if len(sys.argv) > 1 else YEARS
    run(asked) if asked > 1 else run_year()
