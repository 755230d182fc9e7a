"""XLSX: text and nothing but text; what a spreadsheet made of a reading is refused at its row and column."""

from __future__ import annotations

import io
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Any
from zipfile import ZIP_DEFLATED, ZipFile

import pytest
from openpyxl import Workbook, load_workbook

from ledger.book.intake import read_file, spreadsheet_parts, xlsx
from ledger.book.intake.columns import template
from ledger.book.intake.rows import Row
from ledger.book.tickets.examples import EXAMPLES
from ledger.refusals import FormRefused
from tests.book.intake.test_intake_csv import _as_rows

HEAD = ("ticket", "kind", "at", "by", "from", "to", "lot", "mass", "scale", "all", "pieces")
DATE = datetime(2026, 10, 5, 9, 30)  # noqa: DTZ001 (as a spreadsheet has it)
FIRST = ("M-1", "move", "2026-10-05T09:30", "hale", "VAULT", "MELT", "0007", "1250.420 g", "S1", "true", "12")


def workbook(*table: Sequence[Any]) -> io.BytesIO:
    book, file = Workbook(), io.BytesIO()
    for row in table:
        book.active.append(row)
    book.save(file)
    return file


def rows(file: io.BytesIO) -> list[Row]:
    return list(xlsx.read(file, "t.xlsx"))


def told(*table: Sequence[Any]) -> list[str]:
    return [str(fault) for row in rows(workbook(*table)) for fault in row.faults]


def changed(column: str, value: Any) -> tuple[Any, ...]:
    return tuple(value if name == column else cell for name, cell in zip(HEAD, FIRST, strict=True))


@pytest.mark.parametrize("document", EXAMPLES, ids=lambda document: document["kind"])
def test_every_example_says_the_same_as_a_sheet(document: dict[str, Any]) -> None:
    header = template(document["kind"]).split(",")
    (row,) = rows(workbook(header, *([line.get(name) for name in header] for line in _as_rows(document))))
    assert row.document == document


def test_text_stays_as_it_was_typed() -> None:
    (row,) = rows(workbook(HEAD, FIRST))
    assert row.document is not None
    line = row.document["lots"][0]
    assert (line["lot"], line["mass"], line["all"], line["pieces"]) == ("0007", "1250.420 g", True, 12)


def test_a_whole_number_of_pieces_and_a_flag_need_not_be_text() -> None:
    (row,) = rows(workbook(HEAD, (*FIRST[:-2], True, 12)))
    assert row.document is not None
    assert (row.document["lots"][0]["all"], row.document["lots"][0]["pieces"]) == (True, 12)


@pytest.mark.parametrize(
    ("column", "value", "words"),
    [
        ("mass", 1250.42, "format the column as text: a spreadsheet number has lost its digits and its unit"),
        ("mass", 1250, "has lost its digits and its unit"),
        ("lot", 7, "has lost its zeros"),
        ("pieces", 1.5, "is a number, not text"),
        ("by", True, "is TRUE or FALSE, not text"),
        ("at", DATE, 'not text → format the column as text, and type it anew: "2026-10-05T14:30"'),
        ("mass", '=CONCATENATE("1250.42"," g")', "is a formula"),
        ("lot", "=A1", "is a formula"),
        ("mass", "#DIV/0!", "is an error of the spreadsheet"),
    ],
)  # fmt: skip
def test_what_is_no_text_is_refused_at_its_row_and_column(column: str, value: Any, words: str) -> None:
    (fault,) = told(HEAD, FIRST, changed(column, value))
    assert fault.startswith("t.xlsx:3, ")
    assert f", {column}: " in fault
    assert words in fault


def test_rows_of_one_number_are_one_ticket_and_blank_rows_nothing() -> None:
    more = (None,) * 6 + ("0008", "10.0 g", None, None, None)
    (row,) = rows(workbook(HEAD, FIRST, (None,) * 11, more, ("", "  ")))
    assert row.document is not None
    assert [line["lot"] for line in row.document["lots"]] == ["0007", "0008"]
    assert dict(row.lines_of) == {"lots": [2, 4]}


def test_a_cell_under_no_column_and_an_unknown_column_are_told() -> None:
    assert told(HEAD, (*FIRST, "astray")) == [
        "t.xlsx:2, ticket M-1: cell 12 stands under no column → give the column its name, or clear the cell"
    ]
    assert told((*HEAD, "masss"), FIRST) == ["t.xlsx:1, masss: is not a known column → did you mean mass?"]


