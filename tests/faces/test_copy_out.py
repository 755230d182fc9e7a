"""lemel copy-out: records and postings, as JSON Lines and CSV."""

from __future__ import annotations

import csv
import io
import json
import shutil
import subprocess
from pathlib import Path

import pytest
from openpyxl import load_workbook

from tests.book.plants import bought, lot
from tests.faces.books import filed
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


@pytest.mark.skipif(shutil.which("soffice") is None, reason="LibreOffice is not installed: soffice is not on the path")
def test_an_office_program_finds_no_formula_in_a_table(lemel: Lemel, tmp_path: Path) -> None:
    """A lot may be called anything; its name stays a name where the table is opened by a double click."""
    names = ["=1+1", "+2", "-3", "@SUM(4)"]
    lots = [lot(name, "10.0", gold="999") for name in names]
    book = filed(tmp_path, bought(1, "VAULT", *lots))
    (tmp_path / "plain.csv").write_text("\n".join(names), encoding="utf-8")
    (tmp_path / "table.csv").write_text(
        lemel("copy-out", "--book", book, "--what", "postings", "--format", "csv").out, encoding="utf-8"
    )
    kinds = _kinds_of_cells(tmp_path / "plain.csv", tmp_path / "table.csv")
    assert "f" in kinds["plain"], "so opened, it would run what is not made harmless"
    assert "f" not in kinds["table"]


def _kinds_of_cells(*tables: Path) -> dict[str, set[str]]:
    """Return the kinds of cells that LibreOffice makes of tables, where formulas in them are worked out."""
    folder = tables[0].parent
    evaluating = "CSV:44,34,76,1,,1033,false,true,false,false,false,-1,true"
    subprocess.run(["soffice", f"-env:UserInstallation={(folder / 'profile').as_uri()}", "--headless",
                    f"--infilter={evaluating}", "--convert-to", "xlsx", "--outdir", str(folder), *map(str, tables)],
                   check=True, capture_output=True, timeout=120)  # fmt: skip
    return {
        table.stem: {cell.data_type for page in load_workbook(out) for row in page.iter_rows() for cell in row}
        for table in tables
        for out in folder.glob(f"{table.stem}*.xlsx")
    }
