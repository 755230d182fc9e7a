"""The page of the commands is what the commands say."""

from __future__ import annotations

import re
from typing import Any

from typer.main import get_command

from ledger.faces.cli.commands import app_of
from ledger.faces.reference import commands_reference
from tests.faces.conftest import MONTH

PAGES = MONTH.parents[1] / "docs" / "reference"


def _commands() -> list[Any]:
    """Every command that does something, groups gone into."""
    found: list[Any] = []
    waiting: list[Any] = [get_command(app_of())]
    while waiting:
        command = waiting.pop()
        if hasattr(command, "commands"):
            waiting += command.commands.values()
        else:
            found.append(command)
    return found


def test_the_page_of_the_commands_is_what_they_say() -> None:
    assert (PAGES / "commands.md").read_text(encoding="utf-8") == commands_reference()


def test_every_command_has_an_example_and_a_meaning_for_each_option() -> None:
    sections = re.findall(r"^## (lemel .+)\n((?:(?!## ).*\n)*)", commands_reference(), re.MULTILINE)
    assert len(sections) == len(_commands())
    for name, text in sections:
        assert f"```sh\n{name}" in text
        cells = re.findall(r"^\| `.+?` \| (.*) \|$", text, re.MULTILINE)
        assert cells
        assert all(cell.strip() not in ("", "None") for cell in cells)


def test_every_answer_in_json_is_on_a_page_of_its_own() -> None:
    sections = re.findall(r"^## lemel (.+)\n((?:(?!## ).*\n)*)", commands_reference(), re.MULTILINE)
    pages = (PAGES / "json.md").read_text(encoding="utf-8") + (PAGES / "statement.md").read_text(encoding="utf-8")
    shown = [name for name, text in sections if "`--json`" in text]
    assert [name for name in shown if not re.search(rf"lemel {name}\b.* --json", pages)] == []
