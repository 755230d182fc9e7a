"""A book and one change of it, to put something in the way of: an entry, a close, a migration, each twice the same."""

from __future__ import annotations

import io
import os
import shutil
import sqlite3
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, redirect_stderr, redirect_stdout
from dataclasses import dataclass, field, replace
from hashlib import sha256
from pathlib import Path
from tempfile import TemporaryDirectory

from ledger.balance.months.closing import close_period
from ledger.book import entering, schema
from ledger.book.entering import Stamp, enter
from ledger.book.intake import read_file
from ledger.book.placing import clear
from ledger.book.store import connect, writing
from ledger.faces.cli.main import main
from tests.book.sample import ANSWERS, MONTH
from tests.book.test_migrations import VERSION_1

_STAMP = Stamp("2026-11-02T09:00:00+00:00", "study")


@dataclass(slots=True)
class Found:
    """What came of one sort of fault: places tried, the book as before or as after the entry, and exit statuses."""

    before: int = 0
    after: int = 0
    statuses: Counter[int] = field(default_factory=Counter)

    @property
    def tried(self) -> int:
        """Places at which the fault was put."""
        return self.before + self.after


def state(path: Path) -> bytes:
    """Return a hash of every row of every table, opening the book as whoever comes next does."""
    whole = sha256()
    with closing(sqlite3.connect(path)) as connection:
        tables = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name").fetchall()
        for name in (name for (name,) in tables if name not in schema.KEPT_TABLES):
            for row in connection.execute(f"SELECT * FROM {name} ORDER BY 1, 2"):
                whole.update(repr((name, row)).encode())
        whole.update(repr(connection.execute("PRAGMA user_version").fetchone()).encode())
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    return whole.digest()


@contextmanager
def at_one_time() -> Iterator[None]:
    """Let every record be recorded at the same time, so that the same entry makes the same rows."""
    kept = entering.stamp_now
    entering.stamp_now = lambda _: _STAMP
    try:
        yield
    finally:
        entering.stamp_now = kept


def lemel(*arguments: object) -> tuple[int, str]:
    """Run a command in this process; no fault whatever may end in a traceback or a bug."""
    out = io.StringIO()
    with redirect_stdout(out), redirect_stderr(out):
        status = main([str(argument) for argument in arguments])
    assert status != 1, out.getvalue()
    assert "Traceback" not in out.getvalue(), out.getvalue()
    return status, out.getvalue()


class Change:
    """A book, and one change of it: entered tickets, a close, an earlier schema brought to the present one.

    One that ``tells`` says of itself whether it was made; whoever only opens an earlier book is told nothing of that.
    """

    def __init__(self, path: Path, work: Callable[[Path], object], *command: object, tells: bool = True) -> None:
        self.tells = tells
        self.path, self.work, self.arguments = path, work, (*command, "--book", path)
        self.said = ""
        self.bytes = path.read_bytes()
        self.before = state(path)
        self.make()
        self.after = state(path)
        assert self.before != self.after
        self.put_back()

    def make(self) -> None:
        """Make the change as its command does."""
        self.work(self.path)

    def command(self) -> int:
        """Make the change by its command and return the exit status; a refusal comes with its mend."""
        status, self.said = lemel(*self.arguments)
        assert status == 0 or (status == 4 and " → " in self.said), self.said
        return status

    def moved(self, path: Path) -> Change:
        """Return the same change of a copy of the book elsewhere."""
        shutil.copy(self.path, path)
        return Change(path, self.work, *self.arguments[:-2], tells=self.tells)

    def put_back(self) -> None:
        """Make the book what it was before the change."""
        clear(self.path)
        self.path.write_bytes(self.bytes)

    def judge(self, found: Found, *, recorded: bool | None = None) -> None:
        """Look at the book, and see that the change can be made, or was; ``recorded``: what it said of itself."""
        now = state(self.path)
        assert now in (self.before, self.after), "neither as before the change nor as after it"
        if recorded is not None and self.tells:
            assert (now == self.after) == recorded, f"recorded: {recorded}, and it is not so"
        found.before += now == self.before
        found.after += now == self.after
        if now == self.before:
            self.make()
            assert state(self.path) == self.after, "made again, the book is another"
        self.put_back()


def month_lines() -> list[str]:
    """Return the sample month's tickets, a line each."""
    return (MONTH / "tickets.jsonl").read_text(encoding="utf-8").splitlines(keepends=True)


def book_of_month(folder: Path, tickets: int) -> Path:
    """Return a book of the sample month's first tickets."""
    path, file = folder / "book.lemel", folder / "first.jsonl"
    file.write_text("".join(month_lines()[:tickets]), encoding="utf-8")
    assert lemel("new", path, "--plant", MONTH / "plant.toml")[0] == 0
    assert lemel("enter", file, "--book", path)[0] == 0
    return path


def entry(folder: Path, first: int, last: int) -> Change:
    """Return the entry of some of the sample month's tickets, counted from 1, into a book of those before them."""
    path, file = book_of_month(folder, first - 1), folder / "entry.jsonl"
    file.write_text("".join(month_lines()[first - 1 : last]), encoding="utf-8")

    def work(book: Path) -> None:
        with writing(book) as connection:
            enter(connection, read_file(file), "study")

    return Change(path, work, "enter", file)


def closing_of_the_month(folder: Path) -> Change:
    """Return the close of the sample month."""
    answers = [f"{area}={text}" for area, text in ANSWERS.notes.items()]
    options = ["--by", ANSWERS.by, "--with", ANSWERS.with_, *(x for each in answers for x in ("--note", each))]

    def work(book: Path) -> None:
        with writing(book) as connection:
            close_period(connection, "2026-10", replace(ANSWERS, evidence={}), _STAMP)

    return Change(book_of_month(folder, 40), work, "close", "2026-10", *options)


def migration(folder: Path) -> Change:
    """Return the bringing of a book of the first schema to the present one."""
    path = Path(shutil.copy(VERSION_1, folder / "old.lemel"))
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = WAL")  # as it was while it was a book at work
    return Change(path, lambda book: connect(book).close(), "stock", tells=False)


def forked(work: Callable[[], int]) -> int:
    """Do something in a child of this process, and return the status it ends with; 99 when it breaks a rule."""
    child = os.fork()
    if child == 0:
        status = 99
        try:
            status = work()
        except BaseException as error:
            os.write(2, f"{type(error).__name__}: {error}\n".encode())
        finally:
            os._exit(status)
    _, ended = os.waitpid(child, 0)
    status = os.waitstatus_to_exitcode(ended)
    assert status in (0, 4), status
    return status


@contextmanager
def folder() -> Iterator[Path]:
    """Give a folder in memory where there is one: what is written is written through, thousands of times."""
    memory = Path("/dev/shm")
    with TemporaryDirectory(prefix="lemel-study-", dir=memory if memory.is_dir() else None) as name, at_one_time():
        yield Path(name)


def under(place: Path, name: str) -> Path:
    """Return a new folder in another."""
    made = place / name.replace(" ", "-")
    made.mkdir()
    return made
