"""Faults put in the way of a change, one place after another: the book is as before it, or as after it; nothing else.

    python -m tests.studies.faults

The database's own machine is stopped at each of its steps; the file may grow to so many pages and no more; so many
bytes of any file can be written, the log and its index too; a small disk is really full; the log written ahead is cut
off at each of its frames, and a disk that lost power while it was taken over holds any of its pages. Afterwards the
same change can be made.
"""

from __future__ import annotations

import os
import resource
import shutil
import sqlite3
import struct
import subprocess
from collections.abc import Callable, Iterable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory
from typing import Any

from ledger.book.placing import clear
from ledger.refusals import BookUnusable
from tests.studies.changed_books import Change, Found, closing_of_the_month, entry, folder, forked, migration, under
from tests.studies.evaluation_page import circumstances, note, table, write_section

SEED = 20261125
_PAGE = 4096
_FRAME = _PAGE + 24
_LOG_HEAD = 32
_UNKNOWN = "whether it was recorded is not known"


# ---- the machine stopped at a step ------------------------------------------------------------------------------


@contextmanager
def connections(prepare: Callable[[sqlite3.Connection], object]) -> Iterator[None]:
    """Let something be done to every connection that is opened meanwhile."""
    connect = sqlite3.connect

    def prepared(*arguments: Any, **options: Any) -> sqlite3.Connection:
        connection: sqlite3.Connection = connect(*arguments, **options)
        prepare(connection)
        return connection

    sqlite3.connect = prepared  # type: ignore[assignment]
    try:
        yield
    finally:
        sqlite3.connect = connect


@contextmanager
def stepping(at: Callable[[int], object]) -> Iterator[None]:
    """Tell ``at`` of every step of the database's machine, counted from 1; it stops the machine by something true."""
    step = 0

    def one() -> int:
        nonlocal step
        step += 1
        return 1 if at(step) else 0

    with connections(lambda connection: connection.set_progress_handler(one, 1)):
        yield


def steps(work: Callable[[], object]) -> int:
    """Return how many steps the machine takes for something."""
    last = 0

    def count(step: int) -> None:
        nonlocal last
        last = step

    with stepping(count):
        work()
    return last


def stopped_at_steps(change: Change, places: Iterable[int], *, for_good: bool = False) -> Found:
    """Stop the machine at each of the steps; with ``for_good`` at all that follow, too, so that undoing fails."""
    found = Found()
    for place in places:
        with stepping(lambda step, place=place: step >= place if for_good else step == place):
            recorded = _entered(change, command=place % 50 == 0, found=found)
        change.judge(found, recorded=recorded)
    return found


def _entered(change: Change, *, command: bool, found: Found) -> bool | None:
    """Return whether the change says that it is made; None where it says that this is not known."""
    said = ""
    if command:
        status = change.command()
        found.statuses[status] += 1
        made, said = status == 0, change.said
    else:
        try:
            change.make()
            made = True
        except BookUnusable as error:
            made, said = False, str(error)
    return None if _UNKNOWN in said else made


# ---- no room ----------------------------------------------------------------------------------------------------


def full_at_pages(change: Change) -> Found:
    """Let the file grow by no page, by one, by two … until the change fits."""
    found, pages = Found(), len(change.bytes) // _PAGE
    while not found.after:
        with connections(lambda connection: connection.execute(f"PRAGMA max_page_count = {pages}")):  # noqa: B023
            status = change.command()
        assert (status, "is full; nothing was recorded" in change.said) in ((0, False), (4, True)), change.said
        found.statuses[status] += 1
        change.judge(found, recorded=status == 0)
        pages += 1
    return found


def full_at_bytes(change: Change, every: int = _PAGE) -> Found:
    """Let no file, log and index of the log among them, grow beyond so many bytes, in steps, until the change fits.

    That the book itself cannot take the log over is no reason to refuse: what is in the log is recorded.
    """
    found, most = Found(), 0
    while not found.after:
        status = forked(lambda: _with_limit(change, most))  # noqa: B023
        found.statuses[status] += 1
        change.judge(found, recorded=None if status == 4 else status == 0)
        most += every
    return found


def _with_limit(change: Change, most: int) -> int:
    resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
    return change.command()


def may_mount() -> bool:
    """Return whether this process can have a small disk of its own."""
    return hasattr(os, "geteuid") and os.geteuid() == 0 and shutil.which("mount") is not None


@contextmanager
def small_disk(kilobytes: int) -> Iterator[Path | None]:
    """Give a disk in memory of that size; None where this process may not have one."""
    with TemporaryDirectory(prefix="lemel-disk-") as name:
        size = f"size={kilobytes}k"
        done = subprocess.run(["mount", "-t", "tmpfs", "-o", size, "none", name], check=False, capture_output=True)
        if done.returncode:
            yield None
            return
        try:
            yield Path(name)
        finally:
            subprocess.run(["umount", name], check=True)


