"""lemel write-off: by name, cause and evidence."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.faces.conftest import Lemel

SAID = ("--cause", "skeleton", "--evidence", "found in the press", "--reason", "weighed again")
SECOND = ("--witness", "HB")
WHEN = ("--at", "2026-11-02T09:00", "--by", "MQ", *SECOND)


def test_a_write_off_is_a_ticket_with_the_next_number(lemel: Lemel, sealed: Path) -> None:
    done = lemel("write-off", "ROLL", "0.5 g", *SAID, *WHEN, "--json", "--book", sealed)
    assert done.status == 0, done.err
    assert done.json["ticket"] == {
        "ticket": "HC-0042", "kind": "writeoff", "at": "2026-11-02T09:00", "by": "MQ", "area": "ROLL", "metal": "gold",
        "mass": "0.5 g", "witness": "HB", "cause": "skeleton", "evidence": "found in the press",
        "reason": "weighed again",
    }  # fmt: skip
    assert done.json["flags"] == []
    left = done.json["open"]
    rest = lemel("write-off", "ROLL", "all", *SAID, *WHEN, "--json", "--book", sealed).json
    assert (rest["ticket"]["mass"], rest["open"], rest["ticket"]["ticket"]) == (f"{left} g", "0.000000000", "HC-0043")
    assert lemel("verify", "--book", sealed).status == 0


def test_in_words(lemel: Lemel, sealed: Path) -> None:
    done = lemel("write-off", "ROLL", "0.5 g", *SAID, *WHEN, "--book", sealed)
    assert "HC-0042: 0.5 g of gold written off in ROLL, cause skeleton, on found in the press, by MQ with HB." in (
        " ".join(done.out.split())
    )
    assert "stand open in ROLL now" in done.out


def test_a_gain_is_written_off_with_its_sign(lemel: Lemel, sealed: Path) -> None:
    done = lemel("write-off", "ROLL", "-0.1 g", *SAID, *WHEN, "--book", sealed)
    assert (done.status, "cannot be written off" in done.err) == (3, True), "ROLL is short, and not over"


@pytest.mark.parametrize(
    ("arguments", "status", "words"),
    [
        (("ATTIC", "0.5 g", *SAID, *WHEN), 3, "no area ATTIC in the set-up"),
        (("ROLL", "0.5 g", *SAID, "--by", "NEMO", *SECOND), 3, "no person NEMO in the set-up"),
        (("ROLL", "0.5 g", *SAID, "--by", "PW", *SECOND), 3, "PW may not accept a difference → who may: MQ, HB"),
        (("ROLL", "0.5 g", *SAID, "--by", "MQ"), 2, "--witness"),
        (("ROLL", "0.5 g", *SAID, "--by", "MQ", "--witness", "MQ"), 3, "witness"),
        (("ROLL", "0.5 g", *SAID, "--by", "MQ", "--witness", "NEMO"), 3, "no person NEMO in the set-up"),
        (("ROLL", "5.0 g", *SAID, *WHEN), 3, "5.0000 g cannot be written off"),
        (("ROLL", "0.5", *SAID, *WHEN), 3, "unit"),
        (("REFINER", "all", *SAID, *WHEN), 3, "nothing of gold stands open in REFINER"),
        (("ROLL", "0.5 g", *SAID, "--by", "MQ", *SECOND, "--at", "2026-10-30T09:00"), 3, "lies in a closed period"),
        (("ROLL", "0.5 g", *SAID[2:], *WHEN), 2, "--cause"),
    ],
)
def test_refused(lemel: Lemel, sealed: Path, arguments: tuple[str, ...], status: int, words: str) -> None:
    before = sealed.read_bytes()
    done = lemel("write-off", *arguments, "--book", sealed)
    assert (done.status, words in done.err) == (status, True), done.err
    assert sealed.read_bytes() == before


def test_an_empty_book_has_no_next_number(lemel: Lemel, empty: Path) -> None:
    done = lemel("write-off", "ROLL", "0.5 g", *SAID, *WHEN, "--book", empty)
    assert (done.status, "give it with --number" in done.err) == (2, True)
