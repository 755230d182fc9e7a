"""lemel enter: all or none, every fault placed, and what is set aside can be mended and entered."""

from __future__ import annotations

import io
import json
import sys
from pathlib import Path

import pytest

from tests.faces.conftest import MONTH, Lemel

TICKETS = MONTH / "tickets.jsonl"


def tickets(path: Path, *changes: tuple[str, str]) -> Path:
    """Write the sample month's tickets with some text changed."""
    text = TICKETS.read_text(encoding="utf-8")
    for before, after in changes:
        assert before in text
        text = text.replace(before, after)
    path.write_text(text, encoding="utf-8")
    return path


def test_counts_and_lists_the_irregular_ones(lemel: Lemel, empty: Path) -> None:
    done = lemel("enter", TICKETS, "--book", empty)
    assert (done.status, done.out.splitlines()[0]) == (0, "recorded 40, already there 0, refused 0")
    assert "irregular 5" in done.out
    assert "irregular: HC-0015: not found: lot SQ-1009" in done.err


def test_the_same_ticket_twice_is_the_same_ticket(lemel: Lemel, empty: Path) -> None:
    lemel("enter", TICKETS, "--book", empty)
    done = lemel("enter", TICKETS, "--book", empty)
    assert (done.status, done.out, done.err) == (0, "recorded 0, already there 40, refused 0\n", "")


def test_all_or_none_and_every_fault_with_file_line_ticket_and_mend(lemel: Lemel, empty: Path, tmp_path: Path) -> None:
    file = tickets(tmp_path / "t.jsonl", ('"area":"FINISH","nil":true', '"area":"FINNISH","nil":true'),
                   ('"mass":"0.0450 g"', '"mass":"0.0450 oz"'))  # fmt: skip
    done = lemel("enter", file, "--book", empty)
    assert (done.status, done.out) == (3, "")
    placed = [line for line in done.err.splitlines() if line.startswith(f"{file}:")]
    assert len(placed) == 2
    assert all(" → " in line for line in placed)
    assert [part in placed[0] for part in ("ticket HC-0039", "area", "FINNISH")] == [True] * 3
    assert done.err.splitlines()[-1] == "2 faults; nothing was recorded"
    assert lemel("stock", "--book", empty, "--json").json["record"] == 1


def test_set_aside_records_the_sound_ones_and_exits_5(lemel: Lemel, empty: Path, tmp_path: Path) -> None:
    file = tickets(tmp_path / "t.jsonl", ('"mass":"0.0450 g"', '"mass":"0.0450 oz"'))
    aside = tmp_path / "aside.jsonl"
    done = lemel("enter", file, "--book", empty, "--set-aside", aside)
    assert (done.status, done.out.splitlines()[0]) == (5, f"recorded 39, already there 0, refused 1 (in {aside})")
    line = json.loads(aside.read_text(encoding="utf-8"))
    assert line["ticket"]["ticket"] == "HC-0041"
    assert "oz is ambiguous" in line["set_aside"][0]


def test_what_was_set_aside_is_mended_there_and_entered(lemel: Lemel, empty: Path, tmp_path: Path) -> None:
    file = tickets(tmp_path / "t.jsonl", ('"mass":"0.0450 g"', '"mass":"0.0450 oz"'))
    aside = tmp_path / "aside.jsonl"
    lemel("enter", file, "--book", empty, "--set-aside", aside)
    aside.write_text(aside.read_text(encoding="utf-8").replace('"0.0450 oz"', '"0.0450 g"'), encoding="utf-8")
    assert lemel("enter", aside, "--book", empty).out.startswith("recorded 1, ")
    assert lemel("enter", TICKETS, "--book", empty).out == "recorded 0, already there 40, refused 0\n"


def test_what_was_no_ticket_is_set_aside_as_it_stood(lemel: Lemel, empty: Path, tmp_path: Path) -> None:
    (tmp_path / "t.jsonl").write_text("{not json\n", encoding="utf-8")
    aside = tmp_path / "aside.jsonl"
    assert lemel("enter", tmp_path / "t.jsonl", "--book", empty, "--set-aside", aside).status == 5
    assert json.loads(aside.read_text(encoding="utf-8"))["ticket"] == "{not json"
    done = lemel("enter", aside, "--book", empty)
    assert (done.status, "write the mended ticket" in done.err) == (3, True)


