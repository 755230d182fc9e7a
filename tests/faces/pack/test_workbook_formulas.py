"""Formulas of the workbook, worked out anew by an office program and by a few lines here, against the kept values."""

from __future__ import annotations

import re
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from openpyxl.utils import get_column_letter, range_boundaries

from ledger.faces.pack.workbook import Heading
from ledger.faces.pack.workbook.formulas import in_cells, in_words, keys_of, worked_out
from tests.faces.pack.workbooks import BALANCE, FIRST, HEADING, by_office, mass, one, opened, without_values, written

#: Two programs may part in the last bit of a float, and one of them writes fifteen digits only.
_LAST_BIT = {"rel": 1e-14, "abs": 1e-10}
_OUNCES = Heading("Larkfield Bench (invented)", "2026-10", "gold", "ozt", "USD", True, 1, "0" * 64, "a seal")


def formulas(content: bytes) -> dict[tuple[str, str], tuple[str, float]]:
    """Return every formula and the value kept with it, by sheet and cell."""
    with_formulas, with_values = opened(content), opened(content, values=True)
    return {
        (page.title, cell.coordinate): (cell.value, with_values[page.title][cell.coordinate].value)
        for page in with_formulas
        for row in page.iter_rows()
        for cell in row
        if cell.data_type == "f"
    }


class Worked:
    """Works out the few functions that the workbook uses, over the cells of one sheet."""

    def __init__(self, page: Any) -> None:
        self.page = page

    def cell(self, address: str) -> float:
        value = self.page[address].value
        return float(self.formula(value) if isinstance(value, str) else value or 0)

    def formula(self, text: str) -> float:
        words = re.sub(r"([A-Z]+\d+):([A-Z]+\d+)", r"cells('\1:\2')", text.removeprefix("="))
        words = re.sub(r"(?<!['\w:])([A-Z]+\d+)(?![\w:(])", r"cell('\1')", words)
        names = {"cell": self.cell, "cells": self.cells, "ROUND": self.round, "SUBTOTAL": self.subtotal}
        return float(eval(words, {"__builtins__": {}}, names))

    def cells(self, area: str) -> list[float]:
        left, top, right, bottom = range_boundaries(area)
        return [self.cell(f"{get_column_letter(column)}{row}")
                for row in range(top, bottom + 1) for column in range(left, right + 1)]  # fmt: skip

    @staticmethod
    def round(value: float, digits: int) -> float:
        """Return the value rounded half away from zero: ISO/IEC 29500-1, 18.17.7, ROUND (from memory)."""
        return float(Decimal(repr(value)).quantize(Decimal(1).scaleb(-digits), ROUND_HALF_UP))

    @staticmethod
    def subtotal(which: int, values: list[float]) -> float:
        """Return the sum that 109 stands for: ISO/IEC 29500-1, 18.17.7, SUBTOTAL (from memory)."""
        assert which == 109
        return sum(values)


@pytest.mark.parametrize("heading", [HEADING, _OUNCES], ids=["g", "ozt"])
def test_kept_values_are_what_the_formulas_come_to(heading: Heading) -> None:
    content = written(BALANCE, heading=heading)
    book, found = opened(content), formulas(content)
    assert len(found) == 2 * len(BALANCE.rows) - 1 + 6  # one z stands empty; six totals
    for (name, _), (formula, kept) in found.items():
        assert Worked(book[name]).formula(formula) == pytest.approx(kept, **_LAST_BIT)


@pytest.mark.parametrize("heading", [HEADING, _OUNCES], ids=["g", "ozt"])
def test_an_office_program_comes_to_the_kept_values(heading: Heading, tmp_path: Path) -> None:
    content = written(BALANCE, heading=heading)
    assert all(value is None for _, value in formulas(without_values(content)).values()), "it has to work them out"
    book = by_office(content, tmp_path)
    for (name, address), (_, kept) in formulas(content).items():
        assert book[name][address].value == pytest.approx(kept, **_LAST_BIT), address


def test_a_total_is_of_the_rows_shown(tmp_path: Path) -> None:
    content = written(one([{"m": "1.0"}, {"m": "20.0"}, {"m": "300.0"}], mass("m", "mass")))
    book = opened(content)
    book.worksheets[1].row_dimensions[FIRST + 1].hidden = True
    book.save(tmp_path / "hidden.xlsx")
    page = by_office((tmp_path / "hidden.xlsx").read_bytes(), tmp_path).worksheets[1]
    assert page.cell(FIRST + 3, 1).value == 301


# ---- identities -------------------------------------------------------------------------------------------------


def test_an_identity_is_worked_out_exactly() -> None:
    figures = {"opening": Fraction(1, 10), "received": Fraction(2, 10), "issued": Fraction(3, 10)}
    assert worked_out("opening + received - issued", figures) == 0
    assert worked_out("(opening - -received) * 10 / issued", figures) == 10


def test_an_identity_that_cannot_be_worked_out_is_nothing() -> None:
    assert worked_out("a / b", {"a": Fraction(1), "b": Fraction(0)}) is None
    assert worked_out("a / b", {"a": Fraction(1)}) is None


@pytest.mark.parametrize("identity", ["a ** 2", "a < 1", "a if a else a", "a(a)", "a[0]", "0.5 * a", "a @ a"])
def test_what_is_no_identity_is_refused(identity: str) -> None:
    with pytest.raises(ValueError, match="no identity"):
        worked_out(identity, dict.fromkeys(keys_of(identity), Fraction(1)))


def test_keys_that_hold_one_another_are_told_apart() -> None:
    identity = "dust.opening + opening_1 - opening"
    assert keys_of(identity) == ["dust.opening", "opening_1", "opening"]
    assert in_cells(identity, {"dust.opening": "A1", "opening_1": "B1", "opening": "C1"}) == "=A1+B1-C1"
    assert in_words(identity, {"opening": "at the opening"}) == "dust.opening + opening_1 - at the opening"
