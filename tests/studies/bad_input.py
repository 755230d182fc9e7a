"""Bad input of every sort, a million times: taken, or refused in words and with nothing changed. Nothing else.

    python -m tests.studies.bad_input [--tries N] [--target T]… [--without-guide]

Each target is one sort of input. What is tried is drawn in two ways: sound input damaged in its structure, from a seed
(``bad_bytes``, ``bad_commands``, ``damage``); and, for the reading functions, input that a coverage-guided fuzzer leads
into branches not yet seen (``guided``, where atheris is installed: pip install '.[fuzz]').
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import traceback
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field
from hashlib import sha256
from importlib.util import find_spec
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory
from time import perf_counter, thread_time

from tests.studies.bad_sandbox import PATIENCE, Hung, ParsedOnce, Sandbox, not_for_ever
from tests.studies.bad_targets import Target, Targets
from tests.studies.evaluation_page import circumstances, note, table, write_section

SEED = 20261127
TRIES = 1_000_000
#: Seconds of processor time: nothing may take longer.
LONGEST = 5.0
#: Of the tries of a target that has seeds for it, so many are guided.
GUIDED = 0.2


@dataclass(slots=True)
class Found:
    """What came of the tries of one target."""

    target: str
    tries: int = 0
    guided: int = 0
    taken: int = 0
    again: int = 0
    slowest: float = 0.0
    seconds: float = 0.0
    faults: list[str] = field(default_factory=list)


def tried(target: Target, content: bytes, found: Found, keep: Path | None = None) -> None:
    """Try one input, and note what came of it; what the promise does not allow is kept, and told."""
    start, clock, queued = thread_time(), perf_counter(), _queued()
    try:
        found.taken += _attempted(target, content, found)
    except (Exception, Hung) as error:
        found.faults.append(_told(target, content, error, keep))
    took = thread_time() - start
    waited = perf_counter() - clock - took - (_queued() - queued)
    if LONGEST < waited < PATIENCE:
        found.faults.append(f"{target.name}: waits {waited:.1f} s: {content[:200]!r}")
    if took > LONGEST:
        found.faults.append(f"{target.name}: {took:.1f} s: {content[:200]!r}")
    found.slowest = max(found.slowest, took)
    found.tries += 1


def _attempted(target: Target, content: bytes, found: Found) -> bool:
    """Try, and where it did not end try once more: for a minute the machine may have stood still."""
    try:
        with not_for_ever():
            return target.attempt(content)
    except Hung:
        found.again += 1
    with not_for_ever():
        return target.attempt(content)


def _queued() -> float:
    """Return the seconds that this thread was ready to run and others ran, where the system tells (Linux)."""
    try:
        return int(Path("/proc/thread-self/schedstat").read_text().split()[1]) / 1e9
    except OSError:
        return 0.0


def _told(target: Target, content: bytes, error: BaseException, keep: Path | None) -> str:
    last = traceback.extract_tb(error.__traceback__)[-1]
    name = f"{target.name}-{sha256(content).hexdigest()[:12]}"
    if keep is not None:
        (keep / name).write_bytes(content)
    return f"{target.name}: {type(error).__name__}: {str(error)[:300]} ({last.filename}:{last.lineno}) [{name}]"


def damaged(target: Target, tries: int, seed: int, keep: Path | None = None) -> Found:
    """Try so many inputs drawn from the seed."""
    found, start = Found(target.name), perf_counter()
    random = Random(f"{seed} {target.name}")
    for number in range(tries):
        tried(target, target.draw(random), found, keep)
        if (number + 1) % 10_000 == 0:
            note(f"{target.name}: {number + 1:,} tried, {len(found.faults)} faults")
    found.seconds = perf_counter() - start
    return found


def guided(target: str, tries: int, seed: int, keep: Path) -> Found:
    """Let the fuzzer try, in a process of its own: it ends the process, and follows every branch taken in it."""
    report = keep / f"{target}.json"
    led = [sys.executable, "-m", "tests.studies.guided", target, str(tries), str(seed), str(keep), str(report)]
    subprocess.run(led, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    return Found(**json.loads(report.read_text()))


def share(target: Target, tries: int) -> int:
    """Return how many of all tries are this target's; at least one."""
    return max(1, round(target.of_a_million * tries / 1_000_000))


def run(
    tries: int = TRIES, only: Sequence[str] = (), keep: Path | None = None, *, guide: bool = True, seed: int = SEED,
    results: Path | None = None,
) -> list[Found]:  # fmt: skip
    """Try, and return what was found, of every target or of some; what ``results`` has already is not tried again."""
    known = {found.target: found for found in _known(results)}
    led = guide and find_spec("atheris") is not None
    with TemporaryDirectory(prefix="lemel-study-", dir=_memory()) as name, ParsedOnce():
        for target in Targets(Sandbox(Path(name))).all():
            if target.name not in known and (not only or target.name in only):
                found = known[target.name] = _of_target(target, share(target, tries), led, seed, keep or Path(name))
                if results is not None:
                    with results.open("a", encoding="utf-8") as file:
                        file.write(json.dumps(asdict(found)) + "\n")
    return list(known.values())


