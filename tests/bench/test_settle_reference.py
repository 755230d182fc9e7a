"""The page of the files is what their models say."""

from __future__ import annotations

from pathlib import Path

from ledger.bench.settle_reference import files_reference

PAGE = Path(__file__).parents[2] / "docs" / "reference" / "out-turn.md"


def test_the_page_is_what_the_models_say() -> None:
    assert PAGE.read_text(encoding="utf-8") == files_reference()


def test_every_key_has_a_meaning_and_a_form() -> None:
    rows = [line.split(" | ") for line in files_reference().splitlines() if line.startswith("| `")]
    assert len(rows) > 50
    assert all(len(row) == 5 and row[1].strip() and row[2].strip() for row in rows)
