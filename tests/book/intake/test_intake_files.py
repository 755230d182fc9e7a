"""Which reader a file gets, and what is said when it cannot be read."""

from __future__ import annotations

import io
import sys
from pathlib import Path

import pytest

from ledger.book.intake import read_file
from ledger.refusals import WrongUsage


def test_the_suffix_chooses_the_reader(tmp_path: Path) -> None:
    for name in ("a.jsonl", "a.json", "a.JSONL"):
        (tmp_path / name).write_text('{"ticket": "M-1"}\n')
        assert [row.document for row in read_file(tmp_path / name)] == [{"ticket": "M-1"}]
    (tmp_path / "a.csv").write_text("ticket,kind,of\nM-1,reverse,M-0\n")
    assert [row.document for row in read_file(str(tmp_path / "a.csv"))] == [
        {"ticket": "M-1", "kind": "reverse", "of": "M-0"}
    ]


def test_a_dash_is_standard_input(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(b'{"ticket": "M-1"}\n{')))
    sound, bad = read_file("-")
    assert sound.document == {"ticket": "M-1"}
    assert str(bad.faults[0]).startswith("standard input:2: ")


@pytest.mark.parametrize("name", ["missing.jsonl", "folder.csv", "notes.txt", "bare"])
def test_a_file_that_cannot_be_read_is_refused_before_any_row(tmp_path: Path, name: str) -> None:
    (tmp_path / "folder.csv").mkdir()
    (tmp_path / "notes.txt").write_text("x")
    with pytest.raises(WrongUsage) as caught:
        read_file(tmp_path / name)
    assert caught.value.faults[0].mend