def _of_target(target: Target, tries: int, led: bool, seed: int, keep: Path) -> Found:
    guided_tries = round(tries * GUIDED) if led and target.seeds else 0
    found = damaged(target, tries - guided_tries, seed, keep)
    if guided_tries:
        _add(found, guided(target.name, guided_tries, seed, keep))
    for fault in sorted(set(found.faults))[:20]:
        note(fault)
    note(f"{target.name}: {found.tries:,} in all, {found.taken:,} taken, {len(found.faults)} faults")
    return found


def _known(results: Path | None) -> list[Found]:
    if results is None or not results.exists():
        return []
    return [Found(**json.loads(line)) for line in results.read_text(encoding="utf-8").splitlines()]


def _memory() -> Path | None:
    return Path("/dev/shm") if Path("/dev/shm").is_dir() else None


def _add(found: Found, led: Found) -> None:
    found.tries += led.tries
    found.guided += led.tries
    found.taken += led.taken
    found.again += led.again
    found.slowest = max(found.slowest, led.slowest)
    found.seconds += led.seconds
    found.faults += led.faults


# ---- the section --------------------------------------------------------------------------------------------


def section(found: Sequence[Found], words: dict[str, str]) -> str:
    """Return the section of the page."""
    tries, led = sum(one.tries for one in found), sum(one.guided for one in found)
    faults = sum(len(one.faults) for one in found)
    what = (
        f"{tries:,} inputs of every sort that the program reads, {led:,} of them led by a coverage-guided fuzzer "
        "(atheris), the others sound input damaged in its structure: values, keys and lines changed, swapped, repeated "
        "and left out; bytes flipped, cut and put in; parts of workbooks; pages and bits of a book. Each may be taken, "
        "and then has to balance; or refused in words, with exit status 2, 3 or 4 (5 where a finding is the answer), "
        "nothing but printable characters on the terminal, every book as it was, and no file but those that the "
        f"command line names. Anything else is a fault, and so is more than {LONGEST:.0f} s of processor time, or a "
        f"wait. Faults in this run: {faults}; those that earlier runs found are mended, and kept as tests."
    )
    split = (
        "The cheap targets get most of the tries: a text is tried in microseconds, a command in milliseconds and some "
        "in seconds. Commands run in this process, by the function that the program runs, their parser built once; "
        "how often each is drawn follows from how long it takes. The program reads no proof file: seals are what it "
        "reads back from paper, and `prove` is among the command lines. A book that is damaged in a bit that its "
        "command does not read is answered from, as a sound one: `verify` is what finds it. Each target draws from a "
        "seed of its own, so that some can be run apart (`--target`, `--results`), as they were here, on a machine "
        "that others used too, and while the program was worked on: a target in which something was found was run "
        "again from its beginning when that was mended. What the fuzzer tries depends on the build it follows."
    )
    again = sum(one.again for one in found)
    if again:
        split += f" {again} had not ended after {PATIENCE} s, while the machine stood still; tried again, they did."
    rows = [
        (words[one.target], f"{one.tries:,}", f"{one.guided:,}", f"{one.taken:,}", f"{one.slowest:.2f} s",
         f"{one.seconds:,.0f} s", str(len(one.faults)))
        for one in found
    ]  # fmt: skip
    rows.append(("in all", f"{tries:,}", f"{led:,}", f"{sum(one.taken for one in found):,}",
                 f"{max(one.slowest for one in found):.2f} s", f"{sum(one.seconds for one in found):,.0f} s",
                 str(faults)))  # fmt: skip
    return "\n\n".join([
        "## Bad input", circumstances("python -m tests.studies.bad_input", SEED), what,
        table(("input", "tries", "guided", "taken", "slowest", "time", "faults"), rows), split,
    ])  # fmt: skip


def words() -> dict[str, str]:
    """Return what each target is, for the table."""
    with TemporaryDirectory(prefix="lemel-study-") as name:
        return {target.name: target.words for target in Targets(Sandbox(Path(name))).all()}


def main() -> int:
    """Run what the command line asks for; 1 where a fault was found."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0] if __doc__ else "")
    parser.add_argument("--tries", type=int, default=TRIES, help="over all targets")
    parser.add_argument("--target", action="append", default=[], help="this one only; again for another")
    parser.add_argument("--keep", type=Path, help="a folder for inputs that were found wrong")
    parser.add_argument("--results", type=Path, help="a file that what was found is added to, and gone on from")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--without-guide", action="store_true", help="no fuzzer, damage alone")
    given = parser.parse_args()
    found = run(given.tries, given.target, given.keep, guide=not given.without_guide, seed=given.seed,
                results=given.results)  # fmt: skip
    named = words()
    if {one.target for one in found} == set(named) and given.seed == SEED:
        write_section("bad-input", section(sorted(found, key=lambda one: list(named).index(one.target)), named))
    return int(any(one.faults for one in found))


if __name__ == "__main__":
    sys.exit(main())
