"""CSV: one row a line of the ticket; the ticket's own fields are repeated, or left blank, on its further rows.

Comma or semicolon, told from the header alone; a byte-order mark is tolerated; every cell is text, so leading zeros
stay. Rows of one ticket follow each other: a new ticket begins where the number changes.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator
from io import TextIOWrapper
from typing import BinaryIO

from ledger.book.intake.rows import Row
from ledger.book.intake.tables import Record, header_faults, tickets
from ledger.refusals import Fault


def read(stream: BinaryIO, file: str) -> Iterator[Row]:
    """Yield a row for each ticket of a table; faults name file, line and column."""
    text = TextIOWrapper(stream, "utf-8-sig", errors="surrogateescape", newline="")
    header_line = text.readline(1_000_000)
    delimiter = ";" if header_line.count(";") > header_line.count(",") else ","
    header, faults = _header(header_line, delimiter, file)
    if faults:
        yield Row(file, 1, None, tuple(faults), _whole(header_line.rstrip("\r\n")))
        return
    yield from tickets(_records(text, header, delimiter, file), file)


def _header(line: str, delimiter: str, file: str) -> tuple[list[str], list[Fault]]:
    try:
        header = [name.strip() for name in next(csv.reader([line], delimiter=delimiter), [])]
    except csv.Error as error:
        mend = "begin with the row of column names"
        return [], [Fault("form", f"the header does not read: {error}", mend, file=file, line=1)]
    if not all(map(_is_utf8, header)):
        return [], [Fault("form", "the header is not UTF-8", "save the file as CSV, UTF-8", file=file, line=1)]
    return header, header_faults(header, file)


# ---- records: one row's cells, by column ---------------------------------------------------------------------


def _records(text: Iterable[str], header: list[str], delimiter: str, file: str) -> Iterator[Record]:
    reader = csv.reader(text, delimiter=delimiter, strict=True)
    while True:
        line = reader.line_num + 2
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            record = Record(line, [])
            record.faults.append(Fault("form", f"does not read: {error}", "close the quotes", file=file, line=line))
            yield record
            continue
        if any(cell.strip() for cell in cells):
            yield _record(line, cells, header, file)


def _record(line: int, cells: list[str], header: list[str], file: str) -> Record:
    record = Record(line, cells)
    for index, cell in enumerate(cells):
        value = cell.strip()
        column = header[index] if index < len(header) else ""
        if not value:
            continue
        if not column:
            record.astray(index, "check the delimiters", file)
        elif not _is_utf8(value):
            record.faults.append(Fault("form", "is not UTF-8", "save the file as UTF-8", column, file=file, line=line))
        else:
            record.cells[column] = value
    return record


def _whole(text: str) -> str:
    """Return a text that can be written: what was no UTF-8 stands as a question mark."""
    return text.encode(errors="replace").decode()


def _is_utf8(text: str) -> bool:
    return text.isascii() or not any("\ud800" <= sign <= "\udfff" for sign in text)
