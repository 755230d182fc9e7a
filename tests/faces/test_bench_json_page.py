"""Every key of the answers of settle, strip and sweeps is explained on the page of the JSON answers."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from typing import Any

import pytest

from tests.faces.conftest import MONTH

PAGE = (MONTH.parents[1] / "docs" / "reference" / "json.md").read_text(encoding="utf-8")
#: Keys of figures by metal, of tickets and of lines, explained in tickets.md; and those of every book's answer.
ELSEWHERE = {"gold", "silver", "record", "chain", "seal", "plant", "mass", "moisture", "content", "basis", "sd"}


def section(name: str) -> str:
    return re.split(r"^## ", PAGE.split(f"## {name}\n")[1], flags=re.MULTILINE)[0]


def keys(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield key
            yield from keys(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from keys(inner)


@pytest.mark.parametrize("name", ["bench settle", "bench strip", "bench sweeps"])
def test_every_key_is_explained(name: str) -> None:
    text = section(name)
    explained = set(re.findall(r"`(\w+)`", text))
    answers = [json.loads(block.replace('"chain": "…', '"chain": "",')) for block in
               re.findall(r"--json\n(\{.*?\n\})\n", text, re.DOTALL)]  # fmt: skip
    assert answers
    shown = {key for answer in answers for key in keys({k: v for k, v in answer.items() if k != "tickets"})}
    assert shown - explained - ELSEWHERE == set()
