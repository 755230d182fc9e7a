"""Many at once: eight enter, two read, one backs up, all into and from one book at the same time.

    python -m tests.studies.many_at_once

Afterwards every ticket is there once, and `verify` derives every row again. Every statement and every metal position
that was printed meanwhile names the record it was read at: a second book is made of the records up to that one, and
must print the same bytes. Then the book is locked, and a command must give up after the time it states.
"""

from __future__ import annotations

import io
import json
import os
import re
import sqlite3
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import closing, redirect_stderr, redirect_stdout
from dataclasses import dataclass, field
from itertools import count as from_
from itertools import islice
from pathlib import Path
from random import Random
from statistics import median
from tempfile import TemporaryDirectory
from typing import Any, Final

from ledger.book.canonical import canonical_json, digest
from ledger.book.copying import record_rows
from ledger.book.entering import Stamp
from ledger.book.opening import making, new_book
from ledger.book.placing import clear
from ledger.book.replaying import Replay
from ledger.book.store import PATIENCE_SECONDS, reading, writing
from ledger.book.verifying import verify
from ledger.faces.cli.main import main
from tests.studies import invented_tickets
from tests.studies.evaluation_page import circumstances, note, table, write_section

SEED = 20261127
WRITERS, READERS, TICKETS = 8, 2, 10_000
#: How many tickets a command enters.
_AT_ONCE: Final = (1, 1, 1, 2, 5, 10, 20)
#: What readers ask, in turn; a verification is no answer to compare, and must find nothing.
_QUESTIONS: Final = (("reconcile", "2026-10", "--json"), ("position", "--json"), ("verify", "--quick", "--json"))
_OWN = re.compile(r"\b(T|[A-Z]{2})-(\d{5,7})\b")

Document = dict[str, Any]


@dataclass(slots=True)
class Found:
    """What came of it.

    Tickets and commands that entered them, those that had to give up and ask again, seconds each took; answers that
    were compared, the records they were read at, and copies made meanwhile.
    """

    tickets: int = 0
    seconds: list[float] = field(default_factory=list)
    gave_up: int = 0
    compared: int = 0
    at: set[int] = field(default_factory=set)
    verified: int = 0
    backups: int = 0
    took: float = 0.0
    waited: float = 0.0


# ---- tickets ----------------------------------------------------------------------------------------------------


def tickets(writer: int, number: int) -> list[Document]:
    """Return the tickets of one writer, whose numbers and lots are nobody else's; counts miss nobody's lots."""
    letter = chr(ord("A") + writer)
    return list(islice(_own(invented_tickets.tickets(4 * number, SEED + writer), letter), number))


def _own(documents: Iterator[Document], letter: str) -> Iterator[Document]:
    for document in documents:
        text = json.dumps(document, ensure_ascii=False)
        own: Document = json.loads(_OWN.sub(lambda m: f"{letter if m[1] == 'T' else m[1] + letter}-{m[2]}", text))
        if own["kind"] != "count":
            yield own
        elif own["lots"]:
            yield own | {"spot": True}


# ---- processes --------------------------------------------------------------------------------------------------


def _said(*arguments: object) -> tuple[int, str]:
    out = io.StringIO()
    with redirect_stdout(out), redirect_stderr(io.StringIO()):
        status = main([str(argument) for argument in arguments])
    return status, out.getvalue()


def _write(book: Path, folder: Path, writer: int, documents: list[Document]) -> None:
    """Enter one's tickets, some at a time, each command until it is done; say how long it took."""
    random, file, told = Random(writer), folder / f"{writer}.jsonl", folder / f"{writer}.told"
    with told.open("w", encoding="utf-8") as log:
        while documents:
            some, documents = documents[: (n := random.choice(_AT_ONCE))], documents[n:]
            file.write_text("".join(json.dumps(d, ensure_ascii=False) + "\n" for d in some), encoding="utf-8")
            start, gave_up = time.perf_counter(), 0
            while (done := _said("enter", file, "--json", "--book", book))[0] == 4:
                gave_up += 1
            assert done[0] == 0, done
            answer = json.loads(done[1])
            assert (answer["recorded"], answer["already"]) == (len(some), 0), "half of it was there already"
            log.write(json.dumps([len(some), time.perf_counter() - start, gave_up]) + "\n")


def _records(book: Path) -> int:
    with reading(book) as connection:
        return int(connection.execute("SELECT count(*) FROM record").fetchone()[0])


