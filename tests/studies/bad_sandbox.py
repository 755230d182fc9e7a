"""Where bad input is tried: a folder in memory with books and files, watched; and commands called in this process."""

from __future__ import annotations

import io
import os
import shutil
import signal
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager, redirect_stderr, redirect_stdout, suppress
from pathlib import Path
from types import FrameType
from typing import Final

import typer

from ledger.bench import settle_template, sweeps_template
from ledger.book.copying import copy_out
from ledger.book.placing import BESIDE
from ledger.book.store import reading
from ledger.faces.cli import main
from ledger.refusals import LemelError
from tests.book.plants import PLANT
from tests.book.sample import MONTH, sample_book
from tests.studies.changed_books import state

#: Exit statuses that the interface knows; 1 is a crash.
CHANGE: Final = """\
from = "2026-11-03T00:00"
by = "OV"
reason = "the new mill"
[[operation]]
code = "ROLLING"
loss = {gold = "0.03%"}
[[area]]
code = "NEW"
tolerance = "0.2%"
"""
STATUSES: Final = (0, 2, 3, 4, 5)
#: Seconds on the clock after which a try is taken for a hang, on a machine that others use too.
PATIENCE: Final = 60
#: Characters that a command may print of one refused input.
_MOST_SAID: Final = 400_000


class Wrong(AssertionError):
    """What the promise does not allow."""


class Hung(BaseException):
    """A try that did not end; not caught by what catches every Exception."""


@contextmanager
def not_for_ever(seconds: int = PATIENCE) -> Iterator[None]:
    """Raise Hung where the inside takes longer; also where it waits for somebody else."""

    def end(_: int, __: FrameType | None) -> None:
        raise Hung

    before = signal.signal(signal.SIGALRM, end)
    signal.alarm(seconds)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


def judge(refused: LemelError) -> None:
    """See that a refusal says in words what is wrong, in words that can be printed."""
    if refused.exit_status not in STATUSES or not refused.faults:
        raise Wrong(f"no refusal in words: {refused!r}"[:300])
    for fault in refused.faults:
        if not fault.what.strip():
            raise Wrong(f"a fault without words: {fault!r}"[:300])
        str(fault).encode()


