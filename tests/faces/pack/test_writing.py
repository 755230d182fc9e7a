"""A pack on disk: there as a whole or not at all, the same bytes again, and nothing else ever replaced."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest

from ledger.faces.pack import writing
from ledger.faces.pack.making import Pack
from ledger.faces.pack.writing import Written, check_place, put
from ledger.refusals import WrongUsage
from tests.faces.pack.pages import pack_of

OF = ("Harrowmere Clad Works (invented)", "2026-10")


def _figures(plant: str = OF[0], period: str = OF[1], form: int = 1) -> bytes:
    return json.dumps({"pack": form, "plant": plant, "period": period}).encode()


FILES = [Written("figures.json", _figures()), Written("csv/a.csv", b"a\n"), Written("pack.html", b"<!doctype html>")]


def _held(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_the_same_book_makes_the_same_bytes(month: Path, gold: Pack) -> None:
    again = pack_of(month)
    assert [(f.name, f.sha256) for f in again.files] == [(f.name, f.sha256) for f in gold.files]


def test_every_schedule_has_a_file(gold: Pack) -> None:
    named = {x["file"] for s in json.loads(gold.files[2].content)["sections"] for x in s["schedules"]}
    assert named <= {file.name for file in gold.files}
    assert len({file.name.lower() for file in gold.files}) == len(gold.files)


def test_it_is_written_whole_and_replaced_whole(tmp_path: Path) -> None:
    put(tmp_path / "p", [*FILES, Written("csv/old.csv", b"old\n")])
    check_place(tmp_path / "p", *OF)
    put(tmp_path / "p", FILES)
    assert _held(tmp_path / "p") == {file.name: file.content for file in FILES}
    assert [path.name for path in tmp_path.iterdir()] == ["p"]


def test_an_empty_folder_is_taken(tmp_path: Path) -> None:
    (tmp_path / "p").mkdir()
    check_place(tmp_path / "p", *OF)
    put(tmp_path / "p", FILES)
    assert len(_held(tmp_path / "p")) == 3


@pytest.mark.parametrize("at", range(3))
def test_what_fails_midway_leaves_the_old_pack_and_nothing_else(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, at: int
) -> None:
    put(tmp_path / "p", FILES)
    before, real, written = _held(tmp_path / "p"), Path.write_bytes, []

    def full(path: Path, content: bytes) -> int:
        written.append(path)
        if len(written) > at:
            raise OSError(28, "No space left on device")
        return real(path, content)

    monkeypatch.setattr(Path, "write_bytes", full)
    with pytest.raises(WrongUsage, match="cannot be written: No space left"):
        put(tmp_path / "p", FILES)
    assert _held(tmp_path / "p") == before
    assert [path.name for path in tmp_path.iterdir()] == ["p"]


def test_what_fails_at_the_last_rename_puts_the_old_pack_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    put(tmp_path / "p", FILES)
    monkeypatch.setattr(writing, "_exchanged", lambda *_: False)
    real, tries = Path.rename, []

    def failing(path: Path, target: Path) -> Path:
        tries.append(target)
        if len(tries) == 2:
            raise PermissionError(13, "Permission denied")
        return real(path, target)

    monkeypatch.setattr(Path, "rename", failing)
    with pytest.raises(WrongUsage, match="Permission denied"):
        put(tmp_path / "p", [Written("figures.json", b"new")])
    assert _held(tmp_path / "p") == {file.name: file.content for file in FILES}
    assert [path.name for path in tmp_path.iterdir()] == ["p"]


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="exchanges folders in two steps")
def test_the_old_pack_gives_way_to_the_new_one_in_one_step(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    put(tmp_path / "p", FILES)
    monkeypatch.setattr(Path, "rename", lambda *_: pytest.fail("the name was empty for a moment"))
    put(tmp_path / "p", [Written("figures.json", b"new")])
    assert _held(tmp_path / "p") == {"figures.json": b"new"}
    assert [path.name for path in tmp_path.iterdir()] == ["p"]


@pytest.mark.parametrize(
    ("held", "words"),
    [
        ({"letter.txt": b"dear"}, "holds something that is no pack"),
        ({"figures.json": b"not json"}, "holds something that is no pack"),
        ({"figures.json": _figures(form=99)}, "holds something that is no pack"),
        ({"figures.json": _figures(period="2026-09")}, "holds the pack of 2026-09"),
        ({"figures.json": _figures(plant="Another")}, "holds the pack of 2026-10, Another"),
        ({"figures.json": _figures(), "notes.txt": b"mine"}, "holds notes.txt, which is not of the pack"),
        ({"figures.json": _figures(), "csv/deep/x.csv": b"mine"}, "which is not of the pack"),
    ],
)
def test_what_is_not_its_own_is_never_replaced(tmp_path: Path, held: dict[str, bytes], words: str) -> None:
    for name, content in held.items():
        path = tmp_path / "p" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    with pytest.raises(WrongUsage, match=words):
        check_place(tmp_path / "p", *OF)
    assert _held(tmp_path / "p") == held


def test_no_folder_to_put_it_in_a_file_or_a_link_in_its_place(tmp_path: Path) -> None:
    with pytest.raises(WrongUsage, match="there is no folder"):
        check_place(tmp_path / "a" / "b", *OF)
    (tmp_path / "f").write_text("x")
    with pytest.raises(WrongUsage, match="and is no folder"):
        check_place(tmp_path / "f", *OF)
    put(tmp_path / "p", FILES)
    (tmp_path / "link").symlink_to(tmp_path / "p")
    with pytest.raises(WrongUsage, match="and is no folder"):
        check_place(tmp_path / "link", *OF)


def test_a_pack_can_be_read_by_whoever_may_read_files_here(tmp_path: Path) -> None:
    (tmp_path / "beside").mkdir()
    put(tmp_path / "p", FILES)
    assert (tmp_path / "p").stat().st_mode == (tmp_path / "beside").stat().st_mode
    assert writing.PAGE == "pack.html"
