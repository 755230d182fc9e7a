"""Readings as they were written down: which field of which line each reading source is, and its text."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from ledger.causes.case import Case, Direction
from ledger.quantities.mass import parse_mass
from ledger.refusals import QuantityRefused


@dataclass(frozen=True, slots=True)
class Read:
    """One reading: its column in the components, where it was written down, its text and nanograms."""

    source: int
    ticket: str
    line: int
    field: str
    scale: str
    column: Direction
    text: str
    ng: int
    instant: int
    written: Mapping[str, Any]

    @property
    def lot(self) -> str:
        """The lot, bin or job that was weighed."""
        return str(self.written.get("lot") or self.written.get("bin") or "")

    @property
    def where(self) -> str:
        """Where to look: ticket, line and field in words."""
        return f"{self.ticket}, {self.field} of {self.lot}" if self.lot else f"{self.ticket}, {self.field}"


def fields_of(line: Mapping[str, Any]) -> list[str]:
    """Return the fields of a line that are readings, in the order in which they become sources."""
    if "metallic" in line:
        own = ["metallic"]
    elif "gross" in line:
        own = ["gross", "tare"] if "tare" in line else ["gross"]
    else:
        own = [name for name in ("mass", "received") if name in line][:1]
    return [*own, "received_mass"] if "received_mass" in line else own


class Reads:
    """The readings that a case's components rest on; ``memo``: what families look up once for a case."""

    def __init__(self, case: Case) -> None:
        self.case = case
        self.memo: dict[str, Any] = {}
        self._documents: dict[str, tuple[int, dict[str, Any]]] = {
            t.number: (t.instant, t.document) for t in case.evidence.tickets.values()
        }

    @cached_property
    def _places(self) -> dict[int, int]:
        """Which of its line's readings each source is."""
        seen: dict[tuple[str, int], int] = {}
        places = {}
        for at, source in enumerate(self.case.evidence.tape.sources):
            if source.kind == "reading":
                key = (source.ticket, source.line)
                places[-at - 1] = seen.get(key, 0)
                seen[key] = places[-at - 1] + 1
        return places

    @cached_property
    def all(self) -> list[Read]:
        """Every reading that touches a component, by its source."""
        found = (self._read(reference) for reference in self.case.columns if reference in self._places)
        return [read for read in found if read is not None]

    def of_ticket(self, number: str) -> Iterator[Read]:
        """Yield one ticket's readings."""
        yield from self._by_ticket.get(number, ())

    @cached_property
    def _by_ticket(self) -> dict[str, list[Read]]:
        found: dict[str, list[Read]] = {}
        for read in self.all:
            found.setdefault(read.ticket, []).append(read)
        return found

    def _document(self, number: str) -> tuple[int, dict[str, Any]]:
        if number not in self._documents:
            row = self.case.evidence.connection.execute(
                "SELECT t.instant, record.body FROM ticket AS t JOIN record ON record.seq = t.seq WHERE t.number = ?",
                (number,),
            ).fetchone()
            self._documents[number] = (row[0], json.loads(row[1])) if row else (0, {})
        return self._documents[number]

    def _read(self, reference: int) -> Read | None:
        source = self.case.evidence.tape.source(reference)
        instant, document = self._document(source.ticket)
        if document.get("kind") == "work":
            lines = [*(document.get("in") or ()), *(document.get("out") or ())]
        else:
            lines = document.get("lots") or []
        if not 0 < source.line <= len(lines):
            return None
        line = lines[source.line - 1]
        fields = fields_of(line)
        place = self._places[reference]
        if document.get("kind") == "move" and "received_mass" in line and len(fields) == 1:
            place = 0
        if place >= len(fields):
            return None
        text = line[fields[place]]
        try:
            ng = parse_mass(text)
        except QuantityRefused:
            return None
        return Read(
            reference,
            source.ticket,
            source.line,
            fields[place],
            source.of,
            self.case.columns[reference],
            text,
            ng,
            instant,
            line,
        )
