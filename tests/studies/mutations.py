"""Damaged input, thousands of times: recorded as valid, or refused in words with the book as it was. Nothing else.

    python -m tests.studies.mutations

Each try damages a file of sound tickets and enters it, all or nothing, into a small prepared book. What is recorded
must balance; what is refused must leave every table as it was. A sample goes through the command as well.
"""

from __future__ import annotations

import json
import sqlite3
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field
from hashlib import sha256
from itertools import islice
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory
from time import perf_counter

from ledger.book import schema
from ledger.book.entering import Entered, enter
from ledger.book.intake import read_file
from ledger.book.opening import new_book
from ledger.book.store import writing
from ledger.book.tickets.examples import EXAMPLES
from ledger.refusals import Refused
from tests.studies import invented_tickets
from tests.studies.damage import Document, as_csv, as_jsonl, damaged_bytes, damaged_documents
from tests.studies.evaluation_page import circumstances, note, table, write_section

SEED = 20261002
TRIES = 12_000
SAMPLED = 240
#: Tickets of the sample month already in the prepared book; what follows them is what gets damaged.
PREPARED = 20
#: Kinds and turns that neither the month nor the invented heats have, each ticket after those before it.
RARER = Path(__file__).with_name("rarer_tickets.jsonl")
#: Seconds: nothing may take longer.
LONGEST = 5.0
_LEMEL = "import sys; sys.argv[0] = 'lemel'; from ledger.faces.cli.main import run; run()"


@dataclass(slots=True)
class Found:
    """What came of the tries."""

    tries: int = 0
    accepted: int = 0
    refused: int = 0
    unchanged: int = 0
    codes: Counter[str] = field(default_factory=Counter)
    slowest: float = 0.0
    sampled: Counter[int] = field(default_factory=Counter)