def _read(book: Path, folder: Path, reader: int, stop: Path) -> None:
    """Ask in turn until told to stop, from the first ticket on, and keep every answer."""
    while _records(book) < 2:
        time.sleep(0.01)
    with (folder / f"{reader}.answers").open("w", encoding="utf-8") as log:
        for turn in from_():
            question = _QUESTIONS[turn % len(_QUESTIONS)]
            status, out = _said(*question, "--book", book)
            assert status == 0, (question, out[-500:])
            log.write(json.dumps([question, out]) + "\n")
            if stop.exists():
                return


def _back_up(book: Path, folder: Path, stop: Path) -> None:
    """Make one copy after another until told to stop, each in place of the last."""
    copy, made = folder / "copy.lemel", folder / "copies"
    for turn in from_(1):
        assert _said("backup", copy, "--replace", "--book", book)[0] == 0
        made.write_text(str(turn), encoding="utf-8")
        if stop.exists():
            return


def started(work: Callable[[], None]) -> int:
    """Start some work in a child of this process, and return its number."""
    child = os.fork()
    if child == 0:
        status = 1
        try:
            work()
            status = 0
        except BaseException as error:
            os.write(2, f"{type(error).__name__}: {error}\n".encode())
        finally:
            os._exit(status)
    return child


def ended(children: list[int]) -> None:
    """Wait until children have ended, all well."""
    statuses = [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children]
    assert not any(statuses), statuses


