"""lemel causes: the ranked answer on paper, as a document, and the tickets that settle a cause."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from ledger.faces.printing import cells
from tests.balance.conftest import year_book
from tests.faces.conftest import Lemel

__all__ = ["year_book"]

KEYS = ["area", "period", "metal", "components", "causes", "before", "record", "chain", "seal"]
#: The interface's keys of a cause, and what is added.
CAUSE = {"rank", "cause", "family", "share", "size", "money", "tickets", "lots", "what", "inseparable_from", "parts",
         "residual_z", "check"} | {"areas", "balances", "earlier"}  # fmt: skip


@pytest.fixture(scope="module")
def year(year_book: Path) -> Path:
    return year_book


def test_the_document_has_the_keys_of_the_contract(lemel: Lemel, year: Path) -> None:
    done = lemel("causes", "2026-02", "PRESS", "--book", year, "--json")
    assert (done.status, list(done.json)) == (0, KEYS)
    assert all(set(cause) == CAUSE for cause in done.json["causes"])
    assert [cause["rank"] for cause in done.json["causes"]] == [*range(1, len(done.json["causes"]) + 1)]
    assert [c["family"] for c in done.json["causes"]].count("chance") == 1
    assert lemel("causes", "2026-02", "PRESS", "--book", year, "--json").out == done.out


def test_what_cannot_be_told_apart_says_so_of_one_another(lemel: Lemel, year: Path) -> None:
    causes = lemel("causes", "2026-02", "--book", year, "--json").json["causes"]
    by_rank = {cause["rank"]: cause for cause in causes}
    assert any(cause["inseparable_from"] for cause in causes)
    for cause in causes:
        assert all(cause["rank"] in by_rank[other]["inseparable_from"] for other in cause["inseparable_from"])
        assert set(cause["parts"]) <= set(cause["inseparable_from"])


def test_the_page_keeps_to_eighty_columns_and_ends_with_the_caution(lemel: Lemel, year: Path) -> None:
    page = lemel("causes", "2026-02", "--book", year).out
    assert [line for line in page.splitlines() if cells(line) > 80] == []
    said = " ".join(page.split())
    assert "1628.95 g stands there for 1268.95 g" in said
    assert "no finding about any person" in said
    assert "Verhoeff 1969" in said


def test_the_settling_tickets_enter_and_the_cause_is_gone_and_counted(
    lemel: Lemel, year: Path, tmp_path: Path
) -> None:
    book = Path(shutil.copy(year, tmp_path / "year.lemel"))
    asked = lemel("causes", "2026-02", "PRESS", "--book", book, "--json").json["causes"]
    assert asked[0]["family"] == "transposed"
    settled = ("causes", "2026-02", "PRESS", "--settle", "1", "--by", "NS", "--at", "2026-12-31T09:00")
    tickets = lemel(*settled, "--book", book)
    reversal, corrected = (json.loads(line) for line in tickets.out.splitlines())
    assert (reversal["kind"], reversal["of"], corrected["corrects"]) == ("reverse", "HC-000842", "HC-000842")
    (tmp_path / "settling.jsonl").write_text(tickets.out, encoding="utf-8")
    assert lemel("enter", tmp_path / "settling.jsonl", "--book", book).status == 0
    after = lemel("causes", "2026-02", "PRESS", "--book", book, "--json").json
    assert not any("HC-000842" in cause["tickets"] for cause in after["causes"] if cause["share"] > 0.01)


def test_what_only_a_person_can_correct_is_said(lemel: Lemel, year: Path) -> None:
    causes = lemel("causes", "2026-08", "VAULT", "--book", year, "--json").json["causes"]
    taken = next(cause for cause in causes if cause["family"] == "unticketed")
    done = lemel("causes", "2026-08", "VAULT", "--settle", str(taken["rank"]), "--by", "NS", "--at", "2026-09-01T09:00",
                 "--book", year)  # fmt: skip
    assert done.status == 2
    assert "write-off" in done.err
    assert lemel("causes", "2026-08", "--settle", "999", "--by", "NS", "--at", "x", "--book", year).status == 2
    assert lemel("causes", "2026-08", "--settle", "1", "--book", year).status == 2


@pytest.mark.parametrize("arguments", [("2031-01",), ("nonsense",), ("2026-02", "NOWHERE")])
def test_a_period_or_area_that_is_none_is_told(lemel: Lemel, year: Path, arguments: tuple[str, ...]) -> None:
    done = lemel("causes", *arguments, "--book", year)
    assert done.status in (2, 3)
    assert "Traceback" not in done.err


def test_a_closed_month_is_asked_as_any_other(lemel: Lemel, sealed: Path, month: Path) -> None:
    """The close itself is a record of the month without a number that a ticket could bear."""
    closed, open_ = (lemel("causes", "2026-10", "--book", book, "--json").json["causes"] for book in (sealed, month))
    assert [cause["family"] for cause in closed] == [cause["family"] for cause in open_]


def test_a_question_keeps_its_mark_and_what_moves_nothing_has_no_size(lemel: Lemel, year_book: Path) -> None:
    out = " ".join(lemel("causes", "2026-10", "MELT", "--book", year_book).out.split())
    assert "changed for other metal? size 22.021 g" in out
    assert "less silver than the book has, over 26 lots. moves no gold; 12.2 σ" in out
