"""Killed at a random moment, a thousand times: what was acknowledged is there, once and whole, and the book is sound.

    python -m tests.studies.crash [--rounds N]

A child of this process runs commands, as from a shell, and tells what they print; it is killed (SIGKILL, which no
program can see coming), half of the time by the clock, half of the time at a step of the database's own machine, so
that as many fall into writing as into all the rest. Then somebody else opens the book.
"""

from __future__ import annotations

import argparse
import re
import shutil
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from random import Random
from typing import Final

from ledger.book.placing import clear
from ledger.book.store import reading
from ledger.book.verifying import verify
from tests.studies.changed_books import (
    Change,
    book_of_month,
    closing_of_the_month,
    folder,
    lemel,
    migration,
    month_lines,
    state,
    under,
)
from tests.studies.evaluation_page import circumstances, note, table, write_section
from tests.studies.killing import LAST, Moment, Moments, MomentsOfFiles, Said, command, run_and_kill

SEED = 20261126
ROUNDS = 1_000
#: Of so many rounds, how many fall on each kind of work.
SHARES: Final = {"entering": 350, "closing": 150, "migrating": 150, "backing up": 150, "packing": 100,
                 "replacing a pack": 100}  # fmt: skip
#: Tickets of the sample month in the book before entering begins, and in all.
_FIRST, _ALL = 20, 40
_EARLIER = 30
_RECORDED = re.compile(rb"^recorded (\d+), already there 0, refused 0$", re.MULTILINE)
_SHA256 = re.compile(rb"^SHA-256 ([0-9a-f]{64})$", re.MULTILINE)


@dataclass(slots=True)
class Found:
    """What came of one kind of work.

    How often it was killed, and how often it was done before that; how often it had said so (``acknowledged``), was
    found ``whole`` though it had not yet said so, or found as before.
    """

    rounds: int = 0
    killed: int = 0
    acknowledged: int = 0
    whole: int = 0
    as_before: int = 0


# ---- what is killed ---------------------------------------------------------------------------------------------


def sound(book: Path) -> None:
    """See that whoever opens a book next finds it sound, every row derived again."""
    with reading(book) as connection:
        assert verify(connection) == []


class Entering:
    """Tickets entered by one command after another, one to five at a time, until all are in."""

    def __init__(self, place: Path, random: Random) -> None:
        self.random = random
        self.path = book_of_month(place, _FIRST)
        self.bytes = self.path.read_bytes()
        self.files = [place / f"{n}.jsonl" for n in range(_FIRST, _ALL)]
        self.lines = month_lines()[_FIRST:_ALL]
        self.states = [state(self.path)]
        for line in self.lines:
            self.files[0].write_text(line, encoding="utf-8")
            assert lemel("enter", self.files[0], "--book", self.path)[0] == 0
            self.states.append(state(self.path))
        self.put_back()
        self.moments = Moments(self.work, self.put_back, random)

    def put_back(self) -> None:
        """Make the book what it was, and choose which tickets are entered together."""
        clear(self.path)
        self.path.write_bytes(self.bytes)
        self.ends = [0]
        while self.ends[-1] < len(self.lines):
            self.ends.append(min(self.ends[-1] + self.random.choice((1, 1, 1, 2, 3, 5)), len(self.lines)))
        for file, first, end in zip(self.files, self.ends, self.ends[1:], strict=False):
            file.write_text("".join(self.lines[first:end]), encoding="utf-8")

    def work(self) -> None:
        """Enter file after file, as from a shell."""
        for file in self.files[: len(self.ends) - 1]:
            command("enter", file, "--book", self.path)
            sys.stdout.flush()

    def round(self, found: Found) -> None:
        """Kill once; what was acknowledged is there, what follows it whole or not at all, and all can be entered."""
        said = run_and_kill(self.work, self.moments.next())
        acknowledged = sum(map(int, _RECORDED.findall(said.out)))
        assert acknowledged in self.ends
        there = self.states.index(state(self.path))
        following = self.ends[min(self.ends.index(acknowledged) + 1, len(self.ends) - 1)]
        assert there in (acknowledged, following), (there, acknowledged, following)
        sound(self.path)
        count(found, said, acknowledged=bool(acknowledged), done=there > acknowledged)
        self._enter_again(there)
        self.put_back()

    def _enter_again(self, there: int) -> None:
        everything = self.files[0].with_name("all.jsonl")
        everything.write_text("".join(self.lines), encoding="utf-8")
        status, out = lemel("enter", everything, "--book", self.path)
        assert status == 0, out
        assert f"recorded {len(self.lines) - there}, already there {there}, refused 0" in out
        assert state(self.path) == self.states[-1]


