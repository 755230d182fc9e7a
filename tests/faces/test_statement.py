"""The statement on paper: dust with its σ, receipts, assays and refiners, whole and in eighty columns."""

from __future__ import annotations

import pytest

from ledger.balance.months.statement import reconcile
from ledger.book.holdings import plant_facts
from ledger.faces.printing import cells
from ledger.faces.statement import say_statement
from tests.balance import test_dust as dusty
from tests.balance import test_single_tests as single
from tests.book.plants import Book, Document, bought, lot


def page(capsys: pytest.CaptureFixture[str], book: Book, only: str | None = None) -> list[str]:
    """Return the printed statement's lines, none of them beyond eighty columns."""
    say_statement(reconcile(book.connection, "2026-10"), plant_facts(book.connection), "g", only)
    lines = capsys.readouterr().out.splitlines()
    assert [line for line in lines if cells(line) > 80] == []
    return lines


def words(lines: list[str]) -> str:
    return " ".join(" ".join(lines).split())


def test_dust_before_and_after_a_clean_out(capsys: pytest.CaptureFixture[str]) -> None:
    before = [*dusty.begun(), *dusty.rolled(1)]
    lines = page(capsys, Book(before, dusty.PLANT))
    assert "ROLL 10.000 3.000 0.000 0.000 0.000 13.000 2.131" in words(lines)  # √(2² + 0.3² + 0.6² + 0.3²)
    assert not any(line.split()[-1:] == ["clean-out"] for line in lines)
    lines = page(capsys, Book([*before, dusty.swept(30, "10.000", "400", cleaned_out=True)], dusty.PLANT))
    assert any(line.split() == ["ROLL", "9.000", "0.000", "2.276", "4.0", "short"] for line in lines)
    assert "dust that was accrued and never came: 9.000 g at the clean-out" in words(lines)


def listed(mass: str) -> Document:
    return single.deposit("LIST", declared_mass=f"{mass} g")


def test_receipts(capsys: pytest.CaptureFixture[str]) -> None:
    lines = page(capsys, Book([listed("100.20")]))
    assert any(line.split() == ["LIST", "VAULT", "0.117", "0.004", "26.2", "short"] for line in lines)
    assert "Receipts, list - our own: 1 pair of party and area, all within" in page(capsys, Book([listed("100.00")]))
    nothing = Book([bought(1, "VAULT", lot("A", "1.00", gold="500", scale="S1"))])
    assert "Receipts" not in words(page(capsys, nothing))


def test_assays(capsys: pytest.CaptureFixture[str]) -> None:
    lines = page(capsys, Book(single.assayed("742.5")))
    assert any(line.split() == ["T-0002", "A", "VAULT", "0.750", "0.174", "4.3", "short"] for line in lines)


def test_refiners(capsys: pytest.CaptureFixture[str]) -> None:
    line = lot("R", "100.00", gold="750", method="FIRE", scale="S1")
    book = Book([bought(1, "PLATER", line), single.settled(2, "R", "74.9")])
    said = "of 1 lot known by assay or calculation 1 settled below our figure, 0 above, 0 equal; so uneven by chance: "
    assert f"Refiner REF, last twelve periods: {said}p = 1, within." in words(page(capsys, book))
    assert "Refiner" not in words(page(capsys, book, "PLATER"))
