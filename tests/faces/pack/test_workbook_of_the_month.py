"""The sample month's workbook: every figure of the pack in it, every formula worked out by an office program."""

from __future__ import annotations

import re
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from ledger.faces.pack.making import Pack
from ledger.faces.pack.schedule import Column, Schedule
from tests.faces.pack.pages import content, figures_of, pack_of
from tests.faces.pack.workbooks import FIRST, HEADER, by_office, opened

#: A troy ounce in grams: NIST Handbook 44, Appendix C.
_OUNCE = Decimal("31.1034768")


@pytest.fixture(scope="module", params=["gold in g", "gross in ozt"])
def pack(request: pytest.FixtureRequest, month: Path) -> Pack:
    metal, unit = request.param.split(" in ")
    return pack_of(month, metal, unit)


def schedules(pack: Pack) -> list[tuple[Any, Any]]:
    """Return each schedule of figures.json with its sheet, found by the title that stands on it."""
    sheets = {page["A1"].value: page for page in opened(content(pack, "pack.xlsx"), values=True).worksheets[1:]}
    every = [
        table
        for section in figures_of(pack)["sections"]
        for table in (*section["schedules"], *(picture["figures"] for picture in section["pictures"]))
    ]
    assert len({table["key"] for table in every}) == len(sheets)
    return [(table, sheets[table["title"]]) for table in every]


def test_every_figure_that_programs_read_stands_in_its_cell(pack: Pack) -> None:
    gram = _OUNCE if pack.heading.unit == "ozt" else Decimal(1)
    compared = 0
    for table, page in schedules(pack):
        for number, row in enumerate(table["rows"], FIRST):
            for place, column in enumerate(table["columns"], 1):
                figure, read = row[column["key"]], page.cell(number, place).value
                where = (table["key"], number, column["key"])
                if figure is None or column["kind"] in ("text", "when"):
                    words = "" if figure is None else str(figure)
                    assert (read or "") == (words.replace("T", " ") if column["kind"] == "when" else words), where
                else:
                    exact = Decimal(str(figure)) / (gram if column["kind"] == "mass" else 1)
                    assert read == pytest.approx(float(exact), rel=1e-14, abs=1e-12), where
                    compared += 1
    assert compared > 500


def test_every_column_that_follows_from_others_is_live(pack: Pack) -> None:
    """No row of the month breaks an identity: none stands there as a bare number."""
    book = opened(content(pack, "pack.xlsx"))
    assert not [page.title for page in book for cell in page["A"] if str(cell.value).startswith("Not so")]
    pages = {page["A1"].value: page for page in book.worksheets[1:]}
    for section in pack.sections:
        for schedule in section.schedules:
            for place, column in enumerate(schedule.columns, 1):
                if column.formula is not None:
                    _assert_live(schedule, column, pages[schedule.title], place)


def _assert_live(schedule: Schedule, column: Column, page: Any, place: int) -> None:
    for number, row in enumerate(schedule.rows, FIRST):
        expected = "f" if row.get(column.key) is not None else "n"
        assert page.cell(number, place).data_type == expected, (schedule.key, column.key, number)


def test_an_office_program_works_every_formula_out_to_what_is_kept(pack: Pack, tmp_path: Path) -> None:
    workbook = content(pack, "pack.xlsx")
    kept, worked = opened(workbook, values=True), by_office(workbook, tmp_path)
    compared = 0
    for page in opened(workbook):
        for row in page.iter_rows(min_row=HEADER):
            for cell in row:
                if cell.data_type == "f":
                    ours, theirs = (book[page.title][cell.coordinate].value for book in (kept, worked))
                    near = pytest.approx(ours, rel=1e-14, abs=_last_digits(cell.value))
                    assert theirs == near, (page.title, cell.coordinate, cell.value)
                    compared += 1
    assert compared > 100


def _last_digits(formula: str) -> float:
    """Return two of the last digit that a formula is rounded to: σ itself carries no more of them."""
    rounded = re.fullmatch(r"=ROUND\(.*,(\d+)\)", formula)
    assert rounded is not None, formula
    return 2 / 10 ** int(rounded.group(1))


def test_the_same_book_gives_the_same_workbook(month: Path, gold: Pack) -> None:
    assert content(pack_of(month), "pack.xlsx") == content(gold, "pack.xlsx")
