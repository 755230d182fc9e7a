"""Determinations as sources: whose they are, and what an error of one does to the components."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from ledger.causes.case import Direction
from ledger.causes.proposals import View
from ledger.quantities.fineness import parse_fineness
from ledger.refusals import LemelError

_KINDS = ("measured", "nominal", "estimated")


@dataclass(slots=True)
class Determined:
    """One line's or assay's determination: its sources by metal, and its lot as the ticket names it."""

    ticket: str
    line: int
    kind: str
    method: str
    lot: str
    named: str
    document: Mapping[str, Any]
    sources: dict[str, int]
    columns: dict[str, Direction]
    fineness: dict[str, float]
    mass: float

    @property
    def any_column(self) -> Direction:
        """The column of the metal it says most of."""
        return self.columns[max(self.columns, key=lambda m: self.fineness.get(m, 0.0))]

    def direction(self, other: Mapping[str, Fraction]) -> dict[int, float]:
        """Return what it does that another fineness was true: recorded less true, in all metals at once."""
        found: dict[int, float] = {}
        for metal, column in self.columns.items():
            off = self.fineness.get(metal, 0.0) - float(other.get(metal, 0))
            for i, coefficient in column.items():
                found[i] = found.get(i, 0.0) + off * coefficient
        return {i: x for i, x in found.items() if x}

    def content_at(self, view: View, code: str, other: Mapping[str, Fraction]) -> tuple[float, ...]:
        """Return the content recorded too much, in ng of each metal."""
        metals = view.evidence.metals[1:]
        return (0.0, *(self.mass * (self.fineness.get(m, 0.0) - float(other.get(m, 0))) for m in metals))


def determined(view: View) -> list[Determined]:
    """Return every determination that touches a component."""
    return view.once("determined", lambda: _all(view))


def _all(view: View) -> list[Determined]:
    found: dict[tuple[str, int], Determined] = {}
    tape = view.evidence.tape
    for reference, column in view.case.columns.items():
        source = tape.source(reference)
        if source.kind in _KINDS and source.ticket:
            key = (source.ticket, source.line)
            if key not in found:
                one = _determined(view, source.ticket, source.line, source.kind, source.of)
                if one is None:
                    continue
                found[key] = one
            found[key].sources[source.metal] = reference
            found[key].columns[source.metal] = column
    return list(found.values())


def _determined(view: View, number: str, line: int, kind: str, method: str) -> Determined | None:
    row = view.evidence.connection.execute(
        "SELECT record.body, l.content, lot.number FROM ticket AS t JOIN record ON record.seq = t.seq "
        "JOIN line AS l ON l.ticket = t.seq JOIN lot ON lot.id = l.lot WHERE t.number = ? AND l.number = ? "
        "AND l.side <> 'revalued' ORDER BY l.id LIMIT 1",
        (number, line),
    ).fetchone()
    if row is None:
        return None
    document, content, lot = json.loads(row[0]), json.loads(row[1]), row[2]
    own = document
    if document["kind"] == "work":
        lines = [*(document.get("in") or ()), *(document.get("out") or ())]
        own = lines[line - 1] if 0 < line <= len(lines) else document
    elif "lots" in document:
        own = document["lots"][line - 1] if 0 < line <= len(document["lots"]) else document
    mass = content[0] or 1
    fineness = {m: content[i] / mass for i, m in enumerate(view.evidence.metals) if i}
    named = str(own.get("alloy") or own.get("clad") or _karat(own))
    return Determined(number, line, kind, method, lot, named, own, {}, {}, fineness, float(content[0]))


def _karat(line: Mapping[str, Any]) -> str:
    """Return a fineness stated as a bare karat or mark."""
    text = line.get("fineness")
    if not isinstance(text, str) or "method" in line:
        return ""
    try:
        parse_fineness(text)
    except LemelError:
        return ""
    return text
