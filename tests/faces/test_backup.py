"""lemel backup: the command, its words, its JSON and its exit status."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from hashlib import sha256
from pathlib import Path

import pytest

from tests.faces.conftest import MONTH, Lemel


def test_in_words(lemel: Lemel, sealed: Path, tmp_path: Path) -> None:
    to = tmp_path / "copy.lemel"
    done = lemel("backup", to, "--book", sealed)
    assert (done.status, done.err) == (0, "")
    said, verified = (" ".join(out.split()) for out in (done.out, lemel("verify", "--book", to).out))
    assert said.startswith(f"{sealed} backed up to {to}: 42 records checked every page ")
    assert said.endswith(f"{verified[verified.index('chain ', 60):]} SHA-256 {sha256(to.read_bytes()).hexdigest()}")


def test_as_json(lemel: Lemel, sealed: Path, tmp_path: Path) -> None:
    to = tmp_path / "copy.lemel"
    told = lemel("backup", to, "--book", sealed, "--json").json
    verified = lemel("verify", "--book", to, "--json").json
    assert {key: told[key] for key in ("record", "chain", "seal")} == {
        key: verified[key] for key in ("record", "chain", "seal")
    }
    assert (told["to"], told["replaced"], told["sha256"]) == (str(to), None, sha256(to.read_bytes()).hexdigest())
    assert lemel("backup", to, "--replace", "--book", sealed, "--json").json["replaced"] == told["record"]


def test_a_name_that_is_taken_is_called_wrongly(lemel: Lemel, month: Path, tmp_path: Path) -> None:
    to = tmp_path / "copy.lemel"
    to.write_text("mine")
    done = lemel("backup", to, "--book", month)
    assert (done.status, done.out, to.read_text()) == (2, "", "mine")
    assert "is there already" in done.err


def test_a_damaged_book_is_not_copied(lemel: Lemel, sealed: Path, tmp_path: Path) -> None:
    with closing(sqlite3.connect(sealed, isolation_level=None)) as connection:
        connection.execute("DROP TRIGGER record_no_delete")
    done = lemel("backup", tmp_path / "copy.lemel", "--book", sealed)
    assert (done.status, "not sound, and no copy was kept" in done.err) == (4, True)
    assert not (tmp_path / "copy.lemel").exists()


@pytest.mark.parametrize("command", [("stock",), ("reconcile", "2026-10"), ("verify",)])
def test_a_copy_answers_as_the_book_does(lemel: Lemel, month: Path, tmp_path: Path, command: tuple[str, ...]) -> None:
    to = tmp_path / "copy.lemel"
    assert lemel("backup", to, "--book", month).status == 0
    assert lemel(*command, "--json", "--book", to).out == lemel(*command, "--json", "--book", month).out


def test_back_from_a_copy_and_on_with_the_work(lemel: Lemel, month: Path, tmp_path: Path) -> None:
    """The book is lost after the twentieth ticket; the copy of the tenth comes back, and the rest is entered again."""
    lines = (MONTH / "tickets.jsonl").read_text(encoding="utf-8").splitlines(keepends=True)
    parts = [tmp_path / f"{n}.jsonl" for n in (10, 20, 40)]
    for part in parts:
        part.write_text("".join(lines[: int(part.stem)]), encoding="utf-8")
    book, copy = tmp_path / "works.lemel", tmp_path / "copy.lemel"
    assert lemel("new", book, "--plant", MONTH / "plant.toml").status == 0
    assert lemel("enter", parts[0], "--book", book).status == 0
    assert lemel("backup", copy, "--book", book).status == 0
    assert lemel("enter", parts[1], "--book", book).status == 0
    book.unlink()
    assert lemel("backup", book, "--book", copy).status == 0
    assert "recorded 10, already there 10" in lemel("enter", parts[1], "--book", book).out
    assert lemel("enter", parts[2], "--book", book).status == 0
    assert lemel("verify", "--book", book).status == 0
    there, here = (lemel("reconcile", "2026-10", "--json", "--book", b).json for b in (month, book))
    for answer in (there, here):
        del answer["chain"]
    assert there == here
