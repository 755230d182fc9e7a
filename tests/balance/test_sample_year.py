"""The sample year: the script makes the committed bytes, the engine takes every ticket, and the troubles are there.

The year is simulated by sample_books/make_year.py, which knows the truth and nothing of the ledger: what it planted is
the outside figure that these tests check against.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from ledger.balance.months.statement import reconcile
from ledger.book.entering import enter
from ledger.book.intake import read_file
from ledger.book.opening import new_book
from ledger.book.store import reading, writing
from ledger.book.verifying import verify
from ledger.plant.toml_file import read_setup

BOOKS = Path(__file__).parents[2] / "sample_books"
YEAR = BOOKS / "year"
MONTHS = [f"2026-{month:02d}" for month in range(1, 13)]
FAMILIES = {
    "transposed", "digit", "decimal", "unit", "tare", "karat", "duplicate", "missing_ticket", "uncounted",
    "counted_twice", "wrong_area", "wrong_period", "scale", "determination", "estimate", "settlement", "substituted",
    "unticketed",
}  # fmt: skip


def _make(*arguments: str) -> None:
    subprocess.run([sys.executable, str(BOOKS / "make_year.py"), *arguments], check=True, timeout=60)


def _entered(folder: Path, book: Path) -> Path:
    new_book(book, read_setup(folder / "plant.toml"), "test")
    with writing(book) as connection:
        enter(connection, read_file(folder / "tickets.jsonl"), "test")
    return book


@pytest.fixture(scope="module")
def tickets() -> list[dict[str, Any]]:
    return [json.loads(line) for line in (YEAR / "tickets.jsonl").read_text(encoding="utf-8").splitlines()]


@pytest.fixture(scope="module")
def troubles() -> list[dict[str, Any]]:
    told: list[dict[str, Any]] = json.loads((YEAR / "truth.json").read_text(encoding="utf-8"))["troubles"]
    return told


@pytest.fixture
def book(year_book: Path) -> Path:
    return year_book


@pytest.fixture
def statements(year_statements: dict[str, dict[str, Any]]) -> dict[str, dict[str, Any]]:
    return year_statements


def _area(statements: dict[str, dict[str, Any]], month: str, area: str) -> dict[str, Any]:
    found: dict[str, Any] = next(a for a in statements[month]["areas"] if a["area"] == area)
    return found


def test_script_makes_the_committed_bytes(tmp_path: Path) -> None:
    _make("--out", str(tmp_path))
    for name in ("plant.toml", "tickets.jsonl", "truth.json"):
        assert (tmp_path / name).read_bytes() == (YEAR / name).read_bytes(), name


def test_size_of_the_year(tickets: list[dict[str, Any]]) -> None:
    assert 5000 <= len(tickets) <= 7000
    assert (YEAR / "tickets.jsonl").stat().st_size < 6_000_000
    assert len({ticket["ticket"] for ticket in tickets}) == len(tickets)


def test_every_kind_of_ticket_of_the_floor_is_there(tickets: list[dict[str, Any]]) -> None:
    from ledger.book.tickets import KINDS

    assert {ticket["kind"] for ticket in tickets} == set(KINDS) - {"writeoff"}  # nobody has answered for anything yet


def test_jobs_run_over_every_kind_of_boundary(tickets: list[dict[str, Any]]) -> None:
    jobs: dict[str, list[str]] = {}
    for ticket in tickets:
        if "job" in ticket:
            jobs.setdefault(ticket["job"], []).append(ticket["at"])
    assert sum(at[0][:10] != at[-1][:10] for at in jobs.values()) > 50  # over midnight
    assert sum(at[0][:7] != at[-1][:7] for at in jobs.values()) >= 3  # over a month-end


def test_every_family_is_planted(troubles: list[dict[str, Any]]) -> None:
    assert {trouble["family"] for trouble in troubles} == FAMILIES
    assert any(trouble.get("trickle") for trouble in troubles)


def test_troubles_name_tickets_and_lots_that_exist(
    tickets: list[dict[str, Any]], troubles: list[dict[str, Any]]
) -> None:
    numbers = {ticket["ticket"] for ticket in tickets}
    named = {
        line.get("lot") or line["bin"] for t in tickets for side in ("in", "out", "lots") for line in t.get(side, ())
    }
    named |= {ticket["job"] for ticket in tickets if "job" in ticket}
    for trouble in troubles:
        assert trouble["lots"], trouble["id"]
        assert set(trouble["lots"]) <= named, trouble["id"]
        assert {*trouble["tickets"], trouble["visible"]["ticket"]} <= numbers, trouble["id"]


def test_missing_shipment_leaves_its_number_unused_and_every_other_gap_is_void(
    tickets: list[dict[str, Any]], troubles: list[dict[str, Any]]
) -> None:
    used = {int(ticket["ticket"][3:]) for ticket in tickets}
    void = {int(number[3:]) for ticket in tickets if ticket["kind"] == "void" for number in ticket["numbers"]}
    missing = [int(t["missing_number"][3:]) for t in troubles if t["family"] == "missing_ticket"]
    assert sorted(set(range(1, max(used) + 1)) - used - void) == sorted(missing)


def test_year_verifies(book: Path) -> None:
    with reading(book) as connection:
        assert verify(connection) == []


def test_every_area_is_counted_every_month(statements: dict[str, dict[str, Any]]) -> None:
    for month, statement in statements.items():
        verdicts = {area["area"]: area["verdict"] for area in statement["areas"]}
        assert len(verdicts) == 13
        assert not {"uncounted", "unrated"} & set(verdicts.values()), (month, verdicts)


def test_origins_sum_to_the_gross_loss(statements: dict[str, dict[str, Any]]) -> None:
    for statement in statements.values():
        for area in statement["areas"]:
            parts = sum(round(float(x) * 1e9) for x in area["difference_from"].values())
            assert parts == round(float(area["gross_loss"]) * 1e9)


@pytest.mark.parametrize(
    ("family", "sign"),
    [("missing_ticket", 1), ("duplicate", 1), ("wrong_period", 1), ("uncounted", -1), ("counted_twice", -1)],
)
def test_whole_lots_show_in_their_own_area_and_month(
    family: str, sign: int, troubles: list[dict[str, Any]], statements: dict[str, dict[str, Any]]
) -> None:
    # What the book has too much of is missing at the count; a count that found too little shows as missing, too.
    trouble = next(t for t in troubles if t["family"] == family)
    shown = float(_area(statements, trouble["visible"]["month"], trouble["area"])["unexplained"])
    assert shown == pytest.approx(sign * float(trouble["size"]["gold"].split()[0]), abs=0.5)


def test_single_taking_shows_in_the_vault(
    troubles: list[dict[str, Any]], statements: dict[str, dict[str, Any]]
) -> None:
    taking = next(t for t in troubles if t["family"] == "unticketed" and t["area"] == "VAULT")
    assert float(_area(statements, taking["month"], "VAULT")["unexplained"]) == pytest.approx(8.4, abs=0.5)


@pytest.mark.study
def test_honest_year_closes(tmp_path: Path) -> None:
    """Without troubles no area is out by more than 2 g of gold in any month; with them many are."""
    _make("--honest", str(tmp_path))
    assert json.loads((tmp_path / "truth.json").read_text(encoding="utf-8"))["troubles"] == []
    with reading(_entered(tmp_path, tmp_path / "honest.lemel")) as connection:
        for month in MONTHS:
            for area in reconcile(connection, month)["areas"]:
                assert abs(float(area["unexplained"])) < 2, (month, area["area"])
