"""XLSX: a table of tickets on one sheet of a workbook, read as text.

A spreadsheet turns what looks like a number or a date into one, and drops its digits, zeros and unit on the way. So
every cell has to be text; a whole number is taken for ``pieces`` alone, TRUE and FALSE for a flag. Nothing is computed:
a formula is refused, and so is a workbook too large to be tickets.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from io import BytesIO
from pathlib import Path
from typing import BinaryIO, Final

from ledger.book.intake.columns import is_flag, is_mass
from ledger.book.intake.rows import Row
from ledger.book.intake.spreadsheet import Cell, Line, Unreadable, lines
from ledger.book.intake.tables import LONGEST_NUMBER, Record, header_faults, tickets
from ledger.refusals import Fault, FormRefused

_AS_CSV: Final = "save it again as .xlsx, without a password; or as CSV, UTF-8"
_AS_TEXT: Final = "format the column as text, and type it anew"
#: Columns that a template formats as text are this wide, at least, in characters.
_WIDTH: Final = 12
_FLAGS: Final = {"1": "true", "0": "false"}


def read(stream: BinaryIO, file: str) -> Iterator[Row]:
    """Yield a row for each ticket of a workbook; faults name file, row and column.

    Raises FormRefused for what is no workbook, is damaged, is too large, or has something on a second sheet.
    """
    found = _lines(stream, file)
    first = next(found, None)
    header = _header(first) if first is not None and first.number == 1 else []
    faults = header_faults(header, file)
    if faults:
        yield Row(file, 1, None, tuple(faults), ",".join(header))
        return
    yield from tickets((_record(line, header, file) for line in found), file)


def _lines(stream: BinaryIO, file: str) -> Iterator[Line]:
    try:
        yield from lines(stream)
    except Unreadable as error:
        what, mend = error.args
        raise FormRefused([Fault("form", what, mend, file=file)]) from None
    except Exception as error:  # a damaged workbook fails in as many ways as it has parts
        why = " ".join(str(error).split())[:80] or type(error).__name__
        raise FormRefused([Fault("form", f"does not read as a workbook: {why}", _AS_CSV, file=file)]) from None


def _header(line: Line) -> list[str]:
    """Return the names of the columns; one without a name is empty."""
    header = [""] * (line.cells[-1].place + 1)
    for cell in line.cells:
        header[cell.place] = cell.text.strip()
    return header


# ---- one row -------------------------------------------------------------------------------------------------


def _record(line: Line, header: list[str], file: str) -> Record:
    stood = [""] * len(header)
    record = Record(line.number, stood)
    for cell in line.cells:
        if cell.place < len(header):
            stood[cell.place] = cell.text
        _take(record, header[cell.place] if cell.place < len(header) else "", cell, file)
    return record


def _take(record: Record, column: str, cell: Cell, file: str) -> None:
    if not column:
        record.astray(cell.place, "give the column its name, or clear the cell", file)
    elif cell.kind == "text" or _is_plain(column, cell):
        record.cells[column] = _FLAGS.get(cell.text, cell.text) if cell.kind == "flag" else cell.text.strip()
    else:
        number = record.cells.get("ticket", "")[:LONGEST_NUMBER]
        record.faults.append(Fault("form", *_not_text(column, cell), column, number, file, record.line))


def _is_plain(column: str, cell: Cell) -> bool:
    """Whether a cell that is no text still says exactly what its column takes."""
    if cell.kind == "flag":
        return is_flag(column)
    return cell.kind == "number" and column == "pieces" and cell.text.isdigit()


def _not_text(column: str, cell: Cell) -> tuple[str, str]:
    if cell.kind == "formula":
        return "is a formula", "type what was read: a ticket holds readings, not sums"
    if cell.kind == "error":
        return f"is an error of the spreadsheet, {cell.text[:20]}", "type what was read"
    if cell.kind == "date":
        return "is a date of the spreadsheet, not text", f'{_AS_TEXT}: "2026-10-05T14:30"'
    if cell.kind == "flag":
        return "is TRUE or FALSE, not text", _AS_TEXT
    if is_mass(column):
        return "is a number, not text", (
            "format the column as text: a spreadsheet number has lost its digits and its unit"
        )
    return "is a number, not text", f"{_AS_TEXT}: a spreadsheet number has lost its zeros and its unit"


# ---- a template ----------------------------------------------------------------------------------------------


def write_template(path: Path, columns: Sequence[str], kind: str) -> None:
    """Write a workbook with a header row and every column formatted as text; the file must not be there yet."""
    from xlsxwriter import Workbook

    content = BytesIO()
    workbook = Workbook(content, {"in_memory": True})
    text, head = workbook.add_format({"num_format": "@"}), workbook.add_format({"num_format": "@", "bold": True})
    sheet = workbook.add_worksheet(kind)
    sheet.freeze_panes(1, 0)
    for place, name in enumerate(columns):
        sheet.set_column(place, place, max(_WIDTH, len(name) + 2), text)
        sheet.write_string(0, place, name, head)
    workbook.close()
    with path.open("xb") as file:
        file.write(content.getvalue())
