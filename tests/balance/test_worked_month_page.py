"""The tables of docs/worked-month.md hold the figures of the hand-worked month, and the position those of the tool."""

import re
from pathlib import Path

import pytest

from tests.balance.hand_month import EXPECTED

PAGE = (Path(__file__).parents[2] / "docs" / "worked-month.md").read_text(encoding="utf-8")
COLUMNS = {
    "opening": "opening", "+ received": "received", "− issued": "issued", "− closing": "closing",
    "**= difference D**": "difference", "+ sweeps taken up": "sweeps", "**= gross loss G**": "gross_loss",
    "− allowed E": "allowed", "− prior period P": "prior_period", "**= unexplained U**": "unexplained",
    "take-on, outside G": "take_on",
}  # fmt: skip
ORIGINS = {"of it: work": "work", "re-weighing": "reweighing", "count": "count", "transfer": "transfer",
           "revaluation": "revaluation"}  # fmt: skip
DUST = {"H, opening": "opening", "+ accrued Σ q·E": "accrued", "− taken up": "taken", "+ trued up": "trued_up",
        "**= H, closing**": "closing"}  # fmt: skip
POSITION = {"places": "place", "+ transit": "transit", "+ dust": "dust", "own": "own", "+ owed": "owed",
            "− owed to us": "owed_to_us", "− differences": "difference", "− losses": "loss",
            "− give-away": "give_away", "− retained": "retained"}  # fmt: skip


def cells(row: str) -> list[str]:
    return [cell.strip() for cell in row.strip("|").split("|")]


def table(head: str) -> tuple[list[str], dict[str, list[str]]]:
    """Return the columns and rows of the table whose header begins so."""
    start = PAGE.index(head)
    rows = PAGE[start:].split("\n\n", 1)[0].splitlines()
    return cells(rows[0])[1:], {cells(row)[0]: cells(row)[1:] for row in rows[2:]}


def ng(text: str) -> int:
    digits = re.sub(r"[\s\u00a0\u202f]", "", text).replace("−", "-")
    whole, _, decimals = digits.partition(".")
    return int(whole + decimals.ljust(9, "0"))


@pytest.mark.parametrize("metal", ["gold", "silver", "gross"])
def test_statement(metal: str) -> None:
    areas, rows = table(f"| {metal}, g |")
    for name, key in (COLUMNS | ORIGINS).items():
        for area, text in zip(areas, rows[name], strict=True):
            figures = EXPECTED["statement"][area][metal]
            assert ng(text) == (figures["difference_from"][key] if name in ORIGINS else figures[key]), (name, area)


@pytest.mark.parametrize("metal", ["gold", "silver", "gross"])
def test_dust(metal: str) -> None:
    areas, rows = table(f"| dust, {metal}, g |")
    for name, key in DUST.items():
        for area, text in zip(areas, rows[name], strict=True):
            assert ng(text) == EXPECTED["statement"][area][metal]["dust"][key], (name, area)


def test_position() -> None:
    metals, rows = table("| 31 October 2026, g |")
    for name, key in POSITION.items():
        for metal, text in zip(metals, rows[name], strict=True):
            assert ng(text) == EXPECTED["position"][metal][key], (name, metal)
