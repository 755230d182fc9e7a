"""CSV: one row a line of the ticket; the ticket's own fields are repeated, or left blank, on its further rows.

Comma or semicolon, told from the header alone; a byte-order mark is tolerated; every cell is text, so leading zeros
stay. Rows of one ticket follow each other: a new ticket begins where the number changes.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator
from io import StringIO, TextIOWrapper
from typing import Any, BinaryIO

from ledger.book.intake.columns import (
    SIDE,
    CellRefused,
    is_column,
    known_columns,
    line_fields,
    put,
    sides,
    ticket_fields,
)
from ledger.book.intake.rows import Row
from ledger.book.tickets import KINDS
from ledger.book.tickets.common import TicketBase
from ledger.refusals import Fault

_PARTY_SIDE = "parties"


def read(stream: BinaryIO, file: str) -> Iterator[Row]:
    """Yield a row for each ticket of a table; faults name file, line and column."""
    text = TextIOWrapper(stream, "utf-8-sig", errors="surrogateescape", newline="")
    header_line = text.readline(1_000_000)
    delimiter = ";" if header_line.count(";") > header_line.count(",") else ","
    header = [name.strip() for name in next(csv.reader([header_line], delimiter=delimiter), [])]
    faults = _header_faults(header, file)
    if faults:
        yield Row(file, 1, None, tuple(faults), header_line.rstrip("\r\n"))
        return
    yield from _tickets(_records(text, header, delimiter, file), file)


def _header_faults(header: list[str], file: str) -> list[Fault]:
    known = known_columns()
    if not all(map(_is_utf8, header)):
        return [Fault("form", "the header is not UTF-8", "save the file as CSV, UTF-8", file=file, line=1)]
    faults = []
    for index, name in enumerate(header):
        if name in header[:index] and name:
            faults.append(Fault("form", "the column stands twice", "leave one of them out", name, file=file, line=1))
        elif name and not is_column(name, known):
            faults.append(Fault("form", "is not a known column", _mend(name, known), _shown(name), file=file, line=1))
    for needed in ("ticket", "kind"):
        if needed not in header:
            faults.append(Fault("form", f"there is no column {needed}", "give the header row first", file=file, line=1))
    return faults


def _mend(name: str, known: Iterable[str]) -> str:
    from difflib import get_close_matches  # only when something is wrong: it would slow every start

    near = get_close_matches(name[:64], known, 1)
    return f"did you mean {near[0]}?" if near else "see `lemel enter --template KIND`"


def _shown(name: str) -> str:
    return name[:64] if name.isprintable() else ascii(name[:64])


# ---- records: one row's cells, by column ---------------------------------------------------------------------


class _Record:
    """One row of the table: its first line, its cells as they stood, those not blank by column, and its faults."""

    def __init__(self, line: int, stood: list[str]) -> None:
        self.line, self.stood = line, stood
        self.cells: dict[str, str] = {}
        self.faults: list[Fault] = []


def _records(text: Iterable[str], header: list[str], delimiter: str, file: str) -> Iterator[_Record]:
    reader = csv.reader(text, delimiter=delimiter, strict=True)
    while True:
        line = reader.line_num + 2
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            record = _Record(line, [])
            record.faults.append(Fault("form", f"does not read: {error}", "close the quotes", file=file, line=line))
            yield record
            continue
        if any(cell.strip() for cell in cells):
            yield _record(line, cells, header, file)


def _record(line: int, cells: list[str], header: list[str], file: str) -> _Record:
    record = _Record(line, cells)
    for index, cell in enumerate(cells):
        value = cell.strip()
        column = header[index] if index < len(header) else ""
        if not value:
            continue
        if not column:
            what = f"cell {index + 1} stands under no column"
            record.faults.append(Fault("form", what, "check the delimiters", file=file, line=line))
        elif not _is_utf8(value):
            record.faults.append(Fault("form", "is not UTF-8", "save the file as UTF-8", column, file=file, line=line))
        else:
            record.cells[column] = value
    return record


def _is_utf8(text: str) -> bool:
    return text.isascii() or not any("\ud800" <= sign <= "\udfff" for sign in text)


# ---- tickets: the records of one number ----------------------------------------------------------------------


def _tickets(records: Iterable[_Record], file: str) -> Iterator[Row]:
    group: list[_Record] = []
    for record in records:
        number = record.cells.get("ticket")
        if group and number is not None and number != group[0].cells.get("ticket"):
            yield _ticket(group, file)
            group = []
        group.append(record)
    if group:
        yield _ticket(group, file)


def _ticket(group: list[_Record], file: str) -> Row:
    first, faults = group[0], [fault for record in group for fault in record.faults]
    number = first.cells.get("ticket", "")
    model = KINDS.get(first.cells.get("kind", ""))
    if model is None and not faults:
        given = first.cells.get("kind")
        what = "is blank on the ticket's first row" if given is None else f"{given[:40]!r} is no kind of ticket"
        faults.append(Fault("form", what, "write one of " + ", ".join(KINDS), "kind", number, file, first.line))
    if model is None:
        return Row(file, first.line, None, tuple(faults), _raw(group))
    building = _Building(model, number, file, faults)
    for record in group:
        building.add(record)
    if building.faults:
        return Row(file, first.line, None, tuple(building.faults), _raw(group))
    return Row(file, first.line, building.document, (), "", building.lines_of)


def _raw(group: list[_Record]) -> str:
    text = StringIO()
    csv.writer(text, lineterminator="\n").writerows(record.stood for record in group)
    return text.getvalue().encode(errors="replace").decode().rstrip("\n")


class _Building:
    """A ticket being put together from its rows."""

    def __init__(self, model: type[TicketBase], number: str, file: str, faults: list[Fault]) -> None:
        self.number, self.file, self.faults = number, file, faults
        self.sides = sides(model)
        self.default_side = next(iter(model.roles), "")
        self.own = frozenset(ticket_fields(model))
        self.of_lines = frozenset(line_fields(model)) | ({"metal", "fine"} if _PARTY_SIDE in self.sides else set())
        self.first: dict[str, str] = {}
        self.document: dict[str, Any] = {}
        self.lines_of: dict[str, list[int]] = {}

    def add(self, record: _Record) -> None:
        """Take in one row: what it says of the ticket, and its line, if it has one."""
        line: dict[str, Any] = {}
        for column, text in record.cells.items():
            field = column.partition(".")[0]
            if column == SIDE:
                continue
            if field in self.own:
                self._own(record, column, text)
            elif field in self.of_lines:
                self._put(record, line, column, text)
            else:
                self._fault(record, column, "has no place on a ticket of this kind", "leave the cell blank")
        side = self._side(record, bool(line))
        if line and side:
            self.document.setdefault(side, []).append(line)
            self.lines_of.setdefault(side, []).append(record.line)

    def _own(self, record: _Record, column: str, text: str) -> None:
        if column not in self.first:
            self.first[column] = text
            self._put(record, self.document, column, text)
        elif self.first[column] != text:
            self._fault(record, column, f"differs from the ticket's first row, {self.first[column][:40]!r}",
                        "repeat it, or leave it blank")  # fmt: skip

    def _side(self, record: _Record, needed: bool) -> str:
        said = record.cells.get(SIDE)
        if said is None:
            if needed and "out" in self.sides:
                self._fault(record, SIDE, "is missing", "write in or out")
            return self.default_side
        if said not in self.sides:
            mend = "write " + " or ".join(self.sides) if self.sides else "leave the cell blank"
            self._fault(record, SIDE, f"{said[:40]!r} is no side of this ticket", mend)
        return said

    def _put(self, record: _Record, place: dict[str, Any], column: str, text: str) -> None:
        try:
            put(place, column, text)
        except CellRefused as refused:
            self._fault(record, column, *refused.args)

    def _fault(self, record: _Record, column: str, what: str, mend: str) -> None:
        self.faults.append(Fault("form", what, mend, column, self.number, self.file, record.line))
