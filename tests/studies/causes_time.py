"""How long an answer of `lemel causes` takes, start-up and all: `python -m tests.studies.causes_time [HALLS…]`.

Books of an invented plant with one hall and with nine (tests/studies/fault_worlds/halls): some 580 and 5,200 tickets in
the month. Each is asked about one area as it is, and again with two digits of one weighing changed over. Figures are
medians of fresh processes.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

from ledger.book.entering import enter
from ledger.book.intake.rows import Row
from ledger.book.opening import new_book
from ledger.book.store import writing
from tests.studies.evaluation_page import circumstances, note, table, write_section
from tests.studies.fault_worlds import halls
from tests.studies.fault_worlds.world import Document
from tests.studies.fresh_processes import LEMEL, Took, middle, timed_command

SEED, HALLS, TIMES, PERIOD = 190000, (1, 9), 5, "2026-01"
#: What is asked for: tickets in the month, and seconds with start-up.
MARKS = {1: (500, 2.0), 9: (5000, 10.0)}

_SAID = (
    f"Median of {TIMES} fresh processes, start-up and all. Marks: 2 s at 500 tickets a month, 10 s at 5,000. The nine "
    "halls share alloys, people and prices, and no instrument: the matrix is sparser than that of one hall with nine "
    "times the work. Other work may have been running beside it; the processor's seconds say more than the clock's."
)


class Asked(NamedTuple):
    """One question: halls, tickets of the month, differences weighed, the first cause and its tickets, and the time."""

    halls: int
    tickets: int
    components: int
    family: str
    named: list[str]
    wrong: str
    took: Took


def changed_over(tickets: Sequence[Document]) -> tuple[list[Document], str]:
    """Return the tickets with two unlike digits of a rolling's whole input changed over, and that ticket's number."""
    for place, ticket in enumerate(tickets):
        if ticket["kind"] != "work" or not ticket["operation"].endswith("ROLLING") or ticket["at"][:10] < "2026-01-12":
            continue
        for line in ticket.get("in", ()):
            text = line.get("mass", "")
            if line.get("all") and text[:1].isdigit() and text[0] != text[1] and text[1] not in "0.":
                wrong = text[1] + text[0] + text[2:]
                mistaken = ticket | {"in": [{**one, "mass": wrong} if one is line else one for one in ticket["in"]]}
                return [*tickets[:place], mistaken, *tickets[place + 1 :]], str(ticket["ticket"])
    raise ValueError("no rolling empties a lot")


def asked(count: int, folder: Path, *, wrong: bool, times: int = TIMES) -> Asked:
    """Make a book of so many halls, ask about one area, and return what came of it."""
    tickets, number, area = halls.tickets(count, SEED), "", "H0MELT"
    if wrong:
        tickets, number = changed_over(tickets)
        area = next(str(ticket["area"]) for ticket in tickets if ticket["ticket"] == number)
    book = folder / f"{count}{'wrong' if wrong else ''}.lemel"
    new_book(book, halls.plant(count), "study")
    with writing(book) as connection:
        enter(connection, (Row("study", at, document) for at, document in enumerate(tickets, 1)), "study")
    command = ("causes", PERIOD, area, "--book", str(book), "--json")
    told = subprocess.run([sys.executable, "-c", LEMEL, *command], capture_output=True, check=True).stdout
    document = json.loads(told)
    first = next(cause for cause in document["causes"] if not wrong or cause["family"] != "chance")
    of_month = sum(ticket["at"].startswith(PERIOD) for ticket in tickets)
    took = middle([timed_command(*command) for _ in range(times)])
    return Asked(count, of_month, document["components"], first["family"], first["tickets"], number, took)


def measure(counts: Sequence[int] = HALLS, times: int = TIMES) -> list[Asked]:
    """Ask of each size, without and with the wrong digits."""
    found = []
    with TemporaryDirectory() as folder:
        for count in counts:
            for wrong in (False, True):
                found.append(asked(count, Path(folder), wrong=wrong, times=times))
                note(str(found[-1]))
    return found


def run(counts: Sequence[int] = HALLS) -> list[Asked]:
    """Measure, write the section, and return what was found."""
    found = measure(counts)
    head = ("halls", "month's tickets", "differences", "digits changed over", "first cause", "clock", "processor")
    rows = [
        (str(a.halls), f"{a.tickets:,}", f"{a.components:,}", "one" if a.wrong else "none",
         f"{a.family}{', that ticket' if a.wrong in a.named else ''}", f"{a.took.wall:.2f} s", f"{a.took.cpu:.2f} s")
        for a in found
    ]  # fmt: skip
    write_section("causes time", "\n\n".join([
        "## How long the causes of an area take",
        f"{circumstances('python -m tests.studies.causes_time', SEED)} {_SAID}",
        table(head, rows),
    ]))  # fmt: skip
    return found


if __name__ == "__main__":
    run([int(count) for count in sys.argv[1:]] or HALLS)
