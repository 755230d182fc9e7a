"""Killing a child of this process: by the clock, at a step of the database's own machine, at an operation on files."""

from __future__ import annotations

import os
import signal
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from random import Random

from ledger.faces.cli.main import main
from tests.studies.faults import stepping, steps

#: How many of the last steps are chosen from more often.
LAST = 2_000

_TOUCHES = frozenset({"open", "os.chmod", "os.mkdir", "os.remove", "os.rename", "os.rmdir", "shutil.rmtree"})
_REMOVED = frozenset({"os.remove", "os.rmdir"})
#: Two folders exchanged in one step, which Python knows no call for.
_EXCHANGED = ("ctypes.dlsym", ("renameat2",))

Work = Callable[[], None]


@dataclass(frozen=True, slots=True)
class Moment:
    """When a child is killed: after so many seconds, at a step of the database's machine, or not at all.

    ``touch`` is a folder and a number: before so manieth operation on files in it.
    """

    seconds: float | None = None
    step: int | None = None
    touch: tuple[Path, int] | None = None


@dataclass(frozen=True, slots=True)
class Said:
    """What a child had printed when it ended, and whether it was killed."""

    out: bytes
    killed: bool


def run_and_kill(work: Work, moment: Moment) -> Said:
    """Do some work in a child, kill it at a moment, and return what it had said."""
    ours, theirs = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(ours)
        _be_the_child(work, moment, theirs)
    os.close(theirs)
    if moment.seconds is not None:
        time.sleep(moment.seconds)
        os.kill(child, signal.SIGKILL)
    with os.fdopen(ours, "rb") as pipe:
        out = pipe.read()
    _, ended = os.waitpid(child, 0)
    status = os.waitstatus_to_exitcode(ended)
    assert status in (0, -signal.SIGKILL), (status, out)
    return Said(out, status != 0)


def touching(folder: Path, at: Callable[[int], object]) -> None:
    """Tell ``at`` of every operation on files in a folder before it is done, counted from 1, while this process lives.

    Python tells of them: its table of audit events (PEP 578). What is removed with a whole folder goes by bare names.
    """
    touches, below = 0, str(folder)

    def heard(event: str, arguments: tuple[object, ...]) -> None:
        nonlocal touches
        named = event in _TOUCHES and any(str(one).startswith(below) for one in arguments)
        if named or (event in _REMOVED and arguments[-1] != -1) or (event, arguments[-1:]) == _EXCHANGED:
            touches += 1
            at(touches)

    sys.addaudithook(heard)


def _be_the_child(work: Work, moment: Moment, pipe: int) -> None:
    status = 99
    try:
        os.dup2(pipe, 1)
        os.dup2(pipe, 2)
        sys.stdout = open(1, "w", encoding="utf-8", closefd=False)  # noqa: SIM115
        sys.stderr = open(2, "w", encoding="utf-8", closefd=False)  # noqa: SIM115
        if moment.touch is not None:
            folder, number = moment.touch
            touching(folder, lambda touch: touch == number and os.kill(os.getpid(), signal.SIGKILL))
        if moment.step is None:
            work()
        else:
            with stepping(lambda step: step == moment.step and os.kill(os.getpid(), signal.SIGKILL)):
                work()
        sys.stdout.flush()
        status = 0
    finally:
        os._exit(status)


def command(*arguments: object) -> None:
    """Run a command in a child; one that fails ends it, with its exit status."""
    status = main([str(argument) for argument in arguments])
    if status:
        sys.stdout.flush()
        os._exit(status)


class Moments:
    """Moments at random over all that some work takes, and a little beyond its end."""

    def __init__(self, work: Work, put_back: Work, random: Random) -> None:
        self.random = random
        put_back()
        self.steps = _steps_in_a_child(work)
        put_back()
        start = time.perf_counter()
        assert not run_and_kill(work, Moment()).killed
        self.seconds = time.perf_counter() - start
        put_back()

    def next(self) -> Moment:
        """Return a moment: by the clock; by the step; by one of the last steps, where the commit is."""
        choice = self.random.random()
        if choice < 0.5:
            return Moment(seconds=self.random.uniform(0, 1.1 * self.seconds))
        first = 1 if choice < 0.75 else max(1, self.steps - LAST)
        return Moment(step=self.random.randint(first, self.steps))


class MomentsOfFiles(Moments):
    """Moments of which every second is at an operation on files in a folder: few of those that the work takes."""

    def __init__(self, work: Work, put_back: Work, random: Random, folder: Path) -> None:
        super().__init__(work, put_back, random)
        self.folder = folder
        self.touches = _touches_in_a_child(work, folder)
        put_back()

    def next(self) -> Moment:
        """Return a moment: half of the times at an operation on files."""
        if self.random.random() < 0.5:
            return super().next()
        return Moment(touch=(self.folder, self.random.randint(1, self.touches)))


def _touches_in_a_child(work: Work, folder: Path) -> int:
    """Return the operations on files in a folder that the work takes, without doing it in this process."""

    def counted() -> None:
        touches: list[int] = []
        touching(folder, touches.append)
        work()
        print(f"\ntouches {len(touches)}")

    return int(run_and_kill(counted, Moment()).out.rpartition(b"touches ")[2])


def _steps_in_a_child(work: Work) -> int:
    """Return the steps the work takes, without doing it in this process."""
    said = run_and_kill(lambda: print(f"\nsteps {steps(work)}"), Moment())
    return int(said.out.rpartition(b"steps ")[2])