def test_an_empty_workbook_has_no_header() -> None:
    assert [fault.rpartition(" → ")[0] for fault in told()] == [
        "t.xlsx:1: there is no column ticket", "t.xlsx:1: there is no column kind"
    ]  # fmt: skip


def test_a_second_sheet_with_something_on_it_is_refused() -> None:
    book, file = Workbook(), io.BytesIO()
    book.active.append(HEAD)
    book.create_sheet("empty")
    book.save(file)
    assert rows(file) == []
    book.create_sheet("old")["C9"] = "M-7"
    book.save(file)
    with pytest.raises(FormRefused, match="something on 2 sheets"):
        rows(file)


def _without(part: str) -> bytes:
    whole, left = ZipFile(workbook(HEAD, FIRST)), io.BytesIO()
    with ZipFile(left, "w") as parts:
        for name in whole.namelist():
            if name != part:
                parts.writestr(name, whole.read(name))
    return left.getvalue()


def _with_sheet(text: bytes) -> bytes:
    file = io.BytesIO(_without("xl/worksheets/sheet1.xml"))
    with ZipFile(file, "a") as parts:
        parts.writestr("xl/worksheets/sheet1.xml", text)
    return file.getvalue()


@pytest.mark.parametrize(
    "content",
    [
        pytest.param(b"", id="empty"),
        pytest.param(b"PK\x03\x04 and no more", id="no zip"),
        pytest.param(workbook(HEAD, FIRST).getvalue()[:-200], id="cut off"),
        pytest.param(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600, id="old format, or with a password"),
        pytest.param(_without("xl/workbook.xml"), id="no workbook"),
        pytest.param(_without("[Content_Types].xml"), id="no contents"),
        pytest.param(_with_sheet(b"<worksheet><sheetData><row>"), id="a sheet that breaks off"),
        pytest.param(_with_sheet(b"\x00\xff not XML"), id="a sheet that is no XML"),
    ],
)
def test_what_is_no_workbook_is_refused_in_words(content: bytes) -> None:
    with pytest.raises(FormRefused) as refused:
        rows(io.BytesIO(content))
    assert str(refused.value).startswith("t.xlsx: does not read as a workbook: ")
    assert "without a password" in str(refused.value)


def test_a_workbook_that_unpacks_to_too_much_is_refused_unread(monkeypatch: pytest.MonkeyPatch) -> None:
    file = workbook(HEAD, FIRST)
    with ZipFile(file, "a", ZIP_DEFLATED) as parts:
        parts.writestr("xl/media/zeros", b"\0" * 101_000_000)
    assert len(file.getvalue()) < 1_000_000
    monkeypatch.setattr(ZipFile, "open", lambda *_: pytest.fail("it was opened"))
    with pytest.raises(FormRefused, match="100,000,000 are read at most"):
        rows(file)


def test_more_rows_than_are_read_are_refused() -> None:
    book, file = Workbook(write_only=True), io.BytesIO()
    sheet = book.create_sheet()
    sheet.append(HEAD)
    for _ in range(spreadsheet_parts.MOST_ROWS):
        sheet.append(())
    sheet.append(FIRST)
    book.save(file)
    with pytest.raises(FormRefused, match="more than 200,000 rows"):
        rows(file)


def test_a_template_is_text_in_every_column_and_can_be_filled_in(tmp_path: Path) -> None:
    path = tmp_path / "move.xlsx"
    xlsx.write_template(path, template("move").split(","), "move")
    book = load_workbook(path)
    sheet = book.active
    assert sheet.title == "move"
    alike = [(one.min, one.max, one.number_format) for one in sheet.column_dimensions.values()]
    as_text = {place for first, last, form in alike if form == "@" for place in range(first, last + 1)}
    assert as_text == set(range(1, len(template("move").split(",")) + 1))
    filled = dict(zip(HEAD, FIRST, strict=True))
    sheet.append([filled.get(cell.value) for cell in sheet[1]])
    book.save(path)
    (row,) = read_file(path)
    assert row.document is not None
    assert row.document["lots"][0]["lot"] == "0007"
    with pytest.raises(FileExistsError):
        xlsx.write_template(path, ["ticket"], "move")
