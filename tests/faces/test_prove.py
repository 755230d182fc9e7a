"""lemel prove, and lemel verify with a seal from paper."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.book.sample import forging
from tests.book.test_verifying import forge_seals
from tests.faces.conftest import Lemel


def test_a_proof_on_standard_output_and_in_a_file(lemel: Lemel, sealed: Path, tmp_path: Path) -> None:
    printed = lemel("prove", "HC-0007", "--book", sealed)
    file = tmp_path / "proof.json"
    written = lemel("prove", "HC-0007", "--to", file, "--book", sealed)
    assert (printed.status, written.status, written.out) == (0, 0, "")
    assert json.loads(file.read_text(encoding="utf-8")) == printed.json
    assert len(printed.out) < 10_000
    assert lemel("prove", "HC-0007", "--to", file, "--book", sealed).status == 2, "an existing file is kept"


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("HC-9999",), "there is no ticket 'HC-9999'"),
        (("HC-0007", "--seal", "2026-11"), "no seal of '2026-11'"),
        (("2026-10", "2026-11"), "no seal of '2026-11'"),
        (("2026-10", "2026-10", "--seal", "2026-10"), "leave --seal out"),
    ],
)
def test_what_cannot_be_proved(lemel: Lemel, sealed: Path, arguments: tuple[str, ...], words: str) -> None:
    done = lemel("prove", *arguments, "--book", sealed)
    assert (done.status, words in done.err) == (2, True)


def seal_of(lemel: Lemel, book: Path) -> str:
    return str(lemel("verify", "--quick", "--json", "--book", book).json["seal"])


@pytest.mark.parametrize("option", [(), ("--quick",)])
def test_the_seal_on_paper_is_the_books(lemel: Lemel, sealed: Path, option: tuple[str, ...]) -> None:
    line = seal_of(lemel, sealed)
    assert lemel("verify", *option, "--seal", line, "--seal", f"seal {line}", "--book", sealed).status == 0


def test_a_book_rewritten_by_all_the_rules_is_found_by_the_seal_on_paper(lemel: Lemel, sealed: Path) -> None:
    line = seal_of(lemel, sealed)
    with forging(sealed) as connection:
        connection.execute("UPDATE record SET recorded_by = 'somebody else' WHERE seq = 9")
        forge_seals(connection)
    assert lemel("verify", "--book", sealed).status == 0, "sound in itself"
    done = lemel("verify", "--seal", line, "--book", sealed)
    assert (done.status, "seal 2026-10: the book's is not the one on paper" in done.out) == (5, True)


def test_a_book_without_the_close_is_found_by_the_seal_on_paper(lemel: Lemel, sealed: Path, month: Path) -> None:
    done = lemel("verify", "--seal", seal_of(lemel, sealed), "--book", month)
    assert (done.status, "the book has no close of it" in done.out) == (5, True)


def test_a_seal_copied_wrongly_is_a_wrong_call(lemel: Lemel, sealed: Path) -> None:
    line = seal_of(lemel, sealed)
    wrong = line[:10] + ("0" if line[10] != "0" else "1") + line[11:]
    done = lemel("verify", "--seal", wrong, "--book", sealed)
    assert (done.status, "mis-copied" in done.err) == (2, True)
