"""Proofs are checked by the few lines printed in docs/reference/proof.md, which know nothing of this program."""

from __future__ import annotations

import io
import json
import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from contextlib import redirect_stdout
from pathlib import Path
from typing import Any

import pytest
import rfc8785

from ledger.book.closes import close_of
from ledger.book.proving import prove_growth, prove_ticket
from ledger.book.seals import read_seal_line, seal_line
from ledger.book.store import reading
from ledger.refusals import BookUnusable, WrongUsage
from tests.balance.closing_plant import begun, closed, in_november, melted
from tests.book.plants import Book
from tests.book.sample import CLOSED_AT, forging, sample_book

PAGE = (Path(__file__).resolve().parents[2] / "docs" / "reference" / "proof.md").read_text(encoding="utf-8")
INCLUSION, CONSISTENCY = re.findall(r"```python\n(.*?)```", PAGE, re.DOTALL)
(SHELL,) = re.findall(r"```sh\n(.*?)```", PAGE, re.DOTALL)

Check = Callable[[dict[str, Any]], str]


@pytest.fixture
def check(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Check:
    """Run the page's lines on a proof; returns what they print."""

    def run(proof: dict[str, Any]) -> str:
        file = tmp_path / "proof.json"
        file.write_text(json.dumps(proof), encoding="utf-8")
        monkeypatch.setattr(sys, "argv", ["check", str(file)])
        printed = io.StringIO()
        with redirect_stdout(printed):
            exec(INCLUSION if proof["proves"] == "inclusion" else CONSISTENCY, {})
        return printed.getvalue()

    return run


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return sample_book(tmp_path)


def test_every_sealed_ticket_is_proved_to_the_printed_line(path: Path, check: Check) -> None:
    with reading(path) as connection:
        close = close_of(connection, "2026-10")
        assert close is not None
        numbers = connection.execute("SELECT number FROM ticket WHERE seq < ? ORDER BY seq", (CLOSED_AT,)).fetchall()
        assert len(numbers) == 40
        for (number,) in numbers:
            proof = prove_ticket(connection, number)
            assert check(proof).strip() == close.line.rpartition("-")[0]
            assert json.loads(proof["document"])["ticket"] == number


def test_a_proof_shows_no_other_ticket(path: Path) -> None:
    with reading(path) as connection:
        proof = json.dumps(prove_ticket(connection, "HC-0007"))
    assert set(re.findall(r"HC-\d+", proof)) == {"HC-0007"}


@pytest.mark.parametrize("key", ["document", "record", "head", "root", "leaf_index", "tree_size", "path"])
def test_a_proof_with_anything_changed_fails(path: Path, check: Check, key: str) -> None:
    with reading(path) as connection:
        proof = prove_ticket(connection, "HC-0007")
    right = outcome(check, proof)
    for wrong in wrongs(proof, key):
        assert outcome(check, {**proof, key: wrong}) != right


def outcome(check: Check, proof: dict[str, Any]) -> str:
    try:
        return check(proof)
    except (AssertionError, ValueError):
        return "refused"


def wrongs(proof: dict[str, Any], key: str) -> list[Any]:
    value = proof[key]
    if key == "root":
        return []  # said for people: the root that counts stands in the head
    if isinstance(value, str):
        at = next(i for i, sign in enumerate(value) if sign.isdigit())
        return [value[:at] + str((int(value[at]) + 1) % 10) + value[at + 1 :]]
    if isinstance(value, int):
        return [value + 1]
    other = {"left": "right", "right": "left"}
    return [value[1:], value[:-1], [{**value[0], "side": other[value[0]["side"]]}, *value[1:]],
            [{**value[0], "hash": "0" * 64}, *value[1:]], list(reversed(value))]  # fmt: skip


@pytest.mark.skipif(not (shutil.which("sha256sum") and shutil.which("xxd")), reason="no sha256sum or xxd here")
def test_the_steps_by_hand(path: Path) -> None:
    with reading(path) as connection:
        proof = prove_ticket(connection, "HC-0007")
    functions = SHELL.partition("\ntext \"")[0]

    def by_hand(step: str, **values: str) -> str:
        done = subprocess.run(["sh", "-c", f"{functions}\n{step}"], env={"PATH": "/usr/bin:/bin", **values},
                              capture_output=True, text=True, check=True)  # fmt: skip
        return done.stdout.strip()

    assert by_hand('text "$document"', document=proof["document"]) == json.loads(proof["record"])[2]
    node = by_hand('entry "$record"', record=proof["record"])
    for step in proof["path"]:
        pair = (step["hash"], node) if step["side"] == "left" else (node, step["hash"])
        node = by_hand('bytes "01$left$right"', left=pair[0], right=pair[1])
    assert node == json.loads(proof["head"])["root"]
    digits = by_hand('text "$head"', head=proof["head"])
    assert digits[:40] == read_seal_line(proof["seal"])[1]


# ---- two seals --------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def two() -> Book:
    made = begun(*(melted(n, "9.98", "10.00") for n in range(2, 12)))
    closed(made)
    made.enter(*(in_november(melted(n, "9.98", "10.00"), n) for n in range(12, 20)))
    closed(made, "2026-11")
    return made


def test_one_seal_continues_another(two: Book, check: Check) -> None:
    proof = prove_growth(two.connection, "2026-10", "2026-11")
    lines = [proof[which]["seal"].rpartition("-")[0] for which in ("first", "second")]
    assert check(proof).split("\n")[:2] == lines
    assert json.loads(proof["second"]["head"])["previous"].startswith(read_seal_line(proof["first"]["seal"])[1])


def test_a_seal_continues_itself(two: Book, check: Check) -> None:
    assert check(prove_growth(two.connection, "2026-11", "2026-11")).count("2026-11") == 2


def test_a_proof_of_growth_with_a_hash_changed_fails(two: Book, check: Check) -> None:
    proof = prove_growth(two.connection, "2026-10", "2026-11")
    for wrong in (proof["path"][1:], proof["path"][:-1], ["0" * 64, *proof["path"][1:]], proof["path"][::-1]):
        with pytest.raises((AssertionError, IndexError)):
            check({**proof, "path": wrong})


def test_a_ticket_can_be_proved_under_a_later_seal(two: Book, check: Check) -> None:
    first, later = (prove_ticket(two.connection, "T-0003", period) for period in (None, "2026-11"))
    assert (check(first)[:7], check(later)[:7]) == ("2026-10", "2026-11")


# ---- refused ----------------------------------------------------------------------------------------------------


def test_what_cannot_be_proved(two: Book, path: Path) -> None:
    for asked, words in (
        (("T-9999",), "no ticket"), (("T-0015", "2026-10"), "recorded after 2026-10 was closed"),
        (("T-0003", "2027-01"), "no seal of '2027-01'"),
    ):  # fmt: skip
        with pytest.raises(WrongUsage, match=words):
            prove_ticket(two.connection, *asked)
    with pytest.raises(WrongUsage, match="was closed after"):
        prove_growth(two.connection, "2026-11", "2026-10")
    with reading(path) as connection, pytest.raises(WrongUsage, match="no seal covers HC-0045 yet"):
        prove_ticket(connection, "HC-0045")


def test_a_book_that_does_not_lead_to_its_seal_proves_nothing(path: Path) -> None:
    with forging(path) as connection:
        connection.execute("UPDATE record SET recorded_by = 'somebody else' WHERE seq = 9")
    with reading(path) as connection, pytest.raises(BookUnusable, match="do not lead to the seal"):
        prove_ticket(connection, "HC-0007")


# ---- the line ---------------------------------------------------------------------------------------------------


def test_texts_that_are_hashed_are_canonical_json(two: Book) -> None:
    proof = prove_ticket(two.connection, "T-0003")
    for key in ("document", "record", "head"):
        assert rfc8785.dumps(json.loads(proof[key])).decode() == proof[key]


SEAL = bytes(range(32))


def test_a_seal_is_printed_in_one_line_that_is_read_back() -> None:
    line = seal_line("2026-10", SEAL)
    assert line.startswith("2026-10 00010203 04050607 08090a0b 0c0d0e0f 10111213-")
    assert len(f"seal {line}") <= 80
    assert read_seal_line(line) == read_seal_line(f"  seal {line.upper().replace('SEAL', 'seal')} ") == (
        "2026-10", SEAL.hex()[:40]
    )  # fmt: skip


def test_every_digit_copied_wrongly_is_found() -> None:
    line = seal_line("2026-10", SEAL)
    for at, sign in enumerate(line):
        if sign.isalnum():
            for other in "0123456789abcdef":
                if other != sign.lower():
                    with pytest.raises(WrongUsage):
                        read_seal_line(line[:at] + other + line[at + 1 :])


@pytest.mark.parametrize("text", ["", "2026-10", "seal 2026-10 00010203-K", "K", "-", "2026-10 " + "0" * 40])
def test_what_is_no_seal(text: str) -> None:
    with pytest.raises(WrongUsage, match="is not a seal"):
        read_seal_line(text)
