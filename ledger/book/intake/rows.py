"""A row of input: a document, or the faults that keep it from being one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType
from typing import Any, Final, NamedTuple

from ledger.refusals import Fault, FormRefused

#: Lines of a file that do not read at all: beyond so many it is no file of tickets, and refused as a whole.
MOST_UNREADABLE: Final = 10_000


class Row(NamedTuple):
    """One ticket of a file, as a document or as faults; exactly one of the two.

    ``line`` is where it begins, from 1. ``raw`` is the input as it stood, kept only where there is no document, so
    that it can be set aside whole. ``lines_of`` gives the file's line for each line of a ticket that runs over several,
    ``{"lots": [2, 3]}``.
    """

    file: str
    line: int
    document: dict[str, Any] | None = None
    faults: tuple[Fault, ...] = ()
    raw: str = ""
    lines_of: Mapping[str, list[int]] = MappingProxyType({})

    def place(self, fault: Fault) -> Fault:
        """Return a fault of the document with file and line; in a table also its own line, and its column as field."""
        side, bracket, rest = fault.field.partition("[")
        index, _, column = rest.partition("]")
        lines = self.lines_of.get(side, [])
        if bracket and index.isdigit() and int(index) < len(lines):
            return replace(fault, file=self.file, line=lines[int(index)], field=column.lstrip("."))
        return replace(fault, file=self.file, line=self.line)


class Unread:
    """Counts the lines of a file that do not read, and gives up on one that is something else altogether."""

    def __init__(self, file: str) -> None:
        self._file, self._number, self._first = file, 0, ""

    def add(self, faults: Sequence[Fault]) -> None:
        """Note a line's faults, if it has any; raise FormRefused, with the first of all, beyond what is listed."""
        if not faults:
            return
        self._number += 1
        self._first = self._first or str(faults[0])
        if self._number > MOST_UNREADABLE:
            what = f"more than {MOST_UNREADABLE:,} lines do not read, the first {self._first}"
            raise FormRefused([Fault("form", what, "mend that in all of them", file=self._file)])
