"""The cells of a workbook, whoever wrote it; and what goes beyond a bound, or is damaged, refused in words."""

from __future__ import annotations

import shutil
import subprocess
from io import BytesIO
from pathlib import Path
from zipfile import ZipFile

import pytest
from openpyxl import Workbook

from ledger.book.intake import spreadsheet, spreadsheet_parts
from ledger.book.intake.spreadsheet import Cell, Line, Unreadable, lines
from tests.book.intake.workbooks import (
    FIRST,
    HEAD,
    MAIN,
    SHEET,
    STYLES,
    TEXTS,
    changed,
    inline,
    part,
    sheet,
    texts,
    written,
)  # fmt: skip

BOOK = written(HEAD, FIRST)
ROW = [list(HEAD), list(FIRST)]


def read(content: bytes) -> list[Line]:
    return list(lines(BytesIO(content)))


def cells(rows: bytes, **parts: bytes) -> list[Cell]:
    """Return the cells of the first row of a sheet."""
    other = {f"xl/{name}.xml": text for name, text in parts.items()}
    return read(changed(BOOK, {SHEET: sheet(rows), **other}))[0].cells


def words(content: bytes) -> list[list[str]]:
    return [[cell.text for cell in line.cells] for line in read(content)]


# ---- whoever wrote it -------------------------------------------------------------------------------------------


def test_two_writer_libraries() -> None:
    book, file = Workbook(), BytesIO()
    for row in ROW:
        book.active.append(row)
    book.save(file)
    assert words(BOOK) == words(file.getvalue()) == ROW


@pytest.mark.skipif(shutil.which("soffice") is None, reason="LibreOffice is not installed: soffice is not on the path")
def test_an_office_program(tmp_path: Path) -> None:
    (tmp_path / "t.csv").write_text("\n".join(",".join(row) for row in ROW), encoding="utf-8")
    profile, as_text = (tmp_path / "profile").as_uri(), "44,34,76,1," + "/".join(f"{n}/2" for n in range(1, 10))
    subprocess.run(["soffice", f"-env:UserInstallation={profile}", "--headless", f"--infilter=CSV:{as_text}",
                    "--convert-to", "xlsx", "--outdir", str(tmp_path), str(tmp_path / "t.csv")],
                   check=True, capture_output=True, timeout=120)  # fmt: skip
    assert words((tmp_path / "t.xlsx").read_bytes()) == ROW


def test_other_prefixes_and_the_strict_form_of_the_standard() -> None:
    strict = "http://purl.oclc.org/ooxml/spreadsheetml/main"
    text = f'<x:worksheet xmlns:x="{strict}"><x:sheetData><x:row r="3"><x:c r="C3" t="inlineStr"><x:is><x:t>a</x:t>'
    text += "</x:is></x:c></x:row></x:sheetData></x:worksheet>"
    assert read(changed(BOOK, {SHEET: text.encode()})) == [Line(3, [Cell(2, "text", "a")])]


def test_parts_elsewhere_found_by_their_relationships() -> None:
    links = part(BOOK, "xl/_rels/workbook.xml.rels").replace(b"worksheets/sheet1.xml", b"/elsewhere/one.xml")
    parts = {"xl/_rels/workbook.xml.rels": links, "elsewhere/one.xml": part(BOOK, SHEET), SHEET: b"no XML"}
    assert words(changed(BOOK, parts)) == ROW


def test_rows_and_cells_without_their_address_follow_each_other() -> None:
    text = sheet(b'<row/><row><c/><c><v>1</v></c><c r="E2"><v>2</v></c><c><v>3</v></c></row>')
    assert read(changed(BOOK, {SHEET: text})) == [
        Line(2, [Cell(1, "number", "1"), Cell(4, "number", "2"), Cell(5, "number", "3")])
    ]


def test_a_text_in_runs_is_one_and_how_it_is_spoken_no_part_of_it() -> None:
    item = b"<si><r><t>M-</t></r><r><rPr/><t>12</t></r><rPh><t>em</t></rPh></si>"
    assert cells(b'<row><c t="s"><v>0</v></c></row>', sharedStrings=texts(item)) == [Cell(0, "text", "M-12")]


