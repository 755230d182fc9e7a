"""A row of input: a document, or the faults that keep it from being one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Any, NamedTuple

from ledger.refusals import Fault


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
