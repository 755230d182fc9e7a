"""Every key of the auditors' answers is explained on the page of the JSON answers."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.faces.conftest import MONTH, Lemel
from tests.faces.test_audit import COMMANDS

PAGE = (MONTH.parents[1] / "docs" / "reference" / "json.md").read_text(encoding="utf-8")

#: What every answer ends with, the metal asked for, and keys that are metals.
ELSEWHERE = {"plant", "metal", "record", "chain", "seal", "gold", "silver"}

#: Keys whose values are keyed by codes, origins or kinds of the book itself.
BY_CODE = {"by_origin", "deviations", "segregated", "waste_by_operation", "without_witness", "did",
           "rests_on",
           "contents", "as_posted", "difference", "results"}  # fmt: skip


def section(name: str) -> str:
    mark = "###" if name.startswith("audit ") else "##"
    return re.split(r"^###? ", PAGE.split(f"\n{mark} {name}\n")[1], maxsplit=1, flags=re.MULTILINE)[0]


def keys(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield key
            if key not in BY_CODE:
                yield from keys(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from keys(inner)


def explained(name: str) -> set[str]:
    words = section(name) + section("audit") if name.startswith("audit") else section(name)
    return set(re.findall(r"`(\w+)`", words))


def name_of(command: str) -> str:
    words = command.split()
    return " ".join(words[:2]) if words[0] == "audit" else words[0]


@pytest.mark.parametrize("command", COMMANDS)
def test_every_key_is_explained(lemel: Lemel, month: Path, command: str) -> None:
    answer = lemel(*command.split(), "--book", month, "--json").json
    name = name_of(command)
    counted = {"not found", "unknown lot counted", "counted where it is not recorded", "listed twice", "teams differ",
               "re-weighing difference"}  # fmt: skip
    assert sorted(set(keys(answer)) - explained(name) - ELSEWHERE - counted) == []


def test_no_key_of_an_answer_hides_which_book_it_is_of(lemel: Lemel, month: Path) -> None:
    for command in COMMANDS:
        answer = lemel(*command.split(), "--book", month, "--json").json
        assert (command, answer["record"], len(answer["chain"])) == (command, 41, 64)
