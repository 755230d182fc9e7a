"""lemel position: both sides of the identity, for every metal and at any moment.

The identity is the project's definition of the metal position: places + transit + dust = own + owed − owed to us −
differences − losses − give-away − retained.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from ledger.faces.printing import cells
from tests.faces.conftest import Lemel


def total(rows: list[dict[str, Any]]) -> Fraction:
    return sum((Fraction(row["mass"]) for row in rows), Fraction(0))


@pytest.mark.parametrize("metal", ["gold", "silver", "gross"])
@pytest.mark.parametrize("at", [(), ("--at", "2026-10-10"), ("--at", "2026-10-16T08:00"), ("--at", "2026-09-01")])
def test_the_two_sides_are_equal_to_the_nanogram(lemel: Lemel, month: Path, metal: str, at: tuple[str, ...]) -> None:
    p = lemel("position", "--book", month, "--metal", metal, "--json", *at).json
    held = total(p["places"]) + total(p["transit"]) + total(p["dust"])
    answered = Fraction(p["own"]) + total(p["owed"]) - total(p["owed_to_us"]) - sum(
        (total(p[key]) for key in ("differences", "losses", "give_away", "retained")), Fraction(0)
    )  # fmt: skip
    assert held == answered == Fraction(p["held"]) == Fraction(p["answered"])
    assert p["balanced"] is True


def test_figures_worked_by_hand(lemel: Lemel, month: Path) -> None:
    p = lemel("position", "--book", month, "--json").json
    owed = [row for row in p["owed"] if row["party"] == "ALDERTON"]
    # Owed to Alderton: his list, 167.125 g, less what was billed back, 1205.61 × 1/40 (docs/worked-month.md).
    assert Fraction(owed[0]["mass"]) == Fraction("167.125") - Fraction("1205.61") / 40
    assert {row["party"]: row["mass"] for row in p["give_away"]}["PENROSE"] == "0.406388199"


def test_places_are_the_stock(lemel: Lemel, month: Path) -> None:
    stock = lemel("stock", "--book", month, "--json").json["total"]
    places = total(lemel("position", "--book", month, "--json").json["places"])
    assert places == Fraction(stock["fine"]) + Fraction(stock["estimated"])


def test_the_page_shows_every_nanogram_in_eighty_columns(lemel: Lemel, month: Path) -> None:
    done = lemel("position", "--book", month)
    p = lemel("position", "--book", month, "--json").json
    assert done.out.count(f"{int(p['held'][:-10]):,}{p['held'][-10:]}") == 2
    assert all(cells(line) <= 80 for line in done.out.splitlines())


def test_an_empty_book(lemel: Lemel, empty: Path) -> None:
    assert lemel("position", "--book", empty, "--json").json["held"] == "0.000000000"


def test_the_same_bytes_twice(lemel: Lemel, month: Path) -> None:
    assert lemel("position", "--book", month, "--json") == lemel("position", "--book", month, "--json")