@pytest.mark.parametrize(
    ("text", "stands_for"),
    [("a_x0009_b", "a\tb"), ("_x005F_x0041_", "_x0041_"), ("_xD83D_", "_xD83D_"), ("_x9_", "_x9_")],
)
def test_characters_written_out(text: str, stands_for: str) -> None:
    """ISO/IEC 29500-1, 22.9.2.19 (from memory); half a pair (UTF-16) stays as it is written."""
    assert cells(inline(text)) == [Cell(0, "text", stands_for)]


@pytest.mark.parametrize(
    ("cell", "kind", "text"),
    [
        (b"<c><v>7</v></c>", "number", "7"),
        (b'<c t="b"><v>1</v></c>', "flag", "1"),
        (b'<c t="e"><v>#N/A</v></c>', "error", "#N/A"),
        (b'<c t="d"><v>2026-10-05</v></c>', "date", "2026-10-05"),
        (b"<c><f>1+1</f><v>2</v></c>", "formula", "2"),
        (b'<c t="str"><f>A2</f><v>10 g</v></c>', "formula", "10 g"),
        (b'<c><f t="shared" si="0"/></c>', "formula", ""),
        (b'<c t="s"><f>A2</f><v>0</v></c>', "formula", "ticket"),
    ],
)  # fmt: skip
def test_kinds_of_cells(cell: bytes, kind: str, text: str) -> None:
    assert cells(b"<row>" + cell + b"</row>") == [Cell(0, kind, text)]


@pytest.mark.parametrize(
    ("form", "kind"),
    [("14", "date"), ("22", "date"), ("0", "number"), ("2", "number"), ("49", "number"), ("170", "date"),
     ("171", "number")],
)  # fmt: skip
def test_a_number_shown_as_a_date_is_a_date(form: str, kind: str) -> None:
    """14 to 22 are the built-in dates and times: ISO/IEC 29500-1, 18.8.30 (from memory)."""
    forms = '<numFmt numFmtId="170" formatCode="[$-409]d\\-mmm"/>'
    forms += '<numFmt numFmtId="171" formatCode="0.0 &quot;dwt&quot;[Red]"/>'
    styles = f'<styleSheet xmlns="{MAIN}"><numFmts>{forms}</numFmts><cellStyleXfs><xf numFmtId="14"/></cellStyleXfs>'
    styles += f'<cellXfs><xf numFmtId="0"/><xf numFmtId="{form}"/></cellXfs></styleSheet>'
    assert cells(b'<row><c s="1"><v>46300</v></c></row>', styles=styles.encode()) == [Cell(0, kind, "46300")]


def test_without_shared_texts_and_styles() -> None:
    links = part(BOOK, "xl/_rels/workbook.xml.rels").split(b"<Relationship ")
    kept = b"<Relationship ".join(link for link in links if b"sharedStrings" not in link and b"styles" not in link)
    kept = kept if kept.endswith(b"</Relationships>") else kept + b"</Relationships>"
    bare = changed(BOOK, {"xl/_rels/workbook.xml.rels": kept, SHEET: sheet(inline("a")), TEXTS: b"", STYLES: b""})
    assert words(bare) == [["a"]]


# ---- what is refused --------------------------------------------------------------------------------------------

LAUGHS = b'<!DOCTYPE x [<!ENTITY a "ha">' + b"".join(
    b'<!ENTITY %c "%s">' % (98 + i, b"&%c;" % (97 + i) * 10) for i in range(9)
) + b"]>"  # fmt: skip
OUTSIDE = b'<!DOCTYPE x [<!ENTITY j SYSTEM "file:///etc/passwd">]>'


