"""Every trouble planted in the sample year is named: by its family, and with the right ticket, lot, scale or party.

The year is simulated by sample_books/make_year.py, which knows the truth and nothing of the ledger.
"""

from __future__ import annotations

import json
import sqlite3
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from ledger.book.store import reading
from ledger.causes.answer import causes

TRUTH = json.loads((Path(__file__).parents[2] / "sample_books/year/truth.json").read_text(encoding="utf-8"))
TROUBLES = {trouble["id"]: trouble for trouble in TRUTH["troubles"]}
#: Months asked about, where that is not the one in which the trouble first shows.
ASKED = {"T01": "2026-05", "T06": "2026-04"}
#: Below this share nothing is called named.
NAMED = 0.5
#: Planted too small to stand out among the month's nine hundred differences (truth.json: 4.1 σ; seen at 3.5): it is to
#: be the first cause named beside chance when its area is asked about.
FAINT = {"T21"}


#: What hides until an assay, a clean-out or a settlement shows it: the answer says what would have shown it sooner.
HIDDEN = {"estimate", "settlement", "substituted"}


@pytest.fixture(scope="module")
def answers(year_book: Path) -> Any:
    with reading(year_book) as connection:
        yield cache(lambda period: _of(connection, period))


def _of(connection: sqlite3.Connection, period: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = causes(connection, period, None)["causes"]
    return found


def _about(cause: dict[str, Any], trouble: dict[str, Any]) -> bool:
    for name in ("scale", "party"):
        if name in trouble:
            return bool(cause["what"].get(name) == trouble[name])
    if trouble["family"] == "estimate":
        return trouble["area"] in cause["areas"]
    return bool(set(cause["tickets"]) & set(trouble["tickets"]) or set(cause["lots"]) & set(trouble["lots"]))


@pytest.mark.parametrize("trouble", sorted(TROUBLES.keys() - FAINT))
def test_each_planted_trouble_is_named(trouble: str, answers: Any) -> None:
    told = TROUBLES[trouble]
    found = answers(ASKED.get(trouble, told["visible"]["month"]))
    by_rank = {cause["rank"]: cause for cause in found}
    hits = [c for c in found if c["family"] == told["family"] and _about(c, told)]
    assert hits, [c["cause"] for c in found[:6]]
    best = hits[0]
    together = best["share"] + sum(by_rank[rank]["share"] for rank in best["inseparable_from"])
    assert together > NAMED
    assert (best["earlier"] is not None) == (told["family"] in HIDDEN)


@pytest.mark.parametrize("trouble", sorted(FAINT))
def test_a_faint_trouble_is_the_first_that_is_thought_of(trouble: str, year_book: Path) -> None:
    told = TROUBLES[trouble]
    with reading(year_book) as connection:
        found = causes(connection, told["visible"]["month"], told["area"])["causes"]
    first = next(c for c in found if c["family"] != "chance")
    assert (first["family"], first["lots"]) == (told["family"], told["lots"])


def test_a_month_without_trouble_is_chance(answers: Any) -> None:
    """January: the refiner's bias is not yet to be seen, and nothing else was planted."""
    assert answers("2026-01")[0]["family"] == "chance"


def test_the_answer_says_the_same_each_time(year_book: Path) -> None:
    with reading(year_book) as connection:
        assert causes(connection, "2026-02", "PRESS") == causes(connection, "2026-02", "PRESS")
