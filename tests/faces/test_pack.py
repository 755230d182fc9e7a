"""lemel pack: what it writes, prints and refuses."""

from __future__ import annotations

import hashlib
import json
import subprocess
import sys
from pathlib import Path

import pytest

from ledger.faces.printing import cells
from tests.faces.conftest import MONTH, Lemel


def test_it_writes_a_pack_and_says_what_and_where(lemel: Lemel, month: Path, tmp_path: Path) -> None:
    done = lemel("pack", "2026-10", "--out", tmp_path / "p", "--book", month)
    assert (done.status, done.err) == (0, "")
    assert done.out.startswith("Month-end pack, 2026-10, not closed: gold, in g\n")
    assert "No. In gold 1 of 6 areas is short or over" in done.out
    assert "A difference is + where metal is missing." in done.out
    assert {p.name for p in (tmp_path / "p").iterdir()} == {"pack.html", "pack.xlsx", "figures.json", "seal.txt", "csv"}
    assert "2026-10 is not closed: there is no seal.\n" in (tmp_path / "p" / "seal.txt").read_text(encoding="utf-8")
    long = [line for line in done.out.splitlines() if cells(line) > 80]
    assert all(str(tmp_path) in line for line in long)


def test_json_lists_the_files_with_their_hashes_and_comes_again(lemel: Lemel, month: Path, tmp_path: Path) -> None:
    done = lemel("pack", "2026-10", "--out", tmp_path / "p", "--book", month, "--json")
    assert list(done.json) == ["plant", "period", "metal", "closed", "files", "record", "chain", "seal"]
    for file in done.json["files"]:
        content = (tmp_path / "p" / file["file"]).read_bytes()
        assert (len(content), hashlib.sha256(content).hexdigest()) == (file["bytes"], file["sha256"])
    assert lemel("pack", "2026-10", "--out", tmp_path / "p", "--book", month, "--json").out == done.out
    assert lemel("pack", "2026-10", "--out", tmp_path / "q", "--book", month, "--json").out == done.out


def test_a_closed_month_carries_its_seal(lemel: Lemel, sealed: Path, tmp_path: Path) -> None:
    told = lemel("pack", "2026-10", "--out", tmp_path / "p", "--book", sealed, "--json").json
    seal = (tmp_path / "p" / "seal.txt").read_text(encoding="utf-8").splitlines()
    assert (told["closed"], seal[0]) == (True, told["seal"])
    assert told["seal"] in json.loads((tmp_path / "p" / "figures.json").read_text(encoding="utf-8"))["seal"]


@pytest.mark.parametrize(
    ("arguments", "status", "words"),
    [
        (("2026-13", "--out", "p"), 2, "there is no period '2026-13'"),
        (("2025-10", "--out", "p"), 2, "the book holds nothing of 2025-10"),
        (("2026-10", "--out", "a/b"), 2, "there is no folder a"),
        (("2026-10",), 2, "Missing option '--out'"),
        (("2026-10", "--out", "p", "--metal", "iron"), 2, "this book keeps no iron"),
        (("2026-10", "--out", "p", "--unit", "oz"), 2, "oz is ambiguous"),
        (("2026-10", "--out", "notes"), 2, "notes holds something that is no pack"),
    ],
)
def test_what_cannot_be_is_refused_in_words_and_nothing_is_written(
    lemel: Lemel, month: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: tuple[str, ...], status: int,
    words: str,
) -> None:  # fmt: skip
    monkeypatch.chdir(tmp_path)
    (tmp_path / "notes").mkdir()
    (tmp_path / "notes" / "mine.txt").write_text("mine")
    done = lemel("pack", *arguments, "--book", month)
    assert (done.status, done.out) == (status, "")
    assert words in done.err
    assert [str(p.relative_to(tmp_path)) for p in sorted(tmp_path.rglob("*"))] == ["notes", "notes/mine.txt"]


def test_the_book_is_only_read(lemel: Lemel, month: Path, tmp_path: Path) -> None:
    book = tmp_path / "book.lemel"
    book.write_bytes(month.read_bytes())
    before = lemel("verify", "--book", book, "--json").json
    assert lemel("pack", "2026-10", "--out", tmp_path / "p", "--book", book).status == 0
    assert lemel("verify", "--book", book, "--json").json == before


def test_a_quick_command_loads_nothing_of_it() -> None:
    heavy = "numpy, scipy, matplotlib, jinja2, xlsxwriter, openpyxl, sqlite_utils"
    loaded = f"[m for m in '{heavy}'.split(', ') if m in sys.modules]"
    code = f"import sys; from ledger.faces.cli.commands import app_of; app_of(); print({loaded})"
    here = MONTH.parents[1]
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=here)
    assert done.stdout.strip() == "[]"
