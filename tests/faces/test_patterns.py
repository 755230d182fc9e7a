"""lemel patterns: the page and the document, by code, with their cautions."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from ledger.faces.printing import cells
from tests.book.plants import PLANT, Book
from tests.causes.rolled import documents
from tests.faces.conftest import MONTH, Lemel
from tests.faces.test_bench_json_page import keys, section

ROOT = MONTH.parents[1]
#: Nobody's name may stand on the page.
NAMED = PLANT.replace('code = "ONLY"\n', 'code = "ONLY"\nname = "Wilmot Crake"\n')


def filed(folder: Path, kept: float) -> Path:
    path = folder / "rolled.lemel"
    path.write_bytes(Book(documents(kept=kept), NAMED).connection.serialize())
    return path


@pytest.mark.parametrize("kept", [0.0, 0.2])
def test_the_page_is_by_code_keeps_to_eighty_columns_and_ends_with_its_cautions(
    lemel: Lemel, tmp_path: Path, kept: float
) -> None:
    page = lemel("patterns", "2026-10", "2026-10", "--book", filed(tmp_path, kept))
    assert page.status == 0
    assert [line for line in page.out.splitlines() if cells(line) > 80] == []
    said = " ".join(page.out.split())
    assert ("worker ONLY in roll: 0.1" in said or "worker ONLY in roll: 0.2" in said) is (kept > 0)
    assert ("Nothing stands out" in said) is (kept == 0)
    assert "local employment and data-protection law" in said
    assert "no finding about any person. Before anyone is asked, inform counsel and insurer: notice periods" in said
    assert "Crake" not in page.out


def test_the_document_prints_the_same_bytes_again_and_knows_no_unit(lemel: Lemel, tmp_path: Path) -> None:
    book = filed(tmp_path, 0.2)
    done = lemel("patterns", "2026-10", "2026-10", "--book", book, "--json")
    assert lemel("patterns", "2026-10", "2026-10", "--book", book, "--json", "--unit", "ozt").out == done.out
    assert [p["level"] for p in done.json["patterns"]] == ["ONLY"]
    assert "Crake" not in done.out


def test_every_key_is_explained(lemel: Lemel, tmp_path: Path) -> None:
    done = lemel("patterns", "2026-10", "2026-10", "--book", filed(tmp_path, 0.2), "--json").json
    text = section("patterns")
    (answer,) = (json.loads(block.replace('"chain": "…', '"chain": "",')) for block in
                 re.findall(r"--json\n(\{.*?\n\})\n", text, re.DOTALL))  # fmt: skip
    shown: set[Any] = {*keys(done), *keys(answer)}
    elsewhere = {"plant", "metal", "sign", "record", "chain", "seal"}
    assert shown - set(re.findall(r"`(\w+)`", text)) - elsewhere == set()


def test_called_wrongly(lemel: Lemel, tmp_path: Path, empty: Path) -> None:
    book = filed(tmp_path, 0.0)
    for wrong in (("2026-11", "2026-10"), ("2026-1", "2026-10"), ("2025-01", "2025-02")):
        assert lemel("patterns", *wrong, "--book", book).status == 2
    assert lemel("patterns", "2026-10", "2026-10", "--book", empty).status == 2


def test_patterns_are_in_no_pack_and_in_no_other_command() -> None:
    """Never in the pack: but for the command itself nothing in the faces reads them.

    A picture of loss by shift and machine takes the table of tickets that they begin with, and no more.
    """
    using = [path.relative_to(ROOT / "ledger").as_posix() for path in (ROOT / "ledger" / "faces").rglob("*.py")
             if "causes.patterns" in path.read_text("utf-8").replace("causes.patterns.tickets", "")]  # fmt: skip
    assert using == ["faces/cli/patterns.py"]
