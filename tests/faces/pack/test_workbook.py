"""The workbook, read back by a reader library: every number, head, link and setting as the schedules have it."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from ledger.faces.caution import CAUTION
from ledger.faces.pack.schedule import Column, Picture, Section
from ledger.faces.pack.workbook import Heading, workbook_bytes, write_workbook
from tests.faces.pack.workbooks import BALANCE, FIRST, HEADER, HEADING, mass, one, opened, section, sheet, written

_EXACT = Decimal("0.000000001")


def test_every_number_is_the_schedules() -> None:
    page = sheet(BALANCE)
    for number, row in enumerate(BALANCE.rows, FIRST):
        for place, column in enumerate(BALANCE.columns, 1):
            read, cell = page.cell(number, place).value, row[column.key]
            if column.kind == "mass" and cell is not None:
                assert Decimal(read).quantize(_EXACT) == Decimal(str(cell)).quantize(_EXACT)
            elif column.kind == "money":
                assert f"{read:.2f}" == cell
            elif column.kind == "when":
                assert read == (cell and str(cell).replace("T", " ")), "as the page prints it"
            else:
                assert read == cell


def test_masses_are_in_the_unit_of_the_pack() -> None:
    """31.103 476 8 g to the troy ounce: NIST Handbook 44, Appendix C."""
    heading = Heading("Larkfield", "2026-10", "gold", "ozt", "USD", False, 1, "0" * 64)
    page = sheet(one([{"m": "31.103476800"}, {"m": "-1000.000000001"}], mass("m", "mass")), heading=heading)
    assert page.cell(HEADER, 1).value == "mass, ozt"
    assert page.cell(FIRST, 1).value == 1
    assert page.cell(FIRST + 1, 1).value == pytest.approx(-32.15074656865989, rel=1e-14)


def test_heads_carry_their_units() -> None:
    heads = [cell.value for cell in sheet(BALANCE)[HEADER]]
    assert heads[:2] == ["area", "opening, g"]
    assert heads[6:10] == ["σ, g", "z", "value, USD", "of throughput"]


@pytest.mark.parametrize(
    ("kind", "cell", "form"),
    [
        ("mass", "1.5", '[>=0.0005]#,##0.000;[<=-0.0005]-#,##0.000;"0.000"'),
        ("money", "1.5", '[>=0.005]#,##0.00;[<=-0.005]-#,##0.00;"0.00"'),
        ("number", 1.5, '[>=0.005]#,##0.00;[<=-0.005]-#,##0.00;"0.00"'),
        ("number", 0.0042, "0.0000"),
        ("number", -0.00042, "0.00000"),
        ("number", 4.2e-9, "0.0E+00"),
        ("share", 0.5, '[>=0.00005]#,##0.00 %;[<=-0.00005]-#,##0.00 %;"0.00 %"'),
        ("count", 3, "#,##0"),
    ],
)
def test_number_formats_show_what_people_are_shown(kind: Any, cell: Any, form: str) -> None:
    assert sheet(one([{"x": cell}], Column("x", "x", kind))).cell(FIRST, 1).number_format == form


def test_an_empty_cell_stays_empty_and_zero_is_zero() -> None:
    page = sheet(one([{"m": None, "t": ""}, {"m": "0.000000000", "t": "0"}], mass("m", "mass"), Column("t", "t")))
    assert page.cell(FIRST, 1).value is None
    assert page.cell(FIRST + 1, 1).value == 0
    assert page.cell(FIRST + 1, 2).value == "0"


def test_words_that_look_like_numbers_stay_words() -> None:
    page = sheet(one([{"lot": "0007"}, {"lot": "1e5"}, {"lot": "https://example.org"}], Column("lot", "lot")))
    cells = [page.cell(row, 1) for row in range(FIRST, FIRST + 3)]
    assert [(cell.value, cell.data_type, cell.hyperlink) for cell in cells] == [
        ("0007", "s", None), ("1e5", "s", None), ("https://example.org", "s", None),
    ]  # fmt: skip


def test_what_is_no_number_is_written_as_words() -> None:
    page = sheet(one([{"z": float("nan")}, {"z": float("inf")}], Column("z", "z", "number")))
    assert [page.cell(row, 1).value for row in (FIRST, FIRST + 1)] == ["nan", "inf"]


# ---- formulas ---------------------------------------------------------------------------------------------------


def test_columns_that_follow_from_others_are_formulas_over_their_row() -> None:
    page = sheet(BALANCE, values=False)
    assert page["F6"].value == "=ROUND(B6+C6-D6-E6,9)"
    assert page["H8"].value == "=ROUND(F8/G8,6)"


def test_totals_are_formulas_over_the_rows_shown_and_keep_their_sum() -> None:
    total = FIRST + len(BALANCE.rows)
    assert sheet(BALANCE, values=False).cell(total, 2).value == "=ROUND(SUBTOTAL(109,B6:B8),9)"
    page = sheet(BALANCE)
    assert page.cell(total, 1).value == "total"
    assert Decimal(page.cell(total, 2).value).quantize(_EXACT) == Decimal("1001250.720000000")
    assert page.cell(total, 9).value == pytest.approx(187.92 - 253)
    assert page.cell(total, 11).value == 4333
    assert page.cell(total, 6).value is None, "gains are not netted against losses"


def test_a_figure_that_its_row_does_not_give_stands_as_a_number_and_that_is_said() -> None:
    columns = (mass("a", "in"), mass("b", "out"), mass("d", "left", "a - b"))
    page = sheet(one([{"a": "3.0", "b": "1.0", "d": "2.0"}, {"a": "3.0", "b": "1.0", "d": "2.1"},
                      {"a": None, "b": "1.0", "d": "5.0"}], *columns), values=False)  # fmt: skip
    assert [page.cell(row, 3).value for row in range(FIRST, FIRST + 3)] == ["=ROUND(A6-B6,9)", 2.1, 5]
    notes = [cell.value for cell in page["A"]]
    assert "left = in - out, worked out in each row." in notes
    assert "Not so in 2 cells: what the book says stands there as a number." in notes


# ---- the sheet --------------------------------------------------------------------------------------------------


def test_a_sheet_is_frozen_filtered_and_set_for_paper() -> None:
    page = sheet(BALANCE)
    assert page.freeze_panes == f"B{FIRST}"
    assert page.auto_filter.ref == f"A{HEADER}:M{FIRST + 2}"
    assert page.page_setup.orientation == "landscape"
    assert (page.sheet_properties.pageSetUpPr.fitToPage, page.page_setup.fitToHeight) == (True, 0)
    assert page.print_title_rows == f"${HEADER}:${HEADER}"
    assert page.oddHeader.left.text == HEADING.plant
    assert page.oddHeader.right.text == "Month-end pack, 2026-10, not closed"
    assert page.oddFooter.right.text == "gold, in g, page &P of &N"


def test_every_column_is_wide_enough_for_its_figures() -> None:
    page = sheet(BALANCE)
    assert page.column_dimensions["B"].width >= len("1,001,250.720")
    assert page.column_dimensions["F"].width >= len("difference, g")


def test_the_notes_stand_below() -> None:
    below = [cell.value for cell in sheet(BALANCE)["A"][FIRST + len(BALANCE.rows) :] if cell.value]
    assert below == [
        "A share is of what the area newly received.",
        "difference = opening + received - issued - closing, worked out in each row.",
        "z = difference / σ, worked out in each row.",
        "A total is of the rows shown: a filter changes it.",
    ]


def test_an_empty_schedule_says_so() -> None:
    page = sheet(one([], Column("a", "area"), mass("m", "mass")))
    assert page.cell(FIRST, 1).value == "none"
    assert page.auto_filter.ref is None
    assert "total" not in [cell.value for cell in page["A"]]


# ---- the first sheet, and the file ------------------------------------------------------------------------------


def test_the_first_sheet_says_what_it_is() -> None:
    page = opened(written(BALANCE)).worksheets[0]
    said = {row[0].value: row[1].value for row in page.iter_rows(min_row=3, max_row=10)}
    assert page["A1"].value == "Month-end pack, 2026-10, not closed"
    assert said["plant"] == HEADING.plant
    assert said["sign"] == "A difference is + where metal is missing."
    assert said["figures"].startswith("gold, in g")
    assert said["book"] == "as of record 1,234, chain 0123456789abcdef"
    assert said["last seal"] == "none: no period has been closed"


def test_the_first_sheet_leads_to_every_other_and_each_leads_back() -> None:
    book = opened(written(BALANCE, one([], Column("a", "a"), title="Bob's [odd] sheet: a/b")))
    links = [cell.hyperlink.location for row in book.worksheets[0].iter_rows() for cell in row if cell.hyperlink]
    assert links == [f"'{name}'!A1" for name in book.sheetnames[1:]]
    assert {page["A3"].hyperlink.location for page in book.worksheets[1:]} == {"'Contents'!A1"}


def test_a_pictures_figures_have_a_sheet_and_a_schedule_only_one() -> None:
    figures = one([{"a": "x"}], Column("a", "a"), title="Figures of the picture", key="figures")
    picture = Picture("p", "Picture", "It shows.", "It shows.", "<svg/>", figures)
    sections = [*section(BALANCE), Section("t", "Other", (), (BALANCE,), (picture,))]
    names = opened(workbook_bytes(sections, HEADING)).sheetnames
    assert names == ["Contents", "Balance of each area", "Figures of the picture"]


def test_the_caution_about_persons_ends_every_sheet_of_its_section() -> None:
    cautioned = Section("c", "Causes", (CAUTION,), (one([{"a": "x"}], Column("a", "a")),))
    book = opened(workbook_bytes([*section(BALANCE), cautioned], HEADING))
    assert [CAUTION in [cell.value for cell in page["A"]] for page in book.worksheets[1:]] == [False, True]
    assert CAUTION in [cell.value for cell in book.worksheets[0]["B"]]


def test_the_same_figures_are_the_same_bytes() -> None:
    assert written(BALANCE) == written(BALANCE)


def test_it_is_written_over_what_was_there(tmp_path: Path) -> None:
    path = tmp_path / "pack.xlsx"
    path.write_bytes(b"of the month before")
    write_workbook(path, section(BALANCE), HEADING)
    assert path.read_bytes() == written(BALANCE)
