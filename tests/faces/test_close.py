"""lemel close, and what every later page and ticket says of a closed period."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from ledger.faces.printing import cells
from tests.faces.conftest import ANSWERS, MONTH, Lemel

BY = ("--by", "MQ", "--with", "HB")
SEAL = re.compile(r"^seal 2026-10( [0-9a-f]{8}){5}-[0-9A-Z]$", re.MULTILINE)


def test_check_lists_what_is_to_be_done_and_closes_nothing(lemel: Lemel, month: Path) -> None:
    before = month.read_bytes()
    done = lemel("close", "2026-10", *BY, "--check", "--book", month)
    assert done.status == 0
    assert done.out.startswith("2026-10 cannot be closed yet: 5 conditions not met")
    assert 'ROLL is short by 0.947 g of gold' in done.out
    assert lemel("close", "2026-10", *BY, *ANSWERS, "--check", "--book", month).out.startswith("2026-10 can be closed")
    assert month.read_bytes() == before


def test_it_refuses_with_every_condition_at_once(lemel: Lemel, month: Path) -> None:
    done = lemel("close", "2026-10", "--by", "MQ", "--with", "OV", "--book", month)
    assert (done.status, done.out) == (3, "")
    for words in ("OV may not close", "ROLL is short by 0.947 g of gold", "VAULT is coarse", "6 faults; nothing was"):
        assert words in done.err


def test_a_closed_month_is_told_whole_and_in_eighty_columns(lemel: Lemel, month: Path, tmp_path: Path) -> None:
    (tmp_path / "book.lemel").write_bytes(month.read_bytes())
    done = lemel("close", "2026-10", *BY, *ANSWERS, "--book", tmp_path / "book.lemel")
    assert done.status == 0
    assert SEAL.search(done.out)
    assert "a name is a claim, not a signature" in done.out
    assert [line for line in done.out.splitlines() if cells(line) > 80] == []
    again = lemel("close", "2026-10", *BY, "--book", tmp_path / "book.lemel")
    assert (again.status, "2026-10 is closed already" in again.err) == (3, True)


def test_json(lemel: Lemel, month: Path, tmp_path: Path) -> None:
    checked = lemel("close", "2026-10", *BY, "--check", "--json", "--book", month).json
    assert (checked["closed"], len(checked["unmet"]), checked["seal"]) == (False, 5, None)
    (tmp_path / "book.lemel").write_bytes(month.read_bytes())
    told = lemel("close", "2026-10", *BY, *ANSWERS, "--json", "--book", tmp_path / "book.lemel").json
    assert (told["closed"], told["unmet"], told["by"], told["with"]) == (True, [], "MQ", "HB")
    assert told["seal"].startswith("2026-10 ")
    (melt,) = (area for area in told["areas"] if area["area"] == "MELT")
    assert (melt["evidence"], melt["note"]) == ("slag and crucible assayed", "as VAULT")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("2026-13", *BY), "there is no period '2026-13'"),
        (("2026-10", *BY, "--note", "MELT"), "'MELT' says nothing of anything"),
        (("2026-10", *BY, "--note", "MELT= "), "says nothing of anything"),
        (("2026-10", *BY, "--note", "MELT=a", "--note", "MELT=b"), "MELT is answered for twice"),
        (("2026-10", "--by", "MQ"), "--with"),
    ],
)
def test_wrong_calls(lemel: Lemel, month: Path, arguments: tuple[str, ...], words: str) -> None:
    done = lemel("close", *arguments, "--book", month)
    assert (done.status, words in done.err) == (2, True)


# ---- afterwards -------------------------------------------------------------------------------------------------

REPORTS = [("reconcile", "2026-10"), ("reconcile", "2026-11"), ("stock",), ("position",), ("exceptions",), ("trend",),
           ("estimates",), ("checks",), ("lot", "GB-1001"), ("verify",), ("verify", "--quick")]  # fmt: skip


@pytest.mark.parametrize("report", REPORTS, ids=" ".join)
def test_every_report_prints_the_seal(lemel: Lemel, sealed: Path, report: tuple[str, ...]) -> None:
    done = lemel(*report, "--book", sealed)
    assert done.status == 0, done.err
    assert SEAL.search(done.out.splitlines()[-1])
    line = done.out.splitlines()[-1].removeprefix("seal ")
    assert lemel(*report, "--book", sealed, "--json").json["seal"] == line


def test_no_command_prints_the_state_of_the_book_by_itself() -> None:
    """One function prints it, with the seal: a command that wrote the line anew would leave the seal out.

    The pack has pages of its own for both.
    """
    faces = [f for f in (MONTH.parents[1] / "ledger" / "faces").rglob("*.py") if "pack" not in f.parts]
    assert [file.name for file in faces if "book as of record" in file.read_text(encoding="utf-8")] == ["printing.py"]


def test_the_statement_says_who_closed_and_on_what(lemel: Lemel, sealed: Path) -> None:
    done = lemel("reconcile", "2026-10", "--book", sealed)
    text = " ".join(done.out.split())
    assert "2026-10, closed: gold" in text
    assert "Closed by MQ with HB, recorded" in text
    assert "normal loss on evidence: slag and crucible assayed" in text
    assert "normal loss without evidence" in text
    told = lemel("reconcile", "2026-10", "--book", sealed, "--json").json
    assert (told["closed"], told["close"]["by"]) == (True, "MQ")
    assert lemel("reconcile", "2026-11", "--book", sealed, "--json").json["close"] is None


def test_a_ticket_in_the_closed_month_is_refused_with_the_mend(lemel: Lemel, sealed: Path, tmp_path: Path) -> None:
    late = {"ticket": "HC-0042", "kind": "void", "at": "2026-10-31T12:00", "by": "MQ", "numbers": ["HC-0043"],
            "reason": "spoiled"}  # fmt: skip
    file = tmp_path / "late.jsonl"
    file.write_text(json.dumps(late), encoding="utf-8")
    done = lemel("enter", file, "--book", sealed)
    assert done.status == 3
    assert "2026-10-31T12:00 lies in a closed period: nothing enters before 2026-11-01T06:00" in done.err
    assert "say in note when it was" in done.err


def test_a_change_of_the_setup_in_the_closed_month_is_refused(lemel: Lemel, sealed: Path, tmp_path: Path) -> None:
    file = tmp_path / "change.toml"
    file.write_text('from = "2026-10-30"\nby = "OV"\nreason = "late"\n[[operation]]\ncode = "ROLLING"\nfume = "0%"\n')
    done = lemel("setup", "change", file, "--book", sealed)
    assert (done.status, "reaches into 2026-10, which is closed" in done.err) == (3, True)


def test_a_copy_takes_the_close_back_hash_for_hash(lemel: Lemel, sealed: Path, tmp_path: Path) -> None:
    copy, again = tmp_path / "copy.jsonl", tmp_path / "again.lemel"
    assert lemel("copy-out", "--to", copy, "--book", sealed).status == 0
    assert lemel("new", again, "--copy", copy).status == 0
    first, second = (lemel("verify", "--json", "--book", book).json for book in (sealed, again))
    assert first == second
    assert (first["sound"], first["seals"]) == (True, 1)
