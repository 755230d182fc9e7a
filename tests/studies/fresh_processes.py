"""Timing in fresh processes: a command from its start to its end, and a function in a process of its own."""

from __future__ import annotations

import os
import resource
import sys
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from statistics import median
from time import perf_counter, process_time
from typing import NamedTuple

ROOT = Path(__file__).resolve().parents[2]
#: The command, and the bare imports it is compared with, as a fresh interpreter runs them.
LEMEL = "import sys; sys.argv[0] = 'lemel'; from ledger.faces.cli.main import run; run()"
BARE = "import typer, pydantic, sqlite3"

#: Where peak memory is told in bytes, elsewhere in KiB.
_MAC = sys.platform == "darwin"


class Took(NamedTuple):
    """Seconds on the clock, and of the processor."""

    wall: float
    cpu: float


class Timed(NamedTuple):
    """What one fresh process took: seconds on the clock and of the processor, and its peak memory in MiB."""

    wall: float
    cpu: float
    peak: float


# ---- commands ---------------------------------------------------------------------------------------------------


def timed_python(*arguments: str) -> Took:
    """Run Python in a fresh process, with its modules compiled as an installed program's are."""
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    environment["PYTHONPATH"] = str(ROOT)
    start = perf_counter()
    null = [(os.POSIX_SPAWN_OPEN, fd, os.devnull, os.O_WRONLY, 0) for fd in (1, 2)]
    process = os.posix_spawn(sys.executable, [sys.executable, *arguments], environment, file_actions=null)
    _, status, used = os.wait4(process, 0)
    assert os.waitstatus_to_exitcode(status) == 0, arguments
    return Took(perf_counter() - start, used.ru_utime + used.ru_stime)


def timed_command(*arguments: str) -> Took:
    """Run `lemel` with some arguments in a fresh process."""
    return timed_python("-c", LEMEL, *arguments)


def in_turn(commands: Mapping[str, Callable[[int], Sequence[str]]], times: int) -> dict[str, Took]:
    """Run each command ``times`` times, all of them in turn, and return the medians.

    A command is what gives Python's arguments of a round, and prepares what they need.
    """
    taken: dict[str, list[Took]] = {name: [] for name in commands}
    for round_ in range(times):
        for name, command in commands.items():
            taken[name].append(timed_python(*command(round_)))
    return {name: middle(each) for name, each in taken.items()}


def lemel(*arguments: object) -> Callable[[int], Sequence[str]]:
    """Return a command that is the same in each round."""
    return lambda _: ("-c", LEMEL, *map(str, arguments))


def middle(taken: Sequence[Took]) -> Took:
    """Return the median of each figure."""
    return Took(median(t.wall for t in taken), median(t.cpu for t in taken))


# ---- functions --------------------------------------------------------------------------------------------------


def fresh(do: Callable[..., Took], *arguments: object) -> Timed:
    """Do it in a process of its own, so that memory and caches are its own; ``do`` returns what of it is timed."""
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
        return pool.submit(_in_child, do, arguments).result()


def _in_child(do: Callable[..., Took], arguments: tuple[object, ...]) -> Timed:
    took = do(*arguments)
    return Timed(*took, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (2**20 if _MAC else 2**10))


def middle_of(taken: Sequence[Timed]) -> Timed:
    """Return the median of each figure."""
    return Timed(*(median(each) for each in zip(*taken, strict=True)))


def clocked(do: Callable[..., object], *arguments: object) -> Took:
    """Return what something takes in this process."""
    wall, cpu = perf_counter(), process_time()
    do(*arguments)
    return Took(perf_counter() - wall, process_time() - cpu)


def together(parts: Iterable[Took]) -> Took:
    """Return what several things took together."""
    walls, cpus = zip(*parts, strict=True)
    return Took(sum(walls), sum(cpus))
