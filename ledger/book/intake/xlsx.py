"""XLSX: a table of tickets on one sheet of a workbook, read as text.

A spreadsheet turns what looks like a number or a date into one, and drops its digits, zeros and unit on the way. So
every cell has to be text; a whole number is taken for ``pieces`` alone, TRUE and FALSE for a flag. Nothing is computed:
a formula is refused, and so is a workbook too large to be tickets.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, BinaryIO, Final
from zipfile import BadZipFile, ZipFile

from ledger.book.intake.columns import is_flag, is_mass
from ledger.book.intake.rows import Row
from ledger.book.intake.tables import Record, header_faults, tickets
from ledger.refusals import Fault, FormRefused

#: Bytes of a workbook once unpacked, and rows of its sheet, at most.
LARGEST_BYTES: Final = 200_000_000
MOST_ROWS: Final = 200_000

_AS_CSV: Final = "save it again as .xlsx, without a password; or as CSV, UTF-8"
_AS_TEXT: Final = "format the column as text, and type it anew"
#: Columns that a template formats as text are this wide, at least, in characters.
_WIDTH: Final = 12


def read(stream: BinaryIO, file: str) -> Iterator[Row]:
    """Yield a row for each ticket of a workbook; faults name file, row and column.

    Raises FormRefused for what is no workbook, is damaged, is too large, or has something on a second sheet.
    """
    rows = _rows(stream, file)
    header = ["" if cell.value is None else str(cell.value).strip() for cell in next(rows, ())]
    while header and not header[-1]:
        header.pop()
    faults = header_faults(header, file)
    if faults:
        yield Row(file, 1, None, tuple(faults), ",".join(header))
        return
    yield from tickets(_records(rows, header, file), file)


def _rows(stream: BinaryIO, file: str) -> Iterator[Sequence[Any]]:
    """Yield the cells of each row of the one sheet that has any, from its first row."""
    _check_size(stream, file)
    try:
        workbook = _opened(stream)
        sheets = [sheet for sheet in workbook.worksheets if _has_cells(sheet)]
    except Exception as error:  # a damaged workbook fails in as many ways as it has parts
        raise _broken(file, error) from None
    if len(sheets) > 1:
        what = f"there is something on {len(sheets)} sheets, {' and '.join(repr(s.title) for s in sheets[:2])} first"
        raise FormRefused([Fault("form", what, "leave the tickets alone in the workbook", file=file)])
    yield from _cells(sheets[0], file) if sheets else ()


def _check_size(stream: BinaryIO, file: str) -> None:
    try:
        with ZipFile(stream) as parts:
            size = sum(part.file_size for part in parts.infolist())
    except (BadZipFile, OSError, ValueError) as error:
        raise _broken(file, error) from None
    if size > LARGEST_BYTES:
        what = f"the workbook unpacks to {size:,} bytes; {LARGEST_BYTES:,} are read at most"
        raise FormRefused([Fault("form", what, "split it, or enter CSV or JSON Lines", file=file)])


def _broken(file: str, error: Exception) -> FormRefused:
    why = " ".join(str(error).split())[:80] or type(error).__name__
    return FormRefused([Fault("form", f"does not read as a workbook: {why}", _AS_CSV, file=file)])


def _opened(stream: BinaryIO) -> Any:
    from openpyxl import load_workbook

    with warnings.catch_warnings(action="ignore"):  # of styles and extensions, which say nothing of tickets
        return load_workbook(stream, read_only=True, data_only=False, keep_links=False)


def _has_cells(sheet: Any) -> bool:
    sheet.reset_dimensions()  # what a workbook says of its own size is often wrong
    return any(cell.value is not None for row in _at_most(sheet.iter_rows()) for cell in row)


def _at_most(rows: Iterator[Any]) -> Iterator[Any]:
    for number, row in enumerate(rows, 1):
        yield row
        if number > MOST_ROWS:
            return


def _cells(sheet: Any, file: str) -> Iterator[Sequence[Any]]:
    rows = sheet.iter_rows()
    for number in range(1, MOST_ROWS + 2):
        try:
            with warnings.catch_warnings(action="ignore"):
                row = next(rows, None)
        except Exception as error:
            raise _broken(file, error) from None
        if row is None:
            return
        if number > MOST_ROWS:
            what = f"the sheet has more than {MOST_ROWS:,} rows"
            raise FormRefused([Fault("form", what, "delete the rows below the tickets, or split the file", file=file)])
        yield row


# ---- one row -------------------------------------------------------------------------------------------------


def _records(rows: Iterator[Sequence[Any]], header: list[str], file: str) -> Iterator[Record]:
    for line, row in enumerate(rows, 2):
        stood = ["" if cell.value is None else str(cell.value) for cell in row[: len(header)]]
        record = Record(line, stood)
        for index, cell in enumerate(row):
            if cell.value is not None:
                _take(record, header[index] if index < len(header) else "", cell, file, index)
        if record.cells or record.faults:
            yield record


def _take(record: Record, column: str, cell: Any, file: str, index: int) -> None:
    value = cell.value
    text = value.strip() if isinstance(value, str) else ""
    if isinstance(value, str) and not text:
        return
    if not column:
        what, mend = f"cell {index + 1} stands under no column", "give the column its name, or clear the cell"
    elif cell.data_type in "fe":
        what, mend = _no_value(cell)
    elif text or _is_plain(column, value):
        record.cells[column] = text or str(value).lower()
        return
    else:
        what, mend = _not_text(column, cell)
    record.faults.append(Fault("form", what, mend, column, record.cells.get("ticket", ""), file, record.line))


def _is_plain(column: str, value: object) -> bool:
    """Whether a cell that is no text still says exactly what its column takes."""
    return is_flag(column) if isinstance(value, bool) else column == "pieces" and isinstance(value, int)


def _no_value(cell: Any) -> tuple[str, str]:
    if cell.data_type == "e":
        return f"is an error of the spreadsheet, {str(cell.value)[:20]}", "type what was read"
    return "is a formula", "type what was read: a ticket holds readings, not sums"


def _not_text(column: str, cell: Any) -> tuple[str, str]:
    if cell.is_date or hasattr(cell.value, "isoformat"):
        return "is a date of the spreadsheet, not text", f'{_AS_TEXT}: "2026-10-05T14:30"'
    if is_mass(column):
        return "is a number, not text", (
            "format the column as text: a spreadsheet number has lost its digits and its unit"
        )
    if isinstance(cell.value, bool):
        return "is TRUE or FALSE, not text", _AS_TEXT
    return "is a number, not text", f"{_AS_TEXT}: a spreadsheet number has lost its zeros and its unit"


# ---- a template ----------------------------------------------------------------------------------------------


def write_template(path: Path, columns: Sequence[str], kind: str) -> None:
    """Write a workbook with a header row and every column formatted as text; the file must not be there yet."""
    from openpyxl import Workbook
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    workbook = Workbook()
    sheet = workbook.active
    sheet.title = kind
    sheet.freeze_panes = "A2"
    for place, name in enumerate(columns, 1):
        cell = sheet.cell(1, place, name)
        cell.font, cell.number_format = Font(bold=True), "@"
        column = sheet.column_dimensions[get_column_letter(place)]
        column.number_format, column.width = "@", max(_WIDTH, len(name) + 2)
    with path.open("xb") as file:
        workbook.save(file)