class Sandbox:
    """A folder two levels down in one of its own, so that what is written one or two levels up is seen."""

    def __init__(self, outer: Path) -> None:
        self.place = outer.resolve()
        self.outer = self.place / "watched"
        self.folder = self.outer / "a" / "b" / "work"
        (self.folder / "out").mkdir(parents=True)
        (self.folder / "folder").mkdir()
        self._fill()
        self.books = {name: (self.folder / name).read_bytes() for name in ("month.lemel", "sealed.lemel")}
        for name in ("tried", "tried.json"):  # what reading functions are given
            (self.folder / name).touch()
        self.states = {name: state(self.folder / name) for name in self.books}
        self.known = self._there()
        self.texts = {path: path.read_bytes() for path in map(Path, self.known)
                      if path.is_file() and path.suffix != ".lemel" and path.stem != "tried"}  # fmt: skip

    def _fill(self) -> None:
        here = self.folder
        sealed = sample_book(here).rename(here / "sealed.lemel")
        with reading(sealed) as connection:
            copy = "".join(line + "\n" for line in copy_out(connection))
        (here / "copy.jsonl").write_text(copy, encoding="utf-8")
        for name, text in (("plant.toml", PLANT), ("change.toml", CHANGE),
                           ("out-turn.toml", settle_template.TEMPLATE), ("sweeps.toml", sweeps_template.TEMPLATE),
                           ("tickets.csv", "ticket,kind\nHC-9,void\n")):  # fmt: skip
            (here / name).write_text(text, encoding="utf-8")
        shutil.copy(MONTH / "tickets.jsonl", here / "tickets.jsonl")
        for name in ("fifo.jsonl", "fifo.toml"):
            os.mkfifo(here / name)
        for name, to in (("zero.jsonl", "/dev/zero"), ("zero.toml", "/dev/zero"), ("link.lemel", "month.lemel"),
                         ("loop.jsonl", "loop.jsonl"), ("dangling.csv", "nowhere/x.csv")):  # fmt: skip
            (here / name).symlink_to(to)
        with self.inside():
            for arguments in (["new", "month.lemel", "--plant", str(MONTH / "plant.toml")],
                              ["enter", "tickets.jsonl", "--book", "month.lemel"]):  # fmt: skip
                assert self.call(arguments)[0] == 0

    def _there(self) -> set[str]:
        return {os.path.join(at, name) for at, folders, files in os.walk(self.outer) for name in (*folders, *files)}

    @contextmanager
    def inside(self) -> Iterator[None]:
        """Work in the folder."""
        before = Path.cwd()
        os.chdir(self.folder)
        try:
            yield
        finally:
            os.chdir(before)

    # ---- commands ---------------------------------------------------------------------------------------------

    def call(self, arguments: Sequence[str], said: bytes = b"") -> tuple[int, str]:
        """Run a command as from a shell, ``said`` its standard input; raises Wrong where it breaks the promise."""
        out, err = io.StringIO(), io.StringIO()
        kept, main.sys.stdin = main.sys.stdin, io.TextIOWrapper(io.BytesIO(said), "utf-8")
        try:
            with redirect_stdout(out), redirect_stderr(err):
                status = main.main(arguments)
        finally:
            main.sys.stdin = kept
        text = out.getvalue() + err.getvalue()
        if "bug: Hung" in text:
            raise Hung
        if status not in STATUSES or "Traceback" in text or "this is a bug" in text:
            raise Wrong(f"status {status}: {text[-600:]}")
        strange = {c for c in text if not c.isprintable() and c != "\n"}
        if strange:
            raise Wrong(f"prints {sorted(strange)[:5]!a}: {text[-200:]!a}")
        if status not in (0, 5) and len(text) > _MOST_SAID:
            raise Wrong(f"says {len(text):,} characters of one refusal")
        return status, text

    def unharmed(self, status: int, arguments: Sequence[str] = ()) -> None:
        """See that nothing is where it should not be, and no book changed unless the command was done."""
        try:
            self._strays(arguments)
        finally:
            changed = self._changed(status)
        if changed:
            raise Wrong(changed)

    def _changed(self, status: int) -> str:
        """Put back what was changed; return what should not have been, in words."""
        wrong = ""
        for name, content in self.books.items():
            path = self.folder / name
            beside = any(path.with_name(name + end).exists() for end in BESIDE)
            if not beside and path.read_bytes() == content:
                continue
            if status not in (0, 5) and state(path) != self.states[name]:
                wrong = f"{name} changed, with status {status}"
            wrong = self.unbalanced(path) or wrong
            self.put_back(name)
        for path, content in self.texts.items():
            if path.read_bytes() != content:
                path.write_bytes(content)
                wrong = f"{path.name} was written over"
        return wrong

    def put_back(self, name: str) -> None:
        """Make a book what it was."""
        path = self.folder / name
        for end in BESIDE:
            path.with_name(name + end).unlink(missing_ok=True)
        path.write_bytes(self.books[name])

    @staticmethod
    def unbalanced(path: Path) -> str:
        """Return what does not sum to zero, by ticket, period and metal; nothing where all of it does."""
        with closing(sqlite3.connect(path)) as connection:
            wrong = connection.execute("SELECT ticket, period, metal, sum(ng) FROM posting GROUP BY 1, 2, 3 "
                                       "HAVING sum(ng) <> 0").fetchall()  # fmt: skip
        return f"does not balance: {wrong[:3]}" if wrong else ""

    def _strays(self, arguments: Sequence[str]) -> None:
        """Remove what is new; raise Wrong where no argument named it."""
        new = self._there() - self.known
        named = {os.path.normpath(self.folder / word) for word in arguments if len(word) < 1000}
        beside = tuple(name + end for name in self.books for end in BESIDE)
        strays = [path for path in new if not path.endswith(beside)
                  and not any(path == name or path.startswith(name + os.sep) for name in named)]  # fmt: skip
        for path in sorted(new, reverse=True):
            if not path.endswith(beside):
                with suppress(OSError):
                    (os.rmdir if os.path.isdir(path) and not os.path.islink(path) else os.unlink)(path)
        if strays:
            raise Wrong(f"left behind: {strays[:3]}")


class ParsedOnce:
    """The program's commands, their parser built once and not for every call."""

    def __init__(self) -> None:
        self.kept = main.app_of
        self.command = typer.main.get_command(main.app_of())

    def __enter__(self) -> None:
        main.app_of = lambda _=(): self.command  # type: ignore[assignment,return-value,misc]

    def __exit__(self, *_: object) -> None:
        main.app_of = self.kept
