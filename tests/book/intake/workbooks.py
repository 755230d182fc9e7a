"""Workbooks part by part, as a program of another house, or somebody with bad intent, might write them."""

from __future__ import annotations

from io import BytesIO
from zipfile import ZIP_DEFLATED, ZipFile

from xlsxwriter import Workbook

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
SHEET, TEXTS, STYLES = "xl/worksheets/sheet1.xml", "xl/sharedStrings.xml", "xl/styles.xml"
HEAD = ("ticket", "kind", "at", "by", "from", "to", "lot", "mass", "scale")
FIRST = ("M-1", "move", "2026-10-05T09:30", "hale", "VAULT", "MELT", "0007", "1250.420 g", "S1")


def written(*rows: tuple[str, ...]) -> bytes:
    """Return a workbook of texts, as the writer library makes it: texts shared, in a part of their own."""
    file = BytesIO()
    workbook = Workbook(file, {"in_memory": True, "strings_to_formulas": False})
    sheet = workbook.add_worksheet()
    for number, row in enumerate(rows):
        sheet.write_row(number, 0, row)
    workbook.close()
    return file.getvalue()


def changed(content: bytes, parts: dict[str, bytes]) -> bytes:
    """Return a workbook with other parts, in the place of those of the name or beside them."""
    file = BytesIO()
    with ZipFile(BytesIO(content)) as old, ZipFile(file, "w", ZIP_DEFLATED, compresslevel=1) as new:
        for name in dict.fromkeys([*old.namelist(), *parts]):
            new.writestr(name, parts[name] if name in parts else old.read(name))
    return file.getvalue()


def part(content: bytes, name: str) -> bytes:
    """Return one part of a workbook."""
    with ZipFile(BytesIO(content)) as parts:
        return parts.read(name)


def sheet(rows: bytes) -> bytes:
    """Return the part of a sheet with these rows."""
    return f'<worksheet xmlns="{MAIN}"><sheetData>'.encode() + rows + b"</sheetData></worksheet>"


def texts(items: bytes) -> bytes:
    """Return the part of the shared texts."""
    return f'<sst xmlns="{MAIN}">'.encode() + items + b"</sst>"


def inline(*cells: str) -> bytes:
    """Return a row of texts that are no shared ones."""
    return b"<row>" + b"".join(f'<c t="inlineStr"><is><t>{c}</t></is></c>'.encode() for c in cells) + b"</row>"
