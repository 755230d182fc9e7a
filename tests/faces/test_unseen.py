"""lemel unseen: the page over all areas, of one, and the document."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from ledger.faces.printing import cells
from tests.faces.conftest import Lemel
from tests.faces.test_bench_json_page import keys, section


@pytest.mark.parametrize("options", [(), ("ROLL",), ("--metal", "gross"), ("ROLL", "--unit", "ozt")])
def test_the_page_keeps_to_eighty_columns_and_says_who_should_read_it(
    lemel: Lemel, month: Path, options: tuple[str, ...]
) -> None:
    page = lemel("unseen", "--book", month, *options)
    assert page.status == 0
    assert [line for line in page.out.splitlines() if cells(line) > 80] == []
    assert "how much could be taken unseen: keep it with whoever answers for the metal" in " ".join(page.out.split())


def test_the_document_is_of_every_area_and_prints_the_same_bytes_again(lemel: Lemel, month: Path) -> None:
    done = lemel("unseen", "--book", month, "--json")
    assert lemel("unseen", "--book", month, "--json", "--unit", "ozt").out == done.out
    statement = {a["area"]: a for a in lemel("reconcile", "2026-10", "--book", month, "--json").json["areas"]}
    assert [a["area"] for a in done.json["areas"]] == list(statement)
    for area in done.json["areas"]:
        if area["reason"] is None:
            assert area["sigma"] == pytest.approx(statement[area["area"]]["sigma"], rel=1e-3)
            within_one = area["single"][0]["size"] / area["sigma"]
            assert 4.645 * 0.97 < within_one < 5.3  # 3 σ and 1.645 σ; where that is trivial, the running test's 3.46 σ


def test_every_key_is_explained() -> None:
    text = section("unseen")
    (answer,) = (json.loads(block.replace('"chain": "…', '"chain": "",')) for block in
                 re.findall(r"--json\n(\{.*?\n\})\n", text, re.DOTALL))  # fmt: skip
    shown: set[Any] = set(keys(answer))
    elsewhere = {"plant", "metal", "sign", "record", "chain", "seal"}
    assert shown - set(re.findall(r"`(\w+)`", text)) - elsewhere == set()


def test_a_book_without_tickets_and_an_area_that_is_none(lemel: Lemel, empty: Path) -> None:
    assert lemel("unseen", "--book", empty, "--json").json["areas"] == []
    assert lemel("unseen", "--book", empty).status == 0
    assert lemel("unseen", "NOWHERE", "--book", empty).status == 2
