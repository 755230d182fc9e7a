"""Paths that nobody means: pipes, devices, folders, links, the book itself. Nothing is written over, nothing waits."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.book.sample import sample_book
from tests.faces.conftest import MONTH, Lemel
from tests.studies.bad_sandbox import not_for_ever

READ = {
    "enter": ("enter", "{}", "--book", "month.lemel"),
    "a second file": ("enter", "tickets.jsonl", "{}", "--dry-run", "--book", "month.lemel"),
    "a plant": ("new", "new.lemel", "--plant", "{}"),
    "a copy": ("new", "new.lemel", "--copy", "{}"),
    "a change": ("setup", "change", "{}", "--book", "month.lemel"),
    "an out-turn": ("bench", "settle", "{}", "--no-book"),
    "sweeps": ("bench", "sweeps", "{}"),
    "a worksheet": ("audit", "evaluate", "lots", "{}", "--seed", "1", "--size", "2", "--book", "month.lemel"),
    "a book": ("stock", "--book", "{}"),
}
WRITTEN = {
    "copy-out": ("copy-out", "--to", "{}", "--book", "month.lemel"),
    "postings": ("copy-out", "--what", "postings", "--format", "csv", "--to", "{}", "--book", "month.lemel"),
    "prove": ("prove", "HC-0007", "--to", "{}", "--book", "sealed.lemel"),
    "pack": ("pack", "2026-10", "--out", "{}", "--book", "month.lemel"),
    "backup": ("backup", "{}", "--book", "month.lemel"),
    "backup --replace": ("backup", "{}", "--replace", "--book", "month.lemel"),
    "template": ("enter", "--template", "work", "--to", "{}"),
    "set aside": ("enter", "bad.jsonl", "--set-aside", "{}", "--book", "month.lemel"),
    "new": ("new", "{}", "--plant", str(MONTH / "plant.toml")),
}
STRANGE = ("pipe.jsonl", "pipe.toml", "pipe.xlsx", "endless.jsonl", "endless.csv", "endless.xlsx", "endless.toml",
           "loop.jsonl", "folder", "nowhere/x.jsonl", "n" * 300 + ".jsonl")  # fmt: skip
TAKEN = ("month.lemel", "link.lemel", "pipe.jsonl", "loop.jsonl", "dangling.lemel", "full.lemel", "tickets.jsonl",
         "month.lemel/x.lemel", "nowhere/../nowhere/x.lemel", "n" * 300 + ".lemel", "/dev/full")  # fmt: skip


@pytest.fixture
def place(month: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    here = tmp_path / "a" / "place"
    here.mkdir(parents=True)
    sample_book(here).rename(here / "sealed.lemel")
    shutil.copy(month, here / "month.lemel")
    shutil.copy(MONTH / "tickets.jsonl", here / "tickets.jsonl")
    (here / "bad.jsonl").write_text('{"ticket": "HC-0050"}\n')
    for name in ("pipe.jsonl", "pipe.toml", "pipe.xlsx"):
        os.mkfifo(here / name)
    for name, to in (("link.lemel", "month.lemel"), ("loop.jsonl", "loop.jsonl"), ("dangling.lemel", "no/x.lemel"),
                     ("full.lemel", "/dev/full"), *((f"endless.{end}", "/dev/zero") for end in
                                                   ("jsonl", "csv", "xlsx", "toml"))):  # fmt: skip
        (here / name).symlink_to(to)
    (here / "folder").mkdir()
    monkeypatch.chdir(here)
    return here


def _there(place: Path) -> dict[str, bytes | None]:
    """Return everything in and about a folder, with what it holds."""
    found = sorted(path for path in place.parents[1].rglob("*") if not path.name.startswith("sealed.lemel"))
    return {str(path): path.read_bytes() if path.is_file() and not path.is_symlink() else None for path in found}


@pytest.mark.parametrize("command", READ)
@pytest.mark.parametrize("name", STRANGE)
def test_what_is_read_is_a_file(lemel: Lemel, place: Path, command: str, name: str) -> None:
    before = _there(place)
    with not_for_ever(10):
        done = lemel(*(word.replace("{}", name) for word in READ[command]))
    assert done.status in (2, 3)
    assert " → " in done.err
    assert _there(place) == before


@pytest.mark.parametrize("command", WRITTEN)
@pytest.mark.parametrize("name", TAKEN)
def test_nothing_is_written_over(lemel: Lemel, place: Path, command: str, name: str) -> None:
    before = _there(place)
    with not_for_ever(20):
        done = lemel(*(word.replace("{}", name) for word in WRITTEN[command]))
    assert done.status == 2, done.err
    assert " → " in done.err
    assert _there(place) == before


def test_a_path_upwards_is_meant(lemel: Lemel, place: Path) -> None:
    assert lemel("copy-out", "--to", "folder/../../copy.jsonl", "--book", "month.lemel").status == 0
    assert (place.parent / "copy.jsonl").is_file()


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a device that is always full")
@pytest.mark.parametrize("stream", ["out", "err", "neither", "no input"])
def test_streams_that_are_full_or_closed(place: Path, stream: str) -> None:
    shell = {"out": "stock > /dev/full", "err": "stock --area X 2> /dev/full", "neither": "stock >&- 2>&-",
             "no input": "enter - <&-"}[stream]  # fmt: skip
    run = f"{sys.executable} -c 'from ledger.faces.cli.main import run; run()' {shell} --book month.lemel"
    done = subprocess.run(["sh", "-c", run], capture_output=True, text=True, timeout=60, check=False,
                          env={**os.environ, "PYTHONPATH": str(MONTH.parents[1])})  # fmt: skip
    assert done.returncode == (2 if stream in ("out", "err") else 0), done
    assert "Traceback" not in done.stderr
    assert "Exception" not in done.stderr
    assert "bug" not in done.stderr
