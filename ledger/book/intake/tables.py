"""A table of tickets, wherever its cells come from: one row a line of the ticket, rows of one number together.

The ticket's own fields are repeated, or left blank, on its further rows. A new ticket begins where the number changes.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator
from io import StringIO
from typing import Any, Final

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
from ledger.book.intake.rows import Row, Unread
from ledger.book.tickets import KINDS
from ledger.book.tickets.common import TicketBase
from ledger.refusals import Fault, FormRefused

#: Characters of a ticket's number that a fault quotes, and of a column's name; columns of a table, at most.
LONGEST_NUMBER: Final = 64
_LONGEST_NAME: Final = 100
#: Rows of one ticket, at most: a count of a whole plant is well below.
MOST_LINES: Final = 20_000
_MOST_COLUMNS: Final = 500

_PARTY_SIDE: Final = "parties"


class Record:
    """One row of the table: its first line, its cells as they stood, those not blank by column, and its faults."""

    def __init__(self, line: int, stood: list[str]) -> None:
        self.line, self.stood = line, stood
        self.cells: dict[str, str] = {}
        self.faults: list[Fault] = []
        self._astray = False

    def astray(self, place: int, mend: str, file: str) -> None:
        """Note a cell, by its place from 0, that stands under no column: the first of its row is told."""
        if not self._astray:
            what, number = f"cell {place + 1} stands under no column", self.cells.get("ticket", "")[:LONGEST_NUMBER]
            self.faults.append(Fault("form", what, mend, "", number, file, self.line))
        self._astray = True


def header_faults(header: list[str], file: str) -> list[Fault]:
    """Return what is wrong with a header: a column twice, one that nobody knows, one that is missing."""
    known = known_columns()
    if len(header) > _MOST_COLUMNS:
        mend = "leave out what is no ticket's field"
        return [Fault("form", f"there are more than {_MOST_COLUMNS} columns", mend, file=file, line=1)]
    faults = []
    for index, name in enumerate(header):
        if name in header[:index] and name:
            faults.append(Fault("form", "the column stands twice", "leave one of them out", name, file=file, line=1))
        elif name and not (len(name) <= _LONGEST_NAME and is_column(name, known)):
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


# ---- tickets: the records of one number ----------------------------------------------------------------------


def tickets(records: Iterable[Record], file: str) -> Iterator[Row]:
    """Yield a row for each ticket: the records that follow each other under one number.

    Raises FormRefused where too many lines do not read, or one number goes on for more than MOST_LINES of them.
    """
    group: list[Record] = []
    unread = Unread(file)
    for record in records:
        unread.add(record.faults)
        number = record.cells.get("ticket")
        if group and number is not None and number != group[0].cells.get("ticket"):
            yield _ticket(group, file)
            group = []
        group.append(record)
        if len(group) > MOST_LINES:
            what = f"the ticket has more than {MOST_LINES:,} rows"
            raise FormRefused([Fault("form", what, "give each ticket its number", "ticket", _number(group), file,
                                     group[0].line)])  # fmt: skip
    if group:
        yield _ticket(group, file)


def _ticket(group: list[Record], file: str) -> Row:
    first, faults = group[0], [fault for record in group for fault in record.faults]
    number = _number(group)
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


def _number(group: list[Record]) -> str:
    return group[0].cells.get("ticket", "")[:LONGEST_NUMBER]


def _raw(group: list[Record]) -> str:
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

    def add(self, record: Record) -> None:
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

    def _own(self, record: Record, column: str, text: str) -> None:
        if column not in self.first:
            self.first[column] = text
            self._put(record, self.document, column, text)
        elif self.first[column] != text:
            self._fault(record, column, f"differs from the ticket's first row, {self.first[column][:40]!r}",
                        "repeat it, or leave it blank")  # fmt: skip

    def _side(self, record: Record, needed: bool) -> str:
        said = record.cells.get(SIDE)
        if said is None:
            if needed and "out" in self.sides:
                self._fault(record, SIDE, "is missing", "write in or out")
            return self.default_side
        if said not in self.sides:
            mend = "write " + " or ".join(self.sides) if self.sides else "leave the cell blank"
            self._fault(record, SIDE, f"{said[:40]!r} is no side of this ticket", mend)
        return said

    def _put(self, record: Record, place: dict[str, Any], column: str, text: str) -> None:
        try:
            put(place, column, text)
        except CellRefused as refused:
            self._fault(record, column, *refused.args)

    def _fault(self, record: Record, column: str, what: str, mend: str) -> None:
        self.faults.append(Fault("form", what, mend, column, self.number, self.file, record.line))