def test_nothing_set_aside_exits_0_and_leaves_no_file(lemel: Lemel, empty: Path, tmp_path: Path) -> None:
    done = lemel("enter", TICKETS, "--book", empty, "--set-aside", tmp_path / "aside.jsonl")
    assert (done.status, (tmp_path / "aside.jsonl").exists()) == (0, False)


def test_never_writes_what_is_set_aside_over_a_file(lemel: Lemel, empty: Path, tmp_path: Path) -> None:
    kept = tmp_path / "kept.jsonl"
    kept.write_text("mine", encoding="utf-8")
    assert lemel("enter", TICKETS, "--book", empty, "--set-aside", kept).status == 2
    assert kept.read_text(encoding="utf-8") == "mine"


def test_where_set_aside_cannot_be_written_nothing_is_recorded(lemel: Lemel, empty: Path, tmp_path: Path) -> None:
    file = tickets(tmp_path / "t.jsonl", ('"mass":"0.0450 g"', '"mass":"0.0450 oz"'))
    done = lemel("enter", file, "--book", empty, "--set-aside", tmp_path / "none" / "aside.jsonl")
    assert (done.status, "aside.jsonl" in done.err.splitlines()[-1]) == (2, True)
    assert lemel("stock", "--book", empty, "--json").json["record"] == 1


def test_dry_run_says_and_records_nothing(lemel: Lemel, empty: Path) -> None:
    done = lemel("enter", TICKETS, "--book", empty, "--dry-run")
    assert (done.status, done.out.splitlines()[0]) == (0, "would be recorded 40, already there 0, refused 0")
    assert lemel("stock", "--book", empty, "--json").json["record"] == 1


def test_standard_input(lemel: Lemel, empty: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(TICKETS.read_bytes())))
    assert lemel("enter", "-", "--book", empty).out.startswith("recorded 40,")


def test_two_files_are_one_call(lemel: Lemel, empty: Path, tmp_path: Path) -> None:
    lines = TICKETS.read_text(encoding="utf-8").splitlines(keepends=True)
    first, second = tmp_path / "1.jsonl", tmp_path / "2.jsonl"
    first.write_text("".join(lines[:20]), encoding="utf-8")
    second.write_text("".join(lines[20:]) + "{}\n", encoding="utf-8")
    assert lemel("enter", first, second, "--book", empty).status == 3
    assert lemel("stock", "--book", empty, "--json").json["record"] == 1


def test_json_counts_and_irregular_ones(lemel: Lemel, empty: Path) -> None:
    document = lemel("enter", TICKETS, "--book", empty, "--json").json
    assert {key: document[key] for key in ("recorded", "already", "refused")} == {
        "recorded": 40, "already": 0, "refused": 0,
    }  # fmt: skip
    assert len(document["irregular"]) == 6


def test_template_is_a_header_that_enter_reads(lemel: Lemel, empty: Path) -> None:
    done = lemel("enter", "--template", "move", "--book", empty)
    assert done.status == 0
    assert done.out.startswith("ticket,kind,at,by,")
    assert done.out.count("\n") == 1


def test_template_of_no_kind_names_the_kinds(lemel: Lemel, empty: Path) -> None:
    done = lemel("enter", "--template", "melt", "--book", empty)
    assert (done.status, "receive" in done.err) == (2, True)


@pytest.mark.parametrize("file", ["none.jsonl", "notes.txt"])
def test_a_file_that_cannot_be_read_is_wrong_usage(lemel: Lemel, empty: Path, tmp_path: Path, file: str) -> None:
    assert lemel("enter", tmp_path / file, "--book", empty).status == 2


GARBAGE = [b"\x00\xff\xfe", b"null\n", b"[]\n", b'{"ticket": 1}\n', b'{"kind": "work"}\n', b"{}" * 9, b"\xef\xbb\xbf"]


@pytest.mark.parametrize("garbage", GARBAGE)
def test_garbage_is_told_in_words(lemel: Lemel, empty: Path, tmp_path: Path, garbage: bytes) -> None:
    (tmp_path / "g.jsonl").write_bytes(garbage)
    assert lemel("enter", tmp_path / "g.jsonl", "--book", empty).status in (0, 3)
