"""docs/reference/statement.md names every key of the document, and no verdict is left out."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any, get_args

import pytest

from ledger.balance.judging.verdict import Verdict
from ledger.balance.months.statement import reconcile
from ledger.book.entering import enter
from ledger.book.intake import read_file
from ledger.book.opening import new_book
from ledger.book.store import reading, writing
from ledger.plant.toml_file import read_setup

ROOT = Path(__file__).parents[2]
MONTH = ROOT / "sample_books" / "month"
PAGE = (ROOT / "docs" / "reference" / "statement.md").read_text(encoding="utf-8")


def keys(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield key
            yield from keys(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from keys(inner)


def named() -> set[str]:
    """Return what the first column of the page's tables names in backticks."""
    cells = re.findall(r"^\| ([^|]+)", PAGE, re.MULTILINE)
    return {name for cell in cells for name in re.findall(r"`(\w[\w ]*)`", cell)}


@pytest.mark.parametrize("metal", ["gold", "gross"])
def test_every_key_has_a_line(metal: str, tmp_path: Path) -> None:
    book = tmp_path / "month.lemel"
    new_book(book, read_setup(MONTH / "plant.toml"), "test")
    with writing(book) as connection:
        enter(connection, read_file(str(MONTH / "tickets.jsonl")), "test")
    with reading(book) as connection:
        assert set(keys(reconcile(connection, "2026-10", metal))) - named() == set()


def test_every_verdict_has_a_line() -> None:
    assert set(get_args(Verdict)) - named() == set()
