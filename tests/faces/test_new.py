"""lemel new: a book from a set-up, or from a copy of another."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.faces.conftest import MONTH, Lemel


def test_says_what_was_opened_and_how_much_is_assumed(lemel: Lemel, tmp_path: Path) -> None:
    done = lemel("new", tmp_path / "a.lemel", "--plant", MONTH / "plant.toml")
    assert (done.status, done.err) == (0, "")
    assert "Harrowmere Clad Works (invented)" in done.out
    assert "6 areas" in done.out
    assert "25 values are assumed" in done.out


def test_never_writes_over_a_file(lemel: Lemel, empty: Path) -> None:
    before = empty.read_bytes()
    done = lemel("new", empty, "--plant", MONTH / "plant.toml")
    assert done.status == 2
    assert "is there already → give another name" in done.err
    assert empty.read_bytes() == before


def test_every_fault_of_a_set_up_is_told_with_its_line_and_no_book_is_made(lemel: Lemel, tmp_path: Path) -> None:
    plant = tmp_path / "plant.toml"
    plant.write_text('[plant]\nname = "X"\nmetals = ["gold"]\n[[area]]\ncode = "A"\nkeeper = "NOBODY"\ncolour = 1\n')
    done = lemel("new", tmp_path / "a.lemel", "--plant", plant)
    assert done.status == 3
    assert f"{plant}:6" in done.err
    assert f"{plant}:7" in done.err
    assert done.err.splitlines()[-1] == "2 faults; nothing was recorded"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["plant.toml"]


@pytest.mark.parametrize("given", [(), ("--plant", MONTH / "plant.toml", "--copy", "x")])
def test_needs_a_set_up_or_a_copy_and_not_both(lemel: Lemel, tmp_path: Path, given: tuple[object, ...]) -> None:
    assert lemel("new", tmp_path / "a.lemel", *given).status == 2


def test_the_name_must_be_that_of_a_book(lemel: Lemel, tmp_path: Path) -> None:
    done = lemel("new", tmp_path / "a.db", "--plant", MONTH / "plant.toml")
    assert (done.status, "let it end in .lemel" in done.err) == (2, True)


def test_takes_a_copy_back_hash_for_hash(lemel: Lemel, month: Path, tmp_path: Path) -> None:
    copy = tmp_path / "copy.jsonl"
    copy.write_text(lemel("copy-out", "--book", month).out, encoding="utf-8")
    done = lemel("new", tmp_path / "b.lemel", "--copy", copy)
    assert done.status == 0, done.err
    assert "41 records taken back" in done.out
    chain = lemel("verify", "--book", month, "--json").json["chain"]
    assert lemel("verify", "--book", tmp_path / "b.lemel", "--json").json["chain"] == chain
    assert lemel("copy-out", "--book", tmp_path / "b.lemel").out == copy.read_text(encoding="utf-8")


def test_a_changed_copy_is_refused_and_makes_no_book(lemel: Lemel, month: Path, tmp_path: Path) -> None:
    copy = tmp_path / "copy.jsonl"
    copy.write_text(lemel("copy-out", "--book", month).out.replace("156.90 g", "165.90 g"), encoding="utf-8")
    done = lemel("new", tmp_path / "b.lemel", "--copy", copy)
    assert done.status == 3
    assert str(copy) in done.err
    assert not (tmp_path / "b.lemel").exists()


def test_a_copy_that_is_not_there_is_told_in_words(lemel: Lemel, tmp_path: Path) -> None:
    done = lemel("new", tmp_path / "b.lemel", "--copy", tmp_path / "none.jsonl")
    assert (done.status, "cannot be read" in done.err) == (2, True)
