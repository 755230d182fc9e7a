"""What tickets did with content, lot by lot: the effective lines of a book as takings, additions and changes.

A *node* is a lot, a bin, a job, or the dust of an area (the area's code behind ``dust ``). Work mixes what it takes
and hands it on; what its outputs have less than its inputs goes to the area's dust, and a sweep takes from there.
Amounts are nanograms of one metal.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from ledger.book.holdings import TICKET_STANDS

Node = int | str


class Taking(NamedTuple):
    """Content that leaves a node: as recorded there, and as weighed into what follows."""

    node: Node
    recorded: int
    weighed: int


class Adding(NamedTuple):
    """Content that enters a node."""

    node: Node
    content: int


class Change(NamedTuple):
    """What a re-weighing, count or assay changed of what is recorded of a node."""

    node: Node
    ng: int
    what: str


@dataclass(slots=True)
class Passage:
    """One ticket's passage of content, in an area; ``to`` is who or what took it where it left the book."""

    seq: int
    number: str
    kind: str
    operation: str | None
    instant: int
    area: str
    to: str = ""
    takings: list[Taking] = field(default_factory=list)
    addings: list[Adding] = field(default_factory=list)
    changes: list[Change] = field(default_factory=list)
    cleaned_out: bool = False

    @property
    def loss(self) -> int:
        """What was weighed in and did not come out; a gain is negative."""
        return sum(t.weighed for t in self.takings) - sum(a.content for a in self.addings)


class _Line(NamedTuple):
    ticket: int
    number: str
    kind: str
    operation: str | None
    instant: int
    side: str
    area: str
    lot: int
    recorded: int
    content: int
    given: int
    settles: int


_LINES = f"""
    SELECT t.seq, t.number, t.kind, t.operation, t.instant, l.side, l.area, l.lot,
           coalesce(json_extract(l.recorded, :at), json_extract(l.content, :at)), json_extract(l.content, :at),
           coalesce(json_extract(l.given, :at), json_extract(l.content, :at)), l.settles
    FROM line AS l JOIN ticket AS t ON t.seq = l.ticket
    WHERE {TICKET_STANDS.format('t')} ORDER BY t.instant, t.seq, l.id"""

_SAID = """
    SELECT ticket.seq, coalesce(json_extract(body, '$.party'), ''), coalesce(json_extract(body, '$.terms'), ''),
           coalesce(json_extract(body, '$.cleaned_out'), 0)
    FROM ticket JOIN record ON record.seq = ticket.seq
    WHERE ticket.kind IN ('receive', 'ship', 'settle', 'sweep')"""


def dust_of(area: str) -> str:
    """Return the node of an area's dust."""
    return f"dust {area}"


def passages(connection: sqlite3.Connection, index: int) -> list[Passage]:
    """Return the passages of a book in one metal (its place in amounts), by date."""
    said = {seq: rest for seq, *rest in connection.execute(_SAID)}
    found = []
    for lines in _by_ticket(connection.execute(_LINES, {"at": f"$[{index}]"})):
        passage = _passage(lines)
        party, terms, cleaned = said.get(passage.seq, ("", "", 0))
        passage.to, passage.cleaned_out = f"{party} {terms}".strip(), bool(cleaned)
        found.append(passage)
    return found


def _by_ticket(rows: sqlite3.Cursor) -> Iterator[list[_Line]]:
    lines: list[_Line] = []
    for row in rows:
        if lines and lines[-1].ticket != row[0]:
            yield lines
            lines = []
        lines.append(_Line._make(row))
    if lines:
        yield lines


def _passage(lines: Sequence[_Line]) -> Passage:
    first = lines[0]
    passage = Passage(first.ticket, first.number, first.kind, first.operation, first.instant, first.area)
    for line in lines:
        _take_in(passage, line)
    if passage.kind == "work" and passage.loss > 0:
        passage.addings.append(Adding(dust_of(passage.area), passage.loss))
    return passage


def _take_in(passage: Passage, line: _Line) -> None:
    """Add one line; what only moves stays in its node, and changes by what it weighs otherwise."""
    side = line.side
    if side in ("receive", "sweep"):
        passage.addings.append(Adding(line.lot, line.given if passage.kind == "receive" else line.content))
        if side == "receive" and passage.kind == "receive" and line.given != line.content:
            passage.changes.append(Change(line.lot, line.content - line.given, "receipt difference"))
        if side == "sweep":
            passage.takings.append(Taking(dust_of(line.area), line.content, line.content))
    elif side in ("in", "out") and passage.kind in ("move", "arrive"):
        before, after = (line.recorded, line.content) if side == "out" else (line.given, line.content)
        passage.changes.append(Change(line.lot, after - before, "moved"))
    elif side == "in" or (side == "out" and passage.kind != "work"):
        passage.takings.append(Taking(line.lot, line.recorded, line.content))
    elif side == "out":
        passage.addings.append(Adding(line.lot, line.content))
    elif side == "job":
        if line.recorded:
            passage.takings.append(Taking(line.lot, line.recorded, line.recorded))
        if line.recorded + line.content:
            passage.addings.append(Adding(line.lot, line.recorded + line.content))
    elif side in ("count", "assay"):
        passage.changes.append(Change(line.lot, line.content - line.recorded, side))
    elif side == "not found":
        passage.changes.append(Change(line.lot, -line.recorded, side))
    elif side == "found":
        passage.changes.append(Change(line.lot, line.content, side))


def lots_by_id(connection: sqlite3.Connection) -> dict[int, tuple[Any, ...]]:
    """Return number, kind, form, class, alloy and clad of every lot."""
    rows = connection.execute("SELECT id, number, kind, form, class, alloy, clad FROM lot")
    return {row[0]: row[1:] for row in rows}


def standing_now(connection: sqlite3.Connection, index: int) -> dict[int, int]:
    """Return what is recorded of each lot now, in its areas and on its way, in one metal."""
    found: dict[int, int] = {}
    for table, where in (("standing", "WHERE on_hand = 1"), ("on_the_way", "")):
        for lot, amounts in connection.execute(f"SELECT lot, amounts FROM {table} {where}"):
            found[lot] = found.get(lot, 0) + json.loads(amounts)[index]
    return found
