"""lemel setup: shown as a plant.toml that says the same, changed by dated changes."""

from __future__ import annotations

from pathlib import Path

import pytest

from ledger.plant.toml_file import parse_setup, read_setup
from tests.faces.conftest import MONTH, Lemel

CHANGE = """
from = "2026-11-01T06:00"
by = "OV"
reason = "six months of counted rolling"

[[operation]]
code = "ROLLING"
loss = { gold = "0.04%" }
"""


@pytest.fixture
def change(tmp_path: Path) -> Path:
    path = tmp_path / "change.toml"
    path.write_text(CHANGE, encoding="utf-8")
    return path


def test_what_is_shown_is_the_same_set_up(lemel: Lemel, empty: Path) -> None:
    shown = lemel("setup", "show", "--book", empty)
    assert shown.status == 0
    assert parse_setup(shown.out) == read_setup(MONTH / "plant.toml")


def test_a_change_is_recorded_told_and_listed(lemel: Lemel, empty: Path, change: Path) -> None:
    done = lemel("setup", "change", change, "--book", empty)
    assert done.status == 0, done.err
    assert "0.05% → 0.04%" in done.out
    assert "1 value changed" in done.out
    shown = lemel("setup", "show", "--book", empty).out
    assert "from 2026-11-01T06:00, by OV: six months of counted rolling" in shown
    assert '"0.04%"' in shown
    document = lemel("setup", "show", "--book", empty, "--json").json
    assert document["changes"][1]["change"]["by"] == "OV"


def test_dry_run_records_nothing(lemel: Lemel, empty: Path, change: Path) -> None:
    before = lemel("setup", "show", "--book", empty, "--json").out
    assert "1 value would change" in lemel("setup", "change", change, "--book", empty, "--dry-run").out
    assert lemel("setup", "show", "--book", empty, "--json").out == before


def test_a_faulty_change_is_refused_with_its_file(lemel: Lemel, empty: Path, change: Path) -> None:
    change.write_text(CHANGE.replace("0.04%", "0.04"), encoding="utf-8")
    done = lemel("setup", "change", change, "--book", empty)
    assert (done.status, done.err.startswith(str(change))) == (3, True)
    assert done.err.splitlines()[-1] == "1 fault; nothing was recorded"


def test_assumed_values_are_all_listed(lemel: Lemel, empty: Path) -> None:
    page = lemel("setup", "show", "--assumed", "--book", empty).out
    for assumed in lemel("setup", "show", "--book", empty, "--json").json["assumed"]:
        assert assumed["key"] in page
        assert assumed["value"] in page
