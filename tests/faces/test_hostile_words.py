"""Words that nobody means, on the command line, at the bench and in a damaged book: told, and nothing else."""

from __future__ import annotations

import io
import json
import shutil
import sqlite3
import sys
from pathlib import Path

import pytest

from ledger.faces.cli import stock
from tests.book.sample import forging, sample_book
from tests.faces.conftest import Done, Lemel
from tests.studies.bad_sandbox import ParsedOnce

#: One of each: moves a cursor, turns the order, ends a line, is not seen; then numbers, length, and nothing.
ODD = ("\x1b[2J\x9b31m\x7f", "\u202e12 g", "\u2028\u200b\ufeff\U000e0041", "a\nb", "A\r\nB", "\U0001f600", "9" * 5_000,
       "1e999999999", "x" * 1_000_000, "")  # fmt: skip
COMMANDS = (
    ("lot", "{}"), ("stock", "--area", "{}"), ("stock", "--at", "{}"), ("stock", "--unit", "{}"), ("{}",), ("--{}",),
    ("stock", "--metal", "{}"), ("reconcile", "{}"), ("causes", "{}", "ROLL"), ("causes", "2026-10", "{}"),
    ("setup", "{}"), ("trend", "{}"), ("patterns", "{}", "{}"), ("prove", "{}"), ("prove", "HC-0007", "--seal", "{}"),
    ("rates", "{}"),
    ("verify", "--quick", "--seal", "{}"), ("trace", "{}"), ("trace", "AN-1012", "--depth", "{}"),
    ("statement", "{}", "{}"), ("enter", "{}"), ("enter", "{}.jsonl"), ("audit", "ticket", "{}"),
    ("write-off", "ROLL", "{}", "--by", "MQ", "--cause", "{}", "--evidence", "{}", "--reason", "{}"),
    ("close", "2026-10", "--by", "{}", "--with", "{}"),
    ("close", "2026-10", "--by", "MQ", "--with", "HB", "--note", "{}"),
    ("ticket", "{}"), ("ticket", "move", "--by", "RF", "--lot", "{}", "--mass", "{}"),
    ("ticket", "receive", "--by", "RF", "--lot", "{}", "--mass", "1.0 g"), ("ticket", "--again", "{}"),
    ("audit", "lender", "NBM", "--price", "{}"), ("audit", "lender", "NBM", "--facility", "{}"),
    ("audit", "sample", "lots", "--size", "{}", "--seed", "{}"), ("audit", "event", "{}", "{}"),
    ("bench", "charge", "{}", "12K"), ("bench", "layup", "{}"), ("bench", "reduce", "roll", "{}", "{}"),
    ("bench", "strip", "--sample", "{}", "--residue", "{}"), ("enter", "--template", "{}"),
    ("copy-out", "--what", "{}"),
)  # fmt: skip