class OneChange:
    """One change of a book, by its command; ``acknowledges`` is what the command prints once it is made."""

    def __init__(self, change: Change, random: Random, acknowledges: bytes) -> None:
        self.change, self.acknowledges = change, acknowledges
        self.moments = Moments(self.work, change.put_back, random)

    def work(self) -> None:
        """Make it, as from a shell."""
        command(*self.change.arguments)

    def round(self, found: Found) -> None:
        """Kill once; the change is made as a whole or not at all, surely where it was said so, and can be made."""
        change = self.change
        said = run_and_kill(self.work, self.moments.next())
        acknowledged, now = self.acknowledges in said.out, state(change.path)
        assert now in (change.before, change.after)
        assert now == change.after or not acknowledged
        sound(change.path)
        if now == change.before:
            change.make()
        assert state(change.path) == change.after
        count(found, said, acknowledged=acknowledged, done=now == change.after)
        change.put_back()


class BackingUp:
    """A book backed up over an earlier copy of it."""

    def __init__(self, place: Path, random: Random) -> None:
        self.path, self.to = book_of_month(place, _EARLIER), under(place, "safe") / "copy.lemel"
        assert lemel("backup", self.to, "--book", self.path)[0] == 0
        self.earlier, self.before = self.to.read_bytes(), state(self.to)
        rest = place / "rest.jsonl"
        rest.write_text("".join(month_lines()), encoding="utf-8")
        assert lemel("enter", rest, "--book", self.path)[0] == 0
        self.after = state(self.path)
        self.moments = Moments(self.work, self.put_back, random)

    def put_back(self) -> None:
        """Have the earlier copy again, and nothing beside it."""
        for left in self.to.parent.iterdir():
            left.unlink()
        self.to.write_bytes(self.earlier)

    def work(self) -> None:
        """Back up, as from a shell."""
        command("backup", self.to, "--replace", "--book", self.path)

    def round(self, found: Found) -> None:
        """Kill once; under the copy's name lies the earlier copy or the new one, whole, and the book is as it was."""
        said = run_and_kill(self.work, self.moments.next())
        hash_, data, now = _SHA256.search(said.out), self.to.read_bytes(), state(self.to)
        assert now in (self.before, self.after)
        assert hash_ is None or sha256(data).hexdigest().encode() == hash_[1]
        assert now == self.after or hash_ is None
        sound(self.to)
        assert state(self.path) == self.after
        assert lemel("backup", self.to, "--replace", "--book", self.path)[0] == 0
        count(found, said, acknowledged=hash_ is not None, done=now == self.after)
        self.put_back()


class Packing:
    """A month-end pack made of a book."""

    def __init__(self, place: Path, random: Random) -> None:
        self.path, self.out = book_of_month(place, _ALL), place / "pack"
        self.before = state(self.path)
        assert lemel("pack", "2026-10", "--out", self.out, "--book", self.path)[0] == 0
        self.files = held(self.out)
        self.moments = Moments(self.work, self.put_back, random)

    def put_back(self) -> None:
        """Have no pack, and nothing that was left of one."""
        for left in (self.out, *self.out.parent.glob(".pack-*")):
            shutil.rmtree(left, ignore_errors=True)

    def work(self) -> None:
        """Make the pack, as from a shell."""
        command("pack", "2026-10", "--out", self.out, "--book", self.path)

    def round(self, found: Found) -> None:
        """Kill once; the pack is there to its last byte, or not at all, and the book is as it was."""
        said = run_and_kill(self.work, self.moments.next())
        acknowledged, done = b"book as of record" in said.out, self.out.exists()
        assert done or not acknowledged
        if done:
            assert held(self.out) == self.files
        assert state(self.path) == self.before
        sound(self.path)
        count(found, said, acknowledged=acknowledged, done=done)
        self.put_back()