def really_full(change: Change) -> Found | None:
    """Make it on a disk with no room left, four kilobytes, eight … until it fits; None where no disk is given."""
    found = Found()
    with small_disk(8 * len(change.bytes) // 1024) as disk:
        if disk is None:
            return None
        there = change.moved(disk / change.path.name)
        left = 0
        while not found.after:
            _fill(disk, left)
            status = forked(there.command)
            found.statuses[status] += 1
            (disk / "ballast").unlink()
            there.judge(found, recorded=None if status == 4 else status == 0)
            left += _PAGE
    return found


def _fill(disk: Path, left: int) -> None:
    """Fill a disk but for so many bytes."""
    room = os.statvfs(disk)
    with (disk / "ballast").open("wb", buffering=0) as ballast:
        for _ in range(max(room.f_bavail * room.f_frsize - left, 0) // _PAGE):
            ballast.write(bytes(_PAGE))


# ---- power lost -------------------------------------------------------------------------------------------------


def _with_log(change: Change) -> tuple[bytes, bytes]:
    """Return the book and the log written ahead as they lie on the disk after the change, not yet taken over."""
    log = change.path.with_name(change.path.name + "-wal")
    with closing(sqlite3.connect(change.path)) as other:
        other.execute("SELECT count(*) FROM record").fetchone()  # whoever closes last takes the log over
        change.make()
        found = change.path.read_bytes(), log.read_bytes()
    change.put_back()
    return found


def log_cut_off(change: Change, between: int = 7) -> Found:
    """Cut the log at each frame, and at places between: what the disk had of it when power failed."""
    found, (book, log) = Found(), _with_log(change)
    frames = range(_LOG_HEAD, len(log) + 1, _FRAME)
    inside = (frame + part * _FRAME // between for frame in frames for part in range(1, between))
    for cut in sorted({0, 8, *frames, *(place for place in inside if place < len(log))}):
        _lie(change, book, log[:cut])
        change.judge(found, recorded=cut == len(log))
    return found


def half_taken_over(change: Change, tries: int, random: Random) -> Found:
    """Let any of the log's pages, whole or torn, be in the book already when power fails, and the log whole."""
    found, (book, log) = Found(), _with_log(change)
    pages = [(_page(log, at), log[at + 24 : at + _FRAME]) for at in range(_LOG_HEAD, len(log), _FRAME)]
    for _ in range(tries):
        torn = bytearray(book)
        for number, content in pages:
            whole = random.choice((0, 0, _PAGE, _PAGE, random.randrange(0, _PAGE, 512)))
            place = (number - 1) * _PAGE
            torn.extend(bytes(max(place + whole - len(torn), 0)))
            torn[place : place + whole] = content[:whole]
        _lie(change, bytes(torn), log)
        change.judge(found, recorded=True)
    return found


def _page(log: bytes, at: int) -> int:
    return int(struct.unpack_from(">I", log, at)[0])


def _lie(change: Change, book: bytes, log: bytes) -> None:
    clear(change.path)
    change.path.write_bytes(book)
    change.path.with_name(change.path.name + "-wal").write_bytes(log)


# ---- the study --------------------------------------------------------------------------------------------------

#: Single tickets of the sample month: a count, work by the furnace, and a move.
ALONE = {"a count": 38, "work": 25, "a move": 23}


def run() -> dict[str, Found]:
    """Put every fault, write the section, and return what was found."""
    found: dict[str, Found] = {}
    with folder() as place:
        changes = {what: entry(under(place, what), ticket, ticket) for what, ticket in ALONE.items()}
        changes |= {"a close": closing_of_the_month(under(place, "close")), "a migration": migration(place)}
        for what, change in changes.items():
            most, every = steps(change.make), 1 if what in (*ALONE, "a migration") else 97
            change.put_back()
            note(f"{what}: {most:,} steps")
            found[f"{what}: stopped at a step"] = stopped_at_steps(change, range(1, most + 1, every))
            found[f"{what}: … and at every step after it"] = stopped_at_steps(
                change, range(1, most + 1, 7 * every), for_good=True)  # fmt: skip
        many = {"twenty tickets": entry(under(place, "many"), 21, 40), "a close": changes["a close"],
                "a migration": changes["a migration"]}  # fmt: skip
        for what, change in many.items():
            note(f"{what}: no room")
            found[f"{what}: the file full at a page"] = full_at_pages(change)
            found[f"{what}: no file longer than so many bytes"] = full_at_bytes(change)
            full = really_full(change)
            if full is not None:
                found[f"{what}: a small disk full"] = full
            note(f"{what}: power lost")
            found[f"{what}: the log cut off"] = log_cut_off(change)
            found[f"{what}: the log half taken over"] = half_taken_over(change, 300, Random(SEED))
    write_section("faults", section(found))
    return found


def section(found: dict[str, Found]) -> str:
    """Return the section of the page."""
    what = (
        "One change of a book of the sample month, with one fault in its way: at each step that SQLite's own machine "
        "takes, from the opening of the book to its closing (of a close, every 97th), once, and with every seventh "
        "again together with all steps after it, so that undoing fails too; with the file, or every file, log and "
        "index among them, allowed to grow by one more page each time; on a small disk with one more page free each "
        "time; and with what a disk may hold when power fails: the log written ahead cut at its frames and between "
        "them, or some of its pages, whole or torn, taken over already. Every time the book was, to the last row, as "
        "before the change or as after it, in accord with what the change had said of itself (an error of the disk, "
        "or of the very commit, says no more than to make it again), and SQLite's check of its pages was clean; made "
        "again, the change led to the one right book. Through the command, which every 50th step and all tries "
        "without room went by, each refusal had status 4, words and a mend, and none a traceback."
    )
    rows = [
        (name, f"{one.tried:,}", f"{one.before:,}", f"{one.after:,}", f"{one.statuses[4]:,}", f"{one.statuses[0]:,}")
        for name, one in found.items()
    ]
    head = ("fault", "places", "as before", "as after", "command: status 4", "command: status 0")
    return "\n\n".join(["## A fault in the way of a change", circumstances("python -m tests.studies.faults", SEED),
                        what, table(head, rows)])  # fmt: skip


if __name__ == "__main__":
    run()