@pytest.fixture(scope="module")
def here(month: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("words")
    shutil.copy(month, folder / "month.lemel")
    return folder


def sound(done: Done) -> None:
    assert done.status in (0, 2, 3), done.err[-300:]
    assert all(line.isprintable() for line in (done.out + done.err).split("\n"))
    assert len(done.err) < 20_000


@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
def test_odd_words_are_told_as_they_can_be_printed(
    lemel: Lemel, here: Path, command: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(here)
    before = (here / "month.lemel").read_bytes()
    with ParsedOnce():
        for word in ODD:
            monkeypatch.setattr(sys, "stdin", io.StringIO(""))
            sound(lemel(*(part.replace("{}", word) for part in command)))
    assert [path.name for path in here.iterdir()] == ["month.lemel"]
    assert (here / "month.lemel").read_bytes() == before


@pytest.mark.parametrize("command", [("lot", "{}"), ("prove", "{}"), ("reconcile", "{}"), ("stock", "--book", "{}")])
def test_an_argument_that_is_no_text_is_refused(lemel: Lemel, here: Path, command: tuple[str, ...]) -> None:
    done = lemel(*(part.replace("{}", "caf\udce9") for part in command))
    assert (done.status, "is not UTF-8" in done.err) == (2, True)


def test_the_number_of_a_reading_with_too_many_digits_is_asked_again(
    lemel: Lemel, month: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Found by the study of bad input: Python turns no text of more than 4,300 digits into a number."""
    book = shutil.copy(month, tmp_path / "bench.lemel")
    monkeypatch.setattr(sys, "stdin", io.StringIO("9" * 5_000 + "\n1\n"))
    done = lemel("ticket", "--again", "HC-0012", "--mass", "99.98 g", "--reason", "draught", "--book", book)
    assert done.status in (0, 3), done.err[-500:]


def test_a_table_that_is_not_utf8_is_set_aside(lemel: Lemel, empty: Path, tmp_path: Path) -> None:
    """Found by the study of bad input: the header's own bytes could not be written."""
    (tmp_path / "latin.csv").write_bytes("ticket,kind,größe\nM-1,move,1\n".encode("latin-1"))
    aside = tmp_path / "aside.jsonl"
    done = lemel("enter", tmp_path / "latin.csv", "--book", empty, "--set-aside", aside)
    assert (done.status, "not UTF-8" in done.err) == (5, True)
    assert "gr" in aside.read_text(encoding="utf-8")


def test_half_a_character_is_set_aside_as_it_was_given(lemel: Lemel, empty: Path, tmp_path: Path) -> None:
    """Found by the study of bad input: JSON can name half of a pair of surrogates, and no file can hold it."""
    (tmp_path / "half.jsonl").write_text('{"ticket": "M-1", "kind": "void", "note": "11\\ud800.38"}\n')
    aside = tmp_path / "aside.jsonl"
    assert lemel("enter", tmp_path / "half.jsonl", "--book", empty, "--set-aside", aside).status == 5
    assert json.loads(aside.read_text(encoding="utf-8"))["ticket"]["note"] == "11\ud800.38"


def test_what_cannot_be_set_aside_leaves_nothing(
    lemel: Lemel, empty: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> str:
        raise OSError(28, "No space left on device")

    (tmp_path / "bad.jsonl").write_text('{"ticket": "M-1"}\n')
    monkeypatch.setattr("ledger.book.intake.set_aside.set_aside_line", full)
    aside = tmp_path / "aside.jsonl"
    assert lemel("enter", tmp_path / "bad.jsonl", "--book", empty, "--set-aside", aside).status == 2
    assert not aside.exists()


@pytest.mark.parametrize("text", ["a,b\n", "area,lot,gross\n\"a\nb", "area,lot,gross\n" + "x" * 200_000, "\0", ""])
def test_a_worksheet_that_does_not_read_is_refused(lemel: Lemel, month: Path, tmp_path: Path, text: str) -> None:
    (tmp_path / "found.csv").write_text(text)
    done = lemel("audit", "evaluate", "lots", tmp_path / "found.csv", "--seed", "1", "--size", "2", "--book", month)
    assert done.status in (2, 3)
    assert " → " in done.err


# ---- a book that is damaged -------------------------------------------------------------------------------------


def _damaged(folder: Path, sql: str) -> Path:
    book = sample_book(folder)
    with forging(book) as connection:
        connection.execute(sql)
    return book


@pytest.mark.parametrize(("sql", "command"), [
    ("UPDATE setup_version SET document = replace(document, ':', ',')", ("stock",)),
    ("UPDATE setup_version SET document = replace(document, ':', ',')", ("reconcile", "2026-11")),
    ("UPDATE setup_version SET document = '[]'", ("setup", "show")),
    ("DELETE FROM setup_version", ("position",)),
])  # fmt: skip
def test_what_cannot_be_worked_with_is_told_as_damage(
    lemel: Lemel, tmp_path: Path, sql: str, command: tuple[str, ...]
) -> None:
    done = lemel(*command, "--book", _damaged(tmp_path, sql))
    assert done.status == 4, done.err
    assert "is damaged" in done.err
    assert "lemel verify" in done.err


def test_a_fault_of_the_program_is_still_told_as_one(
    lemel: Lemel, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> None:
        raise KeyError("x")

    monkeypatch.setattr(stock, "_say_stock", broken, raising=False)
    monkeypatch.setattr("ledger.book.holdings.stock", broken)
    done = lemel("stock", "--book", sample_book(tmp_path))
    assert (done.status, "this is a bug" in done.err) == (1, True)


def test_what_a_damaged_book_holds_moves_no_cursor(lemel: Lemel, tmp_path: Path) -> None:
    book = _damaged(tmp_path, "UPDATE lot SET number = char(27) || '[2J' WHERE number = 'CL-0905'")
    for command in (("stock",), ("copy-out", "--what", "postings"), ("verify",)):
        done = lemel(*command, "--book", book)
        assert "\x1b" not in done.out + done.err
    with sqlite3.connect(book) as connection:
        assert connection.execute("SELECT count(*) FROM lot WHERE number LIKE char(27) || '%'").fetchone() == (1,)