@pytest.mark.parametrize("name", [SHEET, TEXTS, STYLES, "xl/workbook.xml", "_rels/.rels"])
@pytest.mark.parametrize("types", [LAUGHS, OUTSIDE, b"<!DOCTYPE x>"], ids=["laughs", "outside", "bare"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_a_document_type_is_refused_in_whatever_part(name: str, types: bytes, encoding: str) -> None:
    text = f'<?xml version="1.0" encoding="{encoding}"?>{types.decode()}<x>&j;</x>'.encode(encoding)
    with pytest.raises(Unreadable, match="a document type, which no workbook has"):
        read(changed(BOOK, {name: text}))


@pytest.mark.parametrize(
    ("rows", "why"),
    [
        (b'<row r="2"/><row r="1"/>', "out of order"),
        (b'<row r="2"/><row r="2"/>', "out of order"),
        (b'<row r="1"><c r="B1"/><c r="A1"/></row>', "out of order"),
        (b'<row r="1"><c r="A1"/><c r="A1"/></row>', "out of order"),
        (b'<row r="1"><c r="AAAA1"/></row>', "is no cell"),
        (b'<row><c t="s"><v>99</v></c></row>', "a text that is not there"),
        (b'<row><c t="s"><v>-1</v></c></row>', "a text that is not there"),
        (b'<row r="200001"><c><v>1</v></c></row>', "more than 200,000 rows"),
        (b'<row><c r="ALM1"><v>1</v></c></row>', "beyond its first 1,000 columns"),
        (inline("9" * 32_768), "a cell holds more than 32,767 characters"),
        (b"<row><c><v>" + b"9" * 32_768 + b"</v></c></row>", "a cell holds more than 32,767 characters"),
        (b"<a>" * 30_000, "tags without end"),
        (b"<!--" + b"a" * 1_200_000 + b"-->", "tags without end"),
        (b'<a b="' + b"a" * 1_200_000 + b'"/>', "tags without end"),
    ],
)
def test_what_no_sheet_is(rows: bytes, why: str) -> None:
    with pytest.raises(Unreadable, match=why):
        read(changed(BOOK, {SHEET: sheet(rows)}))


def test_bounds_on_all_parts_together(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(spreadsheet_parts, "MOST_ELEMENTS", 1000)
    rows = b"<row><c/></row>" * 600
    with pytest.raises(Unreadable, match="more than 1,000 elements"):
        read(changed(BOOK, {SHEET: sheet(rows)}))
    monkeypatch.undo()
    monkeypatch.setattr(spreadsheet_parts, "MOST_CHARACTERS", 1000)
    shared = texts(b"<si><t>" + b"a" * 100 + b"</t></si>")
    with pytest.raises(Unreadable, match="more than 1,000 characters"):
        read(changed(BOOK, {SHEET: sheet(b'<row><c t="s"><v>0</v></c></row>' * 10), TEXTS: shared}))


def test_a_file_larger_than_is_read_is_refused_unopened(tmp_path: Path) -> None:
    with (tmp_path / "large").open("wb+") as file:
        file.truncate(spreadsheet.LARGEST_FILE + 1)
        with pytest.raises(Unreadable, match="larger than 20,000,000 bytes"):
            list(lines(file))


def test_a_size_that_is_a_lie_gives_no_more_than_it_says() -> None:
    """A zip may say that a part is small: no more than that is unpacked, and the check sum does not fit."""
    content = changed(BOOK, {SHEET: sheet(b" " * 5_000_000)})
    with ZipFile(BytesIO(content)) as parts:
        size = parts.getinfo(SHEET).file_size
    with pytest.raises(Exception, match=r"CRC|no element|tag"):
        read(content.replace(size.to_bytes(4, "little"), (5000).to_bytes(4, "little")))


def test_a_part_that_stands_for_many_sheets_is_read_once() -> None:
    named = b"".join(b'<sheet name="s%d" sheetId="%d" r:id="rId1"/>' % (n, n) for n in range(2, 2000))
    book = part(BOOK, "xl/workbook.xml").replace(b"</sheets>", named + b"</sheets>")
    assert words(changed(BOOK, {"xl/workbook.xml": book})) == ROW


def test_two_sheets_of_one_name_are_two() -> None:
    second = b'<sheet name="Sheet1" sheetId="2" r:id="rIdB"/></sheets>'
    two = part(BOOK, "xl/workbook.xml").replace(b"</sheets>", second)
    links = part(BOOK, "xl/_rels/workbook.xml.rels")
    link = links[links.index(b"<Relationship ") : links.index(b"/>") + 2].replace(b"rId1", b"rIdB")
    links = links.replace(b"</Relationships>", link.replace(b"sheet1.xml", b"sheet2.xml") + b"</Relationships>")
    other = {"xl/workbook.xml": two, "xl/_rels/workbook.xml.rels": links, "xl/worksheets/sheet2.xml": part(BOOK, SHEET)}
    with pytest.raises(Unreadable, match="something on 2 sheets, 'Sheet1' and 'Sheet1' first"):
        read(changed(BOOK, other))
