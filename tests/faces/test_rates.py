"""lemel rates: the page, the document, and a proposal that a named person applies."""

from __future__ import annotations

import tomllib
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from ledger.faces.printing import cells
from tests.balance.rolled_months import months
from tests.book.plants import bought, lot, ticket
from tests.faces.books import filed
from tests.faces.conftest import Lemel

KEYS = {"plant", "metal", "sign", "share_of", "stated_in", "periods", "uncounted", "tickets", "mixed", "trust", "rates",
        "proposal", "record", "chain"}  # fmt: skip


@pytest.fixture
def lossy(tmp_path: Path) -> Path:
    """Rolling is stated to lose 0.05 %, and loses 0.12 %."""
    return filed(tmp_path, *months({"": Fraction(12, 10000)}, 8))


def test_the_page_keeps_to_eighty_columns_and_says_its_sign_its_share_and_its_caution(
    lemel: Lemel, lossy: Path
) -> None:
    for options in ((), ("--propose",), ("--metal", "gross"), ("--unit", "ozt", "--operation", "roll")):
        page = lemel("rates", "--book", lossy, *options)
        assert page.status == 0
        assert [line for line in page.out.splitlines() if cells(line) > 80] == []
        text = " ".join(page.out.split())
        for words in ("% of content put in", "+ where metal is missing", "no finding about any person", "Assumed:"):
            assert words in text


def test_a_raise_is_marked_and_what_it_would_have_hidden_is_named(lemel: Lemel, lossy: Path) -> None:
    text = " ".join(lemel("rates", "--propose", "--book", lossy).out.split())
    assert "RAISES what is allowed: what evidence of waste is there?" in text
    assert "applied by nobody yet" in text
    hidden = text.partition("Flags that this would have hidden:")[2].partition("Flags that this would have raised")[0]
    for period in ("2026-10 ROLL short", "2026-11 ROLL short", "2026-12 ROLL short"):
        assert period in hidden


def test_the_document(lemel: Lemel, lossy: Path) -> None:
    done = lemel("rates", "--book", lossy, "--json")
    assert done.status == 0
    assert set(done.json) >= KEYS
    assert done.json["proposal"] is None
    assert lemel("rates", "--book", lossy, "--json", "--unit", "ozt").out == done.out


def test_what_it_writes_is_applied_by_a_named_person_and_takes_effect(
    lemel: Lemel, lossy: Path, tmp_path: Path
) -> None:
    change = tmp_path / "new-rates.toml"
    done = lemel("rates", "--propose", "--by", "W", "--to", change, "--book", lossy)
    assert (done.status, f"lemel setup change {change}" in " ".join(done.out.split())) == (0, True), done.out
    proposed = tomllib.loads(change.read_text(encoding="utf-8"))
    loss = proposed["operation"][0]["loss"]["gold"]
    assert lemel("setup", "show", "--book", lossy, "--json").json["changes"][1:] == []  # nothing by itself

    applied = lemel("setup", "change", change, "--book", lossy)
    assert applied.status == 0, applied.err
    assert f'operation["roll"].loss.gold: 0.05% → {loss}' in applied.out
    assert "by W: gold learned from 24 work tickets, 2026-10 to 2026-12" in " ".join(applied.out.split())

    january = [
        bought(901, "ROLL", lot("Z", "10000.00", gold="500", method="FIRE"), at="2027-01-05T08:00"),
        ticket(902, "work", operation="roll", area="ROLL", in_=[lot("Z", "10000.00", all=True)],
               out=[lot("Y", "9988.00", form="coil")], at="2027-01-05T09:00"),
    ]  # fmt: skip
    assert entered(lemel, tmp_path, lossy, january) == 0
    (area,) = [a for a in lemel("reconcile", "2027-01", "--book", lossy, "--json").json["areas"] if a["area"] == "ROLL"]
    assert Fraction(area["allowed"]) == 5000 * Fraction(loss[:-1]) / 100
    (before,) = [a for a in lemel("reconcile", "2026-12", "--book", lossy, "--json").json["areas"]
                 if a["area"] == "ROLL"]  # fmt: skip
    assert Fraction(before["allowed"]) == 8 * 5000 * Fraction(5, 10000)  # what is past keeps its rate


def entered(lemel: Lemel, folder: Path, book: Path, documents: list[dict[str, Any]]) -> int:
    import json

    file = folder / "more.jsonl"
    file.write_text("".join(json.dumps(document) + "\n" for document in documents), encoding="utf-8")
    return lemel("enter", file, "--book", book).status


def test_without_a_name_the_file_is_refused_until_somebody_writes_his_own(
    lemel: Lemel, lossy: Path, tmp_path: Path
) -> None:
    change = tmp_path / "new-rates.toml"
    assert lemel("rates", "--propose", "--to", change, "--book", lossy).status == 0
    refused = lemel("setup", "change", change, "--book", lossy)
    assert (refused.status, "by" in refused.err) == (3, True)
    change.write_text(change.read_text(encoding="utf-8").replace('by = ""', 'by = "W"'), encoding="utf-8")
    assert lemel("setup", "change", change, "--book", lossy).status == 0


def test_the_printed_change_is_the_written_one(lemel: Lemel, lossy: Path, tmp_path: Path) -> None:
    change = tmp_path / "new-rates.toml"
    lemel("rates", "--propose", "--by", "W", "--to", change, "--book", lossy)
    printed = lemel("rates", "--propose", "--by", "W", "--book", lossy).out
    start = printed.index("from = ")
    end = printed.index("Arithmetic on records")
    assert tomllib.loads(printed[start:end]) == tomllib.loads(change.read_text(encoding="utf-8"))


def test_nothing_is_written_over_and_nothing_where_nothing_is_proposed(
    lemel: Lemel, lossy: Path, month: Path, tmp_path: Path
) -> None:
    there = tmp_path / "there.toml"
    there.write_text("mine", encoding="utf-8")
    done = lemel("rates", "--propose", "--to", there, "--book", lossy)
    assert (done.status, done.out, there.read_text(encoding="utf-8")) == (2, "", "mine")
    nothing = lemel("rates", "--propose", "--to", tmp_path / "none.toml", "--book", month, "--operation", "ROLLING")
    assert (nothing.status, (tmp_path / "none.toml").exists()) == (0, False)
    assert "Proposed: nothing" in nothing.out


@pytest.mark.parametrize(
    ("options", "word"),
    [
        (("--by", "W"), "--propose"),
        (("--propose", "--by", "X"), "--by"),
        (("--propose", "--from", "soon"), "--from"),
        (("--operation", "forge"), "--operation"),
        (("--area", "NOWHERE"), "--area"),
        (("--since", "lately"), "--since"),
        (("--metal", "tin"), "--metal"),
    ],
)
def test_called_wrongly(lemel: Lemel, lossy: Path, options: tuple[str, ...], word: str) -> None:
    done = lemel("rates", "--book", lossy, *options)
    assert (done.status, done.out) == (2, "")
    assert done.err.startswith(f"{word}: ")


def test_an_empty_book_says_what_is_wanting(lemel: Lemel, empty: Path) -> None:
    assert "No counted month has a work ticket yet" in lemel("rates", "--book", empty).out
    document = lemel("rates", "--propose", "--book", empty, "--json").json
    assert (document["rates"], document["proposal"]["change"]) == ([], None)