class Book:
    """The prepared book: entered into, and put back as it was."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / "prepared.lemel"
        month = (invented_tickets.MONTH / "tickets.jsonl").read_text(encoding="utf-8").splitlines(keepends=True)
        first = folder / "first.jsonl"
        first.write_text("".join(month[:PREPARED]), encoding="utf-8")
        self.rest: list[Document] = [json.loads(line) for line in month[PREPARED:]]
        with RARER.open("rb") as lines:
            self.rarer: list[Document] = [json.loads(line) for line in lines]
        new_book(self.path, invented_tickets.plant(), "study")
        self.enter(first)
        self._bytes = self.path.read_bytes()
        self.prepared = self.digest()

    def enter(self, file: Path) -> Entered:
        """Enter a file as the command does: one transaction, undone when anything is refused."""
        with writing(self.path) as connection:
            return enter(connection, read_file(file), "study")

    def digest(self) -> bytes:
        """Return a hash of every row of every table."""
        whole = sha256()
        with closing(sqlite3.connect(self.path)) as connection:
            for name in (*schema.RECORD_TABLES, *schema.SUM_TABLES):
                for row in connection.execute(f"SELECT * FROM {name} ORDER BY 1, 2"):
                    whole.update(repr((name, row)).encode())
        return whole.digest()

    def unbalanced(self) -> list[tuple[object, ...]]:
        """Return what does not sum to zero, by ticket, period and metal."""
        with closing(sqlite3.connect(self.path)) as connection:
            return connection.execute("SELECT ticket, period, metal, sum(ng) FROM posting GROUP BY 1, 2, 3 "
                                      "HAVING sum(ng) <> 0").fetchall()  # fmt: skip

    def put_back(self) -> None:
        """Make the file what it was."""
        for beside in ("-wal", "-shm"):
            self.path.with_name(self.path.name + beside).unlink(missing_ok=True)
        self.path.write_bytes(self._bytes)


def damaged_files(book: Book, random: Random) -> Iterator[tuple[str, bytes]]:
    """Yield (suffix, content) without end: sound tickets, damaged in their fields, in their bytes, or in both."""
    while True:
        documents = _sound(book, random)
        fields = random.random()
        if fields < 0.75:
            documents = damaged_documents(random, documents)
        table_ = random.random() < 0.35
        content = (as_csv if table_ else as_jsonl)(random, documents)
        if fields > 0.65:
            content = damaged_bytes(random, content)
        yield (".csv" if table_ else ".jsonl"), content


def _sound(book: Book, random: Random) -> list[Document]:
    """Return tickets that could be entered as they are: the month's next ones, a fresh heat's, or one of any kind."""
    choice = random.random()
    if choice < 0.25:
        return book.rest[: random.randint(1, 6) if random.random() < 0.7 else len(book.rest)]
    if choice < 0.45:
        return book.rarer[: random.randint(1, len(book.rarer))]
    if choice < 0.8:
        return list(islice(invented_tickets.tickets(12, random.randrange(40)), random.randint(1, 12)))
    return [dict(random.choice(EXAMPLES))]


def attempt(tries: int, seed: int, folder: Path, sampled: int = 0) -> Found:
    """Enter that many damaged files; every ``tries / sampled``-th also through the command."""
    book, random, found = Book(folder), Random(seed), Found()
    every = tries // sampled if sampled else tries + 1
    for suffix, content in islice(damaged_files(book, random), tries):
        file = folder / f"damaged{suffix}"
        file.write_bytes(content)
        start = perf_counter()
        accepted = _enter(book, file, found)
        found.slowest = max(found.slowest, perf_counter() - start)
        found.tries += 1
        if found.tries % every == 0:
            _command(book, file, accepted, found)
        if found.tries % 1000 == 0:
            note(f"{found.tries:,} tried, {found.accepted:,} valid")
    return found


def _enter(book: Book, file: Path, found: Found) -> bool:
    """Enter one file and judge what came of it; whatever is no refusal in words is raised, and is a bug."""
    try:
        book.enter(file)
    except Refused as refused:
        _judge(refused, book, found)
        return False
    except BaseException:
        file.replace(file.with_name("crashed" + file.suffix))
        raise
    found.accepted += 1
    found.unchanged += book.digest() == book.prepared
    assert book.unbalanced() == []
    book.put_back()
    return True


def _judge(refused: Refused, book: Book, found: Found) -> None:
    """Every fault says something that can be printed, and every row is as it was."""
    for fault in refused.faults:
        assert fault.what, fault
        str(fault).encode()
    found.refused += 1
    found.codes.update({fault.code for fault in refused.faults})
    assert book.digest() == book.prepared, f"refused, and the book changed: {refused}"


def _command(book: Book, file: Path, accepted: bool, found: Found) -> None:
    """The command must say the same, in words."""
    done = subprocess.run(
        [sys.executable, "-c", _LEMEL, "enter", str(file), "--book", str(book.path)], cwd=invented_tickets.ROOT,
        capture_output=True, check=False, timeout=60,
    )  # fmt: skip
    said = done.stdout + done.stderr
    assert done.returncode == (0 if accepted else 3), (done.returncode, said[-2000:], file.read_bytes()[:2000])
    assert b"Traceback" not in said, said[-2000:]
    found.sampled[done.returncode] += 1
    if accepted:
        book.put_back()
    else:
        assert book.digest() == book.prepared


# ---- the section --------------------------------------------------------------------------------------------


def run() -> Found:
    """Try, write the section, and return what was found."""
    with TemporaryDirectory(prefix="lemel-study-") as folder:
        found = attempt(TRIES, SEED, Path(folder), SAMPLED)
    write_section("mutations", section(found))
    return found


def section(found: Found) -> str:
    """Return the section of the page."""
    what = (
        f"{found.tries:,} files of sound tickets (the sample month, invented heats, an example of every kind), JSON "
        "Lines and CSV, were damaged in one to three places and entered, all or nothing, into a small prepared book: "
        "wrong types, huge and tiny numbers, odd Unicode with lone surrogates, NaN and Infinity, doubled keys, 100,000 "
        "characters, deep nesting, fields swapped, added and left out, lines cut, bytes flipped. Each was either valid "
        "all the same, and then balanced, or refused in words with every row of the book as it was; no other outcome "
        f"is allowed, and none occurred. Slowest: {found.slowest:.2f} s (mark: {LONGEST:.0f} s)."
    )
    command = (
        "A file may hold faults of several codes. Through the command, exit status and outcome agreed every time, and "
        "no traceback was seen."
    )
    rows = [
        ("still valid, recorded", found.accepted - found.unchanged),
        ("still valid, nothing in it to record", found.unchanged),
        ("refused, book unchanged", found.refused),
        *((f"… with a fault of code `{code}`", files) for code, files in found.codes.most_common()),
    ]
    rows += [(f"also through `lemel enter`: exit status {status}", found.sampled[status]) for status in (0, 3)]
    return "\n\n".join([
        "## Damaged input", circumstances("python -m tests.studies.mutations", SEED), what,
        table(("outcome", "files"), [(name, f"{files:,}") for name, files in rows]), command,
    ])  # fmt: skip


if __name__ == "__main__":
    run()
