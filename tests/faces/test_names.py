"""lemel names: no name without a record of who asked, and no record of a look that was refused."""

from __future__ import annotations

import json
import re
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path
from zipfile import ZipFile

import pytest

from ledger.book import store
from ledger.faces.printing import cells
from ledger.refusals import BookUnusable
from tests.book.sample import forging
from tests.faces.conftest import Lemel
from tests.faces.test_bench_json_page import keys, section

ASKED = ("--by", "MQ", "--witness", "HB", "--reason", "rota of the press room")
NAME = "Feld"


@pytest.fixture
def book(month: Path, tmp_path: Path) -> Path:
    """A copy of the sample month: 41 records."""
    return Path(shutil.copy(month, tmp_path / "names.lemel"))


def records(book: Path) -> int:
    with closing(sqlite3.connect(book)) as connection:
        (count,) = connection.execute("SELECT count(*) FROM record").fetchone()
    return int(count)


def test_the_page_tells_the_names_the_record_and_the_cautions(lemel: Lemel, book: Path) -> None:
    done = lemel("names", "RF", "PW", "RF", *ASKED, "--book", book)
    assert (done.status, done.err) == (0, "")
    assert [line for line in done.out.splitlines() if cells(line) > 80] == []
    said = " ".join(done.out.split())
    assert "Names behind 2 codes" in said
    assert "asked by MQ, seen by HB: rota of the press room" in said
    assert re.search(r"^RF +Runa Feld, bonding and rolling \(invented\)$", done.out, re.MULTILINE)
    assert re.search(r"^PW +Petra Wynne, finishing \(invented\)$", done.out, re.MULTILINE)
    assert "local employment and data-protection law" in said
    assert "no finding about any person. Before anyone is asked, inform counsel and insurer" in said
    assert "book as of record 42" in said
    assert records(book) == 42


def test_each_look_is_recorded_and_listed_without_the_names(lemel: Lemel, book: Path) -> None:
    first = lemel("names", "RF", *ASKED, "--book", book, "--json").json
    second = lemel("names", "RF", "PW", *ASKED, "--book", book, "--json").json
    assert (first["record"], second["record"]) == (42, 43)
    assert first["names"] == [{"code": "RF", "name": "Runa Feld, bonding and rolling (invented)", "from": None}]
    listed = lemel("audit", "changes", "--book", book, "--json")
    assert listed.json["looked_up"] == [first["looked_up"], second["looked_up"]]
    assert second["looked_up"]["codes"] == ["RF", "PW"]
    page = lemel("audit", "changes", "--book", book)
    assert "RF, PW; asked by MQ, seen by HB: rota of the press room" in " ".join(page.out.split())
    assert "none since the book was opened" in page.out
    assert NAME not in page.out + listed.out
    assert lemel("verify", "--book", book).status == 0
    assert len(lemel("setup", "show", "--book", book, "--json").json["changes"]) == 1


@pytest.mark.parametrize(
    ("arguments", "status", "words"),
    [
        (("RF", "XX", *ASKED), 3, "there is no person 'XX'"),
        (("RF", *ASKED[:2], "--witness", "MQ", *ASKED[4:]), 3, "the witness is the one who asks"),
        (("RF", "--by", "XX", *ASKED[2:]), 3, "by: there is no person 'XX'"),
        (("RF", *ASKED[:2], "--witness", "XX", *ASKED[4:]), 3, "witness: there is no person 'XX'"),
        (("RF", *ASKED[:4], "--reason", " "), 3, "no reason is given"),
        (("PENROSE", *ASKED), 3, "there is no person 'PENROSE'"),
        (("RF", *ASKED[:4]), 2, "--reason"),
        (("RF", *ASKED[2:]), 2, "--by"),
        (("RF", *ASKED[:2], *ASKED[4:]), 2, "--witness"),
        (ASKED, 2, "CODE"),
    ],
)
def test_what_is_refused_tells_no_name_and_records_nothing(
    lemel: Lemel, book: Path, arguments: tuple[str, ...], status: int, words: str
) -> None:
    done = lemel("names", *arguments, "--book", book)
    assert (done.status, done.out, words in done.err) == (status, "", True)
    assert ("nothing was recorded" in done.err) is (status == 3)
    assert NAME not in done.err
    assert records(book) == 41


def test_a_locked_book(lemel: Lemel, book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(store.writing.__wrapped__, "__kwdefaults__", {"patience": 0.05})  # type: ignore[attr-defined]
    with closing(sqlite3.connect(book, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        done = lemel("names", "RF", *ASKED, "--book", book)
    assert (done.status, done.out, "being written by somebody else" in done.err) == (4, "", True)
    assert records(book) == 41


def test_a_damaged_book_tells_no_name(lemel: Lemel, book: Path) -> None:
    with forging(book) as connection:
        connection.execute("UPDATE record SET body = replace(body, '150.310 g', '150.210 g') WHERE seq = 8")
    done = lemel("names", "RF", *ASKED, "--book", book)
    assert (done.status, done.out, "the book is damaged: ticket HC-0007" in done.err) == (4, "", True)
    assert records(book) == 41


def test_a_record_that_does_not_reach_the_disk_tells_no_name(
    lemel: Lemel, book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(connection: sqlite3.Connection, path: Path) -> None:
        raise BookUnusable(f"{path}: no room", "make room")

    monkeypatch.setattr(store, "_commit", fails)
    for form in ((), ("--json",)):
        done = lemel("names", "RF", *ASKED, "--book", book, *form)
        assert (done.status, done.out) == (4, "")
    assert records(book) == 41


def test_figures_and_other_answers_stay_and_name_nobody(lemel: Lemel, book: Path, tmp_path: Path) -> None:
    reports = (("reconcile", "2026-10"), ("statement", "PENROSE", "2026-10"), ("patterns", "2026-10", "2026-10"),
               ("stock",), ("audit", "duties", "2026-10"))  # fmt: skip
    before = [lemel(*report, "--book", book, "--json").json for report in reports]
    assert lemel("names", "RF", *ASKED, "--book", book).status == 0
    for report, then in zip(reports, before, strict=True):
        now = lemel(*report, "--book", book, "--json").json
        assert NAME not in json.dumps(now)
        assert now.pop("record") == then.pop("record") + 1
        assert now.pop("chain") != then.pop("chain")
        assert now == then


def test_neither_a_name_nor_who_looked_it_up_is_in_a_pack(lemel: Lemel, book: Path, tmp_path: Path) -> None:
    assert lemel("names", "RF", *ASKED, "--book", book).status == 0
    done = lemel("pack", "2026-10", "--out", tmp_path / "pack", "--book", book)
    assert done.status == 0, done.err
    files = [file for file in (tmp_path / "pack").rglob("*") if file.is_file()]
    assert {"pack.html", "pack.xlsx", "figures.json"} <= {file.name for file in files}
    for file in files:
        for content in _contents(file):
            assert NAME.encode() not in content, file
            assert b"rota of the press room" not in content, file


def _contents(file: Path) -> list[bytes]:
    if file.suffix != ".xlsx":
        return [file.read_bytes()]
    with ZipFile(file) as parts:
        return [parts.read(name) for name in parts.namelist()]


def test_every_key_is_explained(lemel: Lemel, book: Path) -> None:
    answer = lemel("names", "RF", *ASKED, "--book", book, "--json").json
    explained = set(re.findall(r"`(\w+)`", section("names")))
    assert set(keys(answer)) - explained - {"plant", "record", "chain", "seal"} == set()
