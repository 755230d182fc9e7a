"""The sample year against its truth: every planted trouble of 3 σ or more is flagged, and nothing else but by chance.

sample_books/make_year.py planted the troubles and knows nothing of the ledger. `SEEN` says where each is to be seen in
the month-end statements in gold, `BY_CHANCE` what else is flagged, and why. A flag that stands in neither fails the
test, and so does one that is gone.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from statistics import NormalDist
from typing import Any

import pytest

from ledger.balance.months.statement import reconcile
from ledger.book.entering import enter
from ledger.book.intake import read_file
from ledger.book.opening import new_book
from ledger.book.store import reading, writing
from ledger.plant.toml_file import read_setup
from tests.balance.conftest import MONTHS, YEAR

Statements = dict[str, dict[str, Any]]

#: By trouble, the flags that show it, its own month first: what, where, which way.
SEEN = {
    "T01": "2026-12 refiner EDDLE short | 2026-05 refiner EDDLE short | 2026-06 refiner EDDLE short | "
           "2026-07 refiner EDDLE short | 2026-08 refiner EDDLE short | 2026-09 refiner EDDLE short | "
           "2026-10 refiner EDDLE short | 2026-11 refiner EDDLE short",
    "T02": "2026-02 area DISPATCH short",
    "T03": "2026-02 ticket HC-000842 over",
    "T04": "2026-03 ticket HC-001307 short | 2026-03 area FINISH short",
    "T05": "2026-03 area VAULT short",
    "T06": "2026-04 area PRESS over | 2026-04 area ASSEM short | 2026-04 move PRESS ASSEM short | "
           "2026-04 move PRESS FINISH short | 2026-04 move PRESS SCRAP short | 2026-04 move ROLL PRESS over | "
           + " | ".join(f"2026-04 ticket HC-00{n} over" for n in (
               1857, 1963, 1972, 1989, 2006, 2086, 2110, 2113, 2131, 2172, 2195, 2196)),
    "T07": "2026-04 area MELT short | 2026-04 assay HC-002064 short | 2026-04 assay HC-002255 short | "
           "2026-05 area MELT short | 2026-05 assay HC-002401 short | 2026-05 assay HC-002443 short | "
           "2026-05 assay HC-002634 short | 2026-05 assay HC-002816 short",
    "T08": "2026-07 area DRAW short | 2026-10 area DRAW short",
    "T09": "2026-05 ticket HC-002597 short",
    "T10": "2026-06 assay HC-003122 over | 2026-06 assay HC-003211 short | 2026-06 assay HC-003227 short | "
           "2026-06 area ROLL short",
    "T11": "2026-06 area DISPATCH short",
    "T12": "2026-07 ticket HC-003714 over",
    "T13": "2026-07 area SCRAP short",
    "T14": "2026-08 area VAULT short",
    "T15": "2026-08 move DRAW ASSEM short",
    "T16": "2026-09 dust FINISH look",
    "T17": "2026-09 area ASSEM short | 2026-09 area FINISH over",
    "T18": "2026-10 area MELT short | 2026-10 assay HC-005561 short | 2026-10 assay HC-005706 short | "
           "2026-11 area MELT short | 2026-11 assay HC-005806 short | 2026-11 assay HC-005839 short",
    "T19": "2026-10 area SCRAP over | 2026-11 area SCRAP short",
    "T20": "2026-11 move DRAW ASSEM short | 2026-11 area ASSEM short | 2026-11 area DISPATCH short",
    "T21": "2026-11 assay HC-005847 over",
    "T22": "2026-12 ticket HC-006544 over",
}  # fmt: skip

#: Troubles that their own month cannot show: each taking is 2.6 to 3.8 σ of a month's balance. The file says so:
#: "in the balance only over months". The second month by itself, and Page's sum since May, find it.
ONLY_OVER_MONTHS = {"T08": "2026-05"}

#: Flags that follow from no planted trouble: the same stand in the year without any (`test_honest_year`).
BY_CHANCE = {
    "2026-02 ticket HC-000721 over": "its loss",
    "2026-03 ticket HC-001667 short": "its loss",
    "2026-05 ticket HC-002400 short": "its loss",
    "2026-05 ticket HC-002545 over": "its loss",
    "2026-03 area BOND over": "S-MELT drew -2.1 σ at its calibration of February, S-BOND +1.4",
    "2026-05 move MELT DRAW over": "S-MELT drew -2.9 σ at its calibration of May",
    "2026-06 move MELT SCRAP over": "the same calibration",
    "2026-07 move MELT SCRAP over": "the same calibration",
    "2026-09 assay HC-004828 short": "slag SL-0077 was estimated at 0.198 g; it settled at 0.311 g",
}

#: Chance that a normal residual lies beyond the action level, and that fewer than so many flags are its doing.
BEYOND, SURE = 2 * NormalDist().cdf(-3), 0.999


def flags(statements: Statements, verdicts: tuple[str, ...]) -> set[str]:
    found = set()
    for month, statement in statements.items():
        each = [
            *((a["verdict"], "area", a["area"]) for a in statement["areas"]),
            *((a["dust"]["verdict"], "dust", a["area"]) for a in statement["areas"]),
            *((t["verdict"], "ticket", t["ticket"]) for t in statement["tickets"]),
            *((m["verdict"], "move", m["from"], m["to"]) for m in statement["moves"]),
            *((r["verdict"], "receipt", r["party"], r["area"]) for r in statement["receipts"]),
            *((a["verdict"], "assay", a["ticket"]) for a in statement["assays"]),
            *((r["verdict"], "refiner", r["party"]) for r in statement["refiners"]),
        ]
        found |= {" ".join((month, *what, verdict)) for verdict, *what in each if verdict in verdicts}
    return found


def seen(trouble: str) -> set[str]:
    return set(SEEN[trouble].split(" | "))


@pytest.fixture(scope="module")
def troubles() -> dict[str, dict[str, Any]]:
    told = json.loads((YEAR / "truth.json").read_text(encoding="utf-8"))["troubles"]
    return {trouble["id"]: trouble for trouble in told}


@pytest.fixture(scope="module")
def flagged(year_statements: Statements) -> set[str]:
    return flags(year_statements, ("short", "over"))


def test_all_troubles_are_large_enough_and_in_the_table(troubles: dict[str, dict[str, Any]]) -> None:
    assert all(t["sigmas"] is None or t["sigmas"] >= 3 for t in troubles.values())
    assert troubles.keys() == SEEN.keys()


@pytest.mark.parametrize("trouble", SEEN)
def test_trouble_is_flagged(trouble: str, year_statements: Statements) -> None:
    assert seen(trouble) <= flags(year_statements, ("short", "over", "look"))


@pytest.mark.parametrize("trouble", SEEN)
def test_trouble_is_flagged_in_its_own_month(trouble: str, troubles: dict[str, dict[str, Any]]) -> None:
    visible = troubles[trouble]["visible"]
    if trouble in ONLY_OVER_MONTHS:
        assert visible["month"] == ONLY_OVER_MONTHS[trouble]
        assert "only over months" in visible["how"]
    else:
        assert any(flag.startswith(visible["month"]) for flag in seen(trouble))


def test_nothing_else_is_flagged(flagged: set[str]) -> None:
    planted = set().union(*map(seen, SEEN))
    assert flagged - planted - BY_CHANCE.keys() == set()
    assert BY_CHANCE.keys() <= flagged


def test_chance_flags_are_no_more_than_chance(year_statements: Statements) -> None:
    """Those with a cause of their own aside (one scale's error seen by several tests)."""
    lines = (YEAR / "tickets.jsonl").read_text(encoding="utf-8").splitlines()
    work = {t.get("job", t["ticket"]) for t in map(json.loads, lines) if t["kind"] == "work"}
    tests = {
        "area": sum(len(s["areas"]) for s in year_statements.values()),
        "move": sum(len(s["moves"]) for s in year_statements.values()),
        "assay": sum(json.loads(line)["kind"] == "assay" for line in lines),
        "ticket": len(work),
    }
    for sort, n in tests.items():
        by_chance = {f for f, why in BY_CHANCE.items() if f.split()[1] == sort and "the same" not in why}
        assert len(by_chance) <= at_most(n), (sort, n)


def test_looks_are_no_more_than_chance(year_statements: Statements) -> None:
    """Beyond 2 σ by chance: 4.3 % of the area-months that no trouble touches."""
    touched = {(f.split()[0], f.split()[2]) for f in set().union(*map(seen, SEEN)) if f.split()[1] == "area"}
    touched |= {("2026-04", "SCRAP"), ("2026-04", "FINISH"), ("2026-05", "LAB"), ("2026-06", "DRAW"),
                ("2026-08", "DRAW")}  # fmt: skip
    untouched = [(m, a["area"], a["verdict"]) for m, s in year_statements.items() for a in s["areas"]
                 if (m, a["area"]) not in touched]  # fmt: skip
    looks = [each for each in untouched if each[2] == "look"]
    assert len(looks) <= at_most(len(untouched), 2 * NormalDist().cdf(-2) - BEYOND), looks


def at_most(n: int, p: float = BEYOND) -> int:
    """Return the number of successes in n trials that is not exceeded with probability `SURE`."""
    term = total = (1 - p) ** n
    k = 0
    while total < SURE:
        k += 1
        term *= (n - k + 1) / k * p / (1 - p)
        total += term
    return k


@pytest.mark.study
def test_honest_year(tmp_path: Path) -> None:
    """The same year without troubles: what is flagged there is chance, as often as chance."""
    script = YEAR.parent / "make_year.py"
    subprocess.run([sys.executable, str(script), "--honest", str(tmp_path)], check=True, timeout=60)
    book = tmp_path / "honest.lemel"
    new_book(book, read_setup(tmp_path / "plant.toml"), "test")
    with writing(book) as connection:
        enter(connection, read_file(tmp_path / "tickets.jsonl"), "test")
    with reading(book) as connection:
        honest = {month: reconcile(connection, month) for month in MONTHS}
    found = flags(honest, ("short", "over"))
    assert {f for f in found if f.split()[1] in ("area", "dust", "receipt", "refiner")} == {"2026-03 area BOND over"}
    assert len(found) <= len(BY_CHANCE) + 2
