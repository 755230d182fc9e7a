"""Killing a child of this process, at a moment of the clock or at a step of the database's own machine."""

from __future__ import annotations

import os
import signal
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from random import Random

from ledger.faces.cli.main import main
from tests.studies.faults import stepping, steps

#: How many of the last steps are chosen from more often.
LAST = 2_000

Work = Callable[[], None]


@dataclass(frozen=True, slots=True)
class Moment:
    """When a child is killed: after so many seconds, at a step of the database's machine, or not at all."""

    seconds: float | None = None
    step: int | None = None


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


def _be_the_child(work: Work, moment: Moment, pipe: int) -> None:
    status = 99
    try:
        os.dup2(pipe, 1)
        os.dup2(pipe, 2)
        sys.stdout = open(1, "w", encoding="utf-8", closefd=False)  # noqa: SIM115
        sys.stderr = open(2, "w", encoding="utf-8", closefd=False)  # noqa: SIM115
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


def _steps_in_a_child(work: Work) -> int:
    """Return the steps the work takes, without doing it in this process."""
    said = run_and_kill(lambda: print(f"\nsteps {steps(work)}"), Moment())
    return int(said.out.rpartition(b"steps ")[2])