class Replacing:
    """A month-end pack put in place of an earlier one, which was made of a book with fewer tickets."""

    def __init__(self, place: Path, random: Random) -> None:
        self.path, self.out = book_of_month(place, _EARLIER), place / "pack"
        self.earlier = self._made()
        rest = place / "rest.jsonl"
        rest.write_text("".join(month_lines()), encoding="utf-8")
        assert lemel("enter", rest, "--book", self.path)[0] == 0
        self.book = state(self.path)
        self.later = self._made()
        assert self.earlier != self.later
        self.moments = MomentsOfFiles(self.work, self.put_back, random, place)

    def put_back(self) -> None:
        """Have the earlier pack again, and nothing that was left of another."""
        for left in (self.out, *self.out.parent.glob(".pack-*")):
            shutil.rmtree(left, ignore_errors=True)
        for name, content in self.earlier.items():
            (self.out / name).parent.mkdir(parents=True, exist_ok=True)
            (self.out / name).write_bytes(content)

    def work(self) -> None:
        """Make the pack, as from a shell."""
        command("pack", "2026-10", "--out", self.out, "--book", self.path)

    def _made(self) -> dict[str, bytes]:
        """Make the pack undisturbed, and return what it holds."""
        assert not run_and_kill(self.work, Moment()).killed
        return held(self.out)

    def round(self, found: Found) -> None:
        """Kill once; the earlier pack or the new one is there, to its last byte, and the new one can be made."""
        said = run_and_kill(self.work, self.moments.next())
        acknowledged, now = b"book as of record" in said.out, held(self.out)
        assert now in (self.earlier, self.later)
        assert now == self.later or not acknowledged
        assert state(self.path) == self.book
        count(found, said, acknowledged=acknowledged, done=now == self.later)
        assert self._made() == self.later
        self.put_back()


def held(folder: Path) -> dict[str, bytes]:
    """Return what the files of a folder hold, by their names."""
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def count(found: Found, said: Said, *, acknowledged: bool, done: bool) -> None:
    """Count a round: acknowledged; done, and killed before it could say so; or as before."""
    found.rounds += 1
    found.killed += said.killed
    found.acknowledged += acknowledged
    found.whole += done and not acknowledged
    found.as_before += not done and not acknowledged


# ---- the study --------------------------------------------------------------------------------------------------


def attempt(rounds: Mapping[str, int], seed: int) -> dict[str, Found]:
    """Kill each kind of work so many times, and return what was found."""
    found: dict[str, Found] = {}
    makers: dict[str, Callable[[Path, Random], Entering | OneChange | BackingUp | Packing | Replacing]] = {
        "entering": Entering,
        "closing": lambda place, random: OneChange(closing_of_the_month(place), random, b"\nseal 2026-10 "),
        "migrating": lambda place, random: OneChange(migration(place), random, b"Stock of "),
        "backing up": BackingUp,
        "packing": Packing,
        "replacing a pack": Replacing,
    }
    with folder() as place:
        for number, (what, times) in enumerate(rounds.items()):
            note(f"{what}: {times} rounds")
            one, found[what] = makers[what](under(place, what), Random(seed + number)), Found()
            for _ in range(times):
                one.round(found[what])
    return found


def run(rounds: int = ROUNDS) -> dict[str, Found]:
    """Kill, write the section, and return what was found."""
    found = attempt({what: max(1, rounds * share // ROUNDS) for what, share in SHARES.items()}, SEED)
    write_section("crash", section(found))
    return found


def section(found: dict[str, Found]) -> str:
    """Return the section of the page."""
    rounds = sum(one.rounds for one in found.values())
    killed = sum(one.killed for one in found.values())
    what = (
        f"In {rounds:,} rounds commands worked on a book of the sample month and were to be killed (SIGKILL): half of "
        "the times at a random moment of the clock, half at a random step of SQLite's own machine, every second of "
        f"those among the last {LAST:,}; where a pack is replaced, half of the times before an operation on its "
        f"files; {killed:,} times that came before their end. Entering is one command after another, one to five "
        "tickets each; migrating opens a book of the first schema; a backup and the last packs replace earlier ones. "
        "Every time each ticket of an acknowledged command was there, once, and every row as in a book into which they "
        "were entered undisturbed; a command that was cut off was done as a whole or not at all; `verify`, deriving "
        "every row again, found nothing wrong; and the work, done again, led to the one right book. Under the backup's "
        "name lay a whole copy; under the pack's a whole pack or nothing, and where it replaced one the earlier or the "
        "new one, never a mixture. A process that is killed loses nothing that it has handed to the system; what a "
        "disk may lose when power fails is tried in the next section."
    )
    rows = [
        (name, *(f"{n:,}" for n in (one.rounds, one.killed, one.acknowledged, one.whole, one.as_before)))
        for name, one in found.items()
    ]
    head = ("work", "rounds", "killed before its end", "acknowledged before", "done, not yet said", "as before")
    return "\n\n".join(["## Killed at a random moment",
                        circumstances(f"python -m tests.studies.crash --rounds {rounds}", SEED), what,
                        table(head, rows)])  # fmt: skip


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="Kill commands at work on a book, and look at what is left.")
    parser.add_argument("--rounds", type=int, default=ROUNDS)
    run(parser.parse_args().rounds)
