"""The reference of the set-up is what the models say."""

from __future__ import annotations

import re
from pathlib import Path

from pydantic import BaseModel

from ledger.plant.reading import TABLES
from ledger.plant.reference import setup_reference
from ledger.plant.site import Plant

REFERENCE = Path(__file__).parents[2] / "docs" / "reference" / "setup.md"


def test_the_page_is_what_the_models_say() -> None:
    assert REFERENCE.read_text(encoding="utf-8") == setup_reference()


def test_every_table_and_key_is_on_the_page_with_a_meaning_and_a_form() -> None:
    sections = re.split(r"^## ", setup_reference(), flags=re.MULTILINE)[1:]
    by_title = {section.splitlines()[0]: section for section in sections}
    models: dict[str, type[BaseModel]] = {
        "[plant]": Plant,
        **{f"[[{table}]]": model for table, model in TABLES.items()},
    }
    for title, model in models.items():
        rows = re.findall(r"^\| `(\w+)` \| ([^|]+) \| ([^|]+) \| ([^|]*) \| ([^|]+) \|$", by_title[title], re.MULTILINE)
        keys = {row[0] for row in rows}
        assert keys == {info.alias or name for name, info in model.model_fields.items()}
        assert all(row[1].strip() != "None" and row[4].strip() for row in rows)


def test_what_is_required_is_what_the_interface_requires() -> None:
    required: dict[str, set[str]] = {}
    title = ""
    for line in setup_reference().splitlines():
        title = line[3:] if line.startswith("## ") else title
        if line.endswith("| required |") and title.startswith("["):
            required.setdefault(title.strip("[]"), set()).add(line.split("`")[1])
    coded = [
        "period",
        "area",
        "operation",
        "scale",
        "method",
        "alloy",
        "clad",
        "class",
        "bin",
        "container",
        "party",
        "person",
    ]
    expected = {table: {"code"} for table in coded}
    expected |= {"plant": {"name", "metals"}, "rate": {"operation"}, "fixing": {"metal", "date", "per", "amount"}}
    expected["operation"] |= {"composition"}
    expected["scale"] |= {"division"}
    expected["party"] |= {"role"}
    expected["period"] |= {"ends"}  # a listed period without an end would be none
    assert required == expected
