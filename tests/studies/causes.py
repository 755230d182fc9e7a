"""How well causes are named: `python -m tests.studies.causes [ROW…] [--runs N] [--show]`.

Months of an invented plant of thirteen areas and some 580 tickets (tests/studies/fault_worlds, after
sample_books/year_maker, which knows the truth and nothing of the ledger), one seed each, with faults planted at random
places. Of a single fault the area that shows it is asked about, the whole plant where there are several or none.
*Right*: first, or in the first group declared inseparable, with the right ticket, lot, scale, operation, party or, of
dust and of what an area loses bit by bit, area. A mark is met unless the 95 % interval (Wilson 1927) lies wholly beyond
it. Without ROW all rows are run. Answers are kept, so that rows may also be run one at a time: when those of the
present code are there for every row, the section is written.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path
from tempfile import gettempdir

from tests.studies.causes_page import print_row, section
from tests.studies.causes_runs import ROWS, Outcome, Row, outcomes_of
from tests.studies.evaluation_page import note, write_section

COMMAND = "python -m tests.studies.causes"
#: Where answers are kept, a file a row: first of which code they are, then one JSON document a line.
KEPT = Path(gettempdir()) / "causes-study"
_ENGINE = Path(__file__).resolve().parents[2] / "ledger"


def run(
    rows: Sequence[str] = (), runs: int | None = None, *, processes: int | None = None, kept: Path = KEPT
) -> dict[str, list[Outcome]]:
    """Run rows (all), each with so many answers (as many as the page has), and keep the answers."""
    found: dict[str, list[Outcome]] = {}
    begun = code()
    for name in rows or ROWS:
        row = ROWS[name]
        found[name] = list(_run_row(row, runs or row.runs, processes or os.cpu_count() or 1))
        _keep(name, found[name], kept, begun)
        note(print_row(row, found[name]))
    return found


def _run_row(row: Row, runs: int, processes: int) -> Iterator[Outcome]:
    seeds = range(row.seed, row.seed + row.seeds_for(runs))
    done = 0
    with ProcessPoolExecutor(processes) as pool:
        for outcomes in pool.map(partial(outcomes_of, row.name), seeds):
            yield from outcomes
            done += len(outcomes)
            if done // 50 > (done - len(outcomes)) // 50:
                note(f"{row.name}: {done} of {runs}")


def code() -> str:
    """Return a digest of the code that answers: causes, and what they rest on."""
    digest = hashlib.sha256()
    for room in ("balance", "causes"):
        for path in sorted((_ENGINE / room).rglob("*.py")):
            digest.update(path.read_bytes())
    return digest.hexdigest()


def _keep(name: str, outcomes: Sequence[Outcome], kept: Path, of: str) -> None:
    kept.mkdir(parents=True, exist_ok=True)
    lines = [{"code": of}, *(outcome.told() for outcome in outcomes)]
    text = "".join(json.dumps(line, ensure_ascii=False) + "\n" for line in lines)
    (kept / f"{name}.jsonl").write_text(text, encoding="utf-8")


def answers(name: str, kept: Path = KEPT) -> list[Outcome] | None:
    """Return a row's kept answers; None where there are none of the present code."""
    told = _told(name, kept)
    return told[1] if told and told[0] == code() else None


def _told(name: str, kept: Path) -> tuple[str, list[Outcome]] | None:
    """Return which code a row's kept answers are of, and the answers."""
    path = kept / f"{name}.jsonl"
    if not path.is_file():
        return None
    first, *lines = path.read_text(encoding="utf-8").splitlines()
    return json.loads(first)["code"], [Outcome.of(json.loads(line)) for line in lines]


def write_page(kept: Path = KEPT) -> bool:
    """Write the section where every row's answers are there in the page's number; return whether they are.

    The page says which state of the code each row is of: rows may be run one at a time, after a change of some.
    """
    told = {name: _told(name, kept) for name in ROWS}
    lacking = [name for name, one in told.items() if one is None or len(one[1]) < 0.9 * ROWS[name].runs]
    if lacking:
        note(f"the page wants answers to: {', '.join(lacking)}")
        return False
    write_section("causes", section({name: one[1] for name, one in told.items() if one}, COMMAND, _states(told)))
    return True


def _states(told: Mapping[str, tuple[str, list[Outcome]] | None]) -> dict[str, list[str]]:
    """Return the rows by the state of the code they are of."""
    found: dict[str, list[str]] = {}
    for name, one in told.items():
        if one is not None:
            found.setdefault(one[0], []).append(name)
    return found


def show(outcomes: Sequence[Outcome]) -> None:
    """Print the runs that were not right: the seed, the truth, the answer's first five."""
    for outcome in outcomes:
        if outcome.sound:
            continue
        print(f"{outcome.row} seed {outcome.seed} {outcome.error}")
        for fault in outcome.faults:
            multiple = "" if fault.multiple is None else f" {fault.multiple:.1f} σ"
            print(f"  truth  {fault.family}, {fault.mode} in {fault.area}{multiple}: {fault.says} "
                  f"{' '.join(fault.tickets[:4])}")  # fmt: skip
        for cause in outcome.causes[:5]:
            about = " ".join((*cause["tickets"][:3], *cause["lots"][:3]))
            apart = f" not apart from {cause['inseparable_from']}" if cause["inseparable_from"] else ""
            print(f"  {cause['share']:6.1%} {cause['family']:14} {cause['cause'][:90]} {about}{apart}")


def main() -> None:
    """Read the arguments and run."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("rows", nargs="*", metavar="ROW", help=", ".join(ROWS))
    parser.add_argument("--runs", type=int, help="answers in a row; default: what the page has")
    parser.add_argument("--show", action="store_true", help="print the runs that were not right")
    parser.add_argument("--processes", type=int, help="how many side by side; default: one for each core")
    parser.add_argument("--kept", type=Path, default=KEPT, metavar="FOLDER", help="where answers are kept")
    given = parser.parse_args()
    if unknown := set(given.rows) - set(ROWS):
        parser.error(f"there is no row {', '.join(sorted(unknown))}; rows are {', '.join(ROWS)}")
    found = run(given.rows, given.runs, processes=given.processes, kept=given.kept)
    if given.show:
        show([outcome for outcomes in found.values() for outcome in outcomes])
    if given.runs is None:
        write_page(given.kept)


if __name__ == "__main__":
    main()