def all_at_once(folder: Path, number: int, writers: int, readers: int) -> tuple[Path, list[Document]]:
    """Enter ``number`` tickets by so many writers while others read and back up; return the book and the tickets."""
    book, stop = folder / "book.lemel", folder / "stop"
    new_book(book, invented_tickets.plant(), "study")
    shares = [tickets(writer, number // writers) for writer in range(writers)]
    beside = [started(lambda r=r: _read(book, folder, r, stop)) for r in range(readers)]
    beside.append(started(lambda: _back_up(book, folder, stop)))
    ended([started(lambda w=w: _write(book, folder, w, shares[w])) for w in range(writers)])
    stop.touch()
    ended(beside)
    return book, [document for share in shares for document in share]


# ---- looking back -----------------------------------------------------------------------------------------------


def none_lost_none_doubled(book: Path, documents: list[Document]) -> None:
    """See that every ticket is in the book once, word for word, each writer's in their order, and the book sound."""
    expected = {d["ticket"]: digest(canonical_json(d)) for d in documents}
    with reading(book) as connection:
        found = connection.execute(
            "SELECT number, hash FROM ticket JOIN record USING (seq) ORDER BY seq"
        ).fetchall()  # fmt: skip
        assert verify(connection) == []
    assert len(found) == len(documents) == len(expected)
    assert dict(found) == expected
    for letter in {number[0] for number, _ in found}:
        own = [number for number, _ in found if number[0] == letter]
        assert own == [d["ticket"] for d in documents if d["ticket"][0] == letter]


def answers(folder: Path) -> Iterator[tuple[tuple[str, ...], str]]:
    """Yield every question asked meanwhile, with its answer."""
    for log in sorted(folder.glob("*.answers")):
        for line in log.read_text(encoding="utf-8").splitlines():
            question, answer = json.loads(line)
            yield tuple(question), answer


def consistent_with_a_moment(folder: Path, book: Path, found: Found) -> None:
    """Make the book again record by record, and at each record that an answer was read at ask the same again."""
    asked: dict[int, set[tuple[tuple[str, ...], str]]] = {}
    for question, answer in answers(folder):
        if question[0] == "verify":
            assert json.loads(answer)["sound"]
            found.verified += 1
        else:
            asked.setdefault(json.loads(answer)["record"], set()).add((question, answer))
    again = folder / "again.lemel"
    with making(again) as made, reading(book) as connection:
        replay = Replay(made)
        for row in record_rows(connection):
            replay.take(row["kind"], row["body"], Stamp(row["recorded_at"], row["recorded_by"]))
            if row["record"] in asked:
                replay.flush()
                _same(made, folder, asked[row["record"]])
                found.at.add(row["record"])
                found.compared += len(asked[row["record"]])
    assert found.at == set(asked)


def _same(made: sqlite3.Connection, folder: Path, asked: set[tuple[tuple[str, ...], str]]) -> None:
    """Ask a book that is being made: what it holds by now is seen once it is committed."""
    made.execute("COMMIT")
    moment = folder / "moment.lemel"
    clear(moment)
    with closing(sqlite3.connect(moment)) as copy:
        made.backup(copy)
    made.execute("BEGIN IMMEDIATE")
    for question, answer in asked:
        status, out = _said(*question, "--book", moment)
        assert (status, out) == (0, answer), question


def locked(book: Path) -> float:
    """Lock a book, and return how long a command waits before it gives up, having done nothing."""
    file = book.with_name("one.jsonl")
    one = tickets(WRITERS, 1)[0]
    file.write_text(json.dumps(one) + "\n", encoding="utf-8")
    with closing(sqlite3.connect(book, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        err, start = io.StringIO(), time.perf_counter()
        with redirect_stdout(io.StringIO()), redirect_stderr(err):
            status = main(["enter", str(file), "--book", str(book)])
        waited = time.perf_counter() - start
        assert status == 4, err.getvalue()
        assert "is being written by somebody else; waited" in err.getvalue()
        with reading(book) as connection:
            where = "SELECT count(*) FROM ticket WHERE number = ?"
            assert connection.execute(where, (one["ticket"],)).fetchone() == (0,)
        other.execute("ROLLBACK")
    with writing(book) as connection:
        assert connection.execute("SELECT count(*) FROM record").fetchone()[0]
    assert _said("enter", file, "--book", book)[0] == 0
    return waited


# ---- the study --------------------------------------------------------------------------------------------------


def attempt(number: int, writers: int, readers: int) -> Found:
    """Let all work at once, look back, and return what was found."""
    found = Found()
    with TemporaryDirectory(prefix="lemel-study-") as name:
        folder = Path(name)
        start = time.perf_counter()
        book, documents = all_at_once(folder, number, writers, readers)
        found.took = time.perf_counter() - start
        note(f"entered in {found.took:.0f} s")
        for log in folder.glob("*.told"):
            for line in log.read_text(encoding="utf-8").splitlines():
                n, seconds, gave_up = json.loads(line)
                found.tickets += n
                found.seconds.append(seconds)
                found.gave_up += gave_up
        found.backups = int((folder / "copies").read_text(encoding="utf-8"))
        with reading(folder / "copy.lemel") as copy:
            assert verify(copy) == []
        none_lost_none_doubled(book, documents)
        consistent_with_a_moment(folder, book, found)
        found.waited = locked(book)
    return found


def run() -> Found:
    """Measure, write the section, and return what was found."""
    found = attempt(TICKETS, WRITERS, READERS)
    write_section("many at once", section(found))
    return found


def section(found: Found) -> str:
    """Return the section of the page."""
    what = (
        f"{WRITERS} processes entered {found.tickets:,} invented tickets into one book, one to twenty with a command, "
        f"while {READERS} others asked for the month's statement, the metal position and a verification in turn, and "
        "one made a backup after another. Each ticket is in the book once, word for word, and each writer's in their "
        "order; `verify`, deriving every row again, finds nothing wrong. Every answer was compared with that of a "
        "second book, made of the records up to the one that the answer names: the same bytes."
    )
    ordered = sorted(found.seconds)
    rows = [
        ("tickets", f"{found.tickets:,}"), ("commands that entered them", f"{len(found.seconds):,}"),
        ("commands that gave up, locked out, and were given again", f"{found.gave_up:,}"),
        ("seconds a command took, median", f"{median(ordered):.2f}"),
        ("… of a hundred, 99 took at most", f"{ordered[int(0.99 * (len(ordered) - 1))]:.2f}"),
        ("… the longest", f"{ordered[-1]:.2f}"), ("seconds in all", f"{found.took:.0f}"),
        ("statements and positions compared", f"{found.compared:,}"),
        ("… read at so many different records", f"{len(found.at):,}"),
        ("verifications meanwhile, all sound", f"{found.verified:,}"),
        ("backups meanwhile, the last one verified whole", f"{found.backups:,}"),
        ("a locked book: status 4 after", f"{found.waited:.1f} s"), ("… and it states", f"{PATIENCE_SECONDS:g} s"),
    ]  # fmt: skip
    return "\n\n".join(["## Many at once", circumstances("python -m tests.studies.many_at_once", SEED), what,
                        table(("", "found"), rows)])  # fmt: skip


if __name__ == "__main__":
    sys.exit(run() is None)
