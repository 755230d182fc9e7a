"""lemel copy-out: records and postings, as JSON Lines and CSV."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

from tests.faces.conftest import Lemel


def test_records_hold_the_set_up_and_every_ticket(lemel: Lemel, month: Path) -> None:
    records = [json.loads(line) for line in lemel("copy-out", "--book", month).out.splitlines()]
    assert [record["kind"] for record in records] == ["setup"] + ["ticket"] * 40
    assert all(record["recorded_at"] for record in records)


def test_postings_sum_to_nothing_in_every_metal(lemel: Lemel, month: Path) -> None:
    sums: dict[str, int] = {}
    for line in lemel("copy-out", "--book", month, "--what", "postings").out.splitlines():
        posting = json.loads(line)
        sums[posting["metal"]] = sums.get(posting["metal"], 0) + int(posting["grams"].replace(".", ""))
    assert sums == {"gross": 0, "gold": 0, "silver": 0}


@pytest.mark.parametrize("what", ["records", "postings"])
def test_csv_has_as_many_rows(lemel: Lemel, month: Path, what: str) -> None:
    table = list(csv.DictReader(io.StringIO(lemel("copy-out", "--book", month, "--what", what, "--format", "csv").out)))
    assert len(table) == len(lemel("copy-out", "--book", month, "--what", what).out.splitlines())


def test_to_a_file_says_so_on_standard_error(lemel: Lemel, month: Path, tmp_path: Path) -> None:
    done = lemel("copy-out", "--book", month, "--to", tmp_path / "copy.jsonl")
    assert (done.status, done.out) == (0, "")
    assert "41 lines" in done.err
    assert (tmp_path / "copy.jsonl").read_text(encoding="utf-8") == lemel("copy-out", "--book", month).out


def test_never_writes_over_a_file(lemel: Lemel, month: Path, tmp_path: Path) -> None:
    (tmp_path / "kept").write_text("mine", encoding="utf-8")
    assert lemel("copy-out", "--book", month, "--to", tmp_path / "kept").status == 2
    assert (tmp_path / "kept").read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize("options", [("--what", "lots"), ("--format", "xml")])
def test_a_wrong_choice_is_named(lemel: Lemel, month: Path, options: tuple[str, str]) -> None:
    done = lemel("copy-out", "--book", month, *options)
    assert (done.status, done.err.startswith(f"{options[0]}: ")) == (2, True)
