"""What the bench proposes, read out of the book's own records: nothing is remembered anywhere else."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Final

from ledger.book.shelf import Shelf
from ledger.book.tickets import split_number
from ledger.plant.calendar import SECOND, Calendar
from ledger.plant.numbering import body_of, counted, following
from ledger.plant.setup import Setup

#: Tickets that are looked through, newest first, for the last one of a person.
_LOOKED_THROUGH: Final = 5_000
_BEFORE_FIRST: Final = "0000"


def now(calendar: Calendar) -> str:
    """Return the present moment in plant time, to the second."""
    return calendar.text(int(datetime.now(UTC).timestamp()) * SECOND)


def next_ticket(connection: sqlite3.Connection, kind: str, *, checked: bool) -> str | None:
    """Return the next free number of the prefix used last for a kind, else of the one used last; None before any."""
    row = connection.execute("SELECT number FROM ticket WHERE kind = ? ORDER BY seq DESC LIMIT 1", (kind,)).fetchone()
    row = row or connection.execute(
        "SELECT number FROM ticket WHERE kind <> 'close' ORDER BY seq DESC LIMIT 1"
    ).fetchone()
    if row is None:
        return None
    prefix, _ = split_number(row[0], checked=checked)
    last = connection.execute(
        "SELECT number FROM ticket WHERE substr(number, 1, ?) = ? ORDER BY seq DESC LIMIT 1", (len(prefix), prefix)
    ).fetchone()
    return next_free(Shelf(connection), last[0], checked=checked)


def next_free(shelf: Shelf, number: str, *, checked: bool, taken: Collection[str] = ()) -> str | None:
    """Return the first number after one that no ticket bears and no void names, with its check or without."""
    candidate = following(number, checked=checked)
    while candidate is not None and any(n in taken or shelf.number_used(n) for n in {candidate, body_of(candidate)}):
        candidate = following(candidate, checked=checked)
    return candidate


def next_lot(
    connection: sqlite3.Connection, setup: Setup, kind: str, operation: str | None, prefix: str, taken: Collection[str]
) -> str | None:
    """Return the next free lot number of a prefix; without one, of what such a ticket made last, else of any.

    Where all prefixes share one run of numbers, that is, no two lots of the book bear the same one, it goes on so.
    """
    checked = setup.plant.check_character
    last = _last_lot(connection, kind, operation, prefix) or (prefix + _BEFORE_FIRST if prefix else None)
    if last is None:
        return None
    numbers = [row[0] for row in connection.execute("SELECT number FROM lot WHERE kind = 'lot'")]
    known, last = {*numbers, *taken}, _in_one_run(last, [*numbers, *taken], checked=checked)
    candidate = following(last, checked=checked)
    while candidate is not None and (candidate in known or body_of(candidate) in known):
        candidate = following(candidate, checked=checked)
    return candidate


def _in_one_run(last: str, numbers: Collection[str], *, checked: bool) -> str:
    """Return the number to go on from: its own prefix, and the highest counter where each was used once."""
    parts = [part for part in (counted(body_of(n) if checked else n) for n in numbers) if part]
    own = counted(body_of(last) if checked else last)
    counters = [int(counter) for _, counter in parts]
    if own is None or len({prefix for prefix, _ in parts}) < 2 or len(set(counters)) < len(counters):
        return last
    return own[0] + f"{max(counters):0{len(own[1])}d}"


def _last_lot(connection: sqlite3.Connection, kind: str, operation: str | None, prefix: str) -> str | None:
    of_prefix = "SELECT number FROM lot WHERE kind = 'lot' AND substr(number, 1, ?) = ? ORDER BY id DESC LIMIT 1"
    of_kind = (
        "SELECT lot.number FROM lot JOIN ticket ON ticket.seq = lot.made_by WHERE lot.kind = 'lot' AND ticket.kind = ? "
        "AND ticket.operation IS ? ORDER BY ticket.seq DESC, lot.id LIMIT 1"
    )
    of_any = "SELECT number FROM lot WHERE kind = 'lot' ORDER BY id DESC LIMIT 1"
    asked = [(of_prefix, (len(prefix), prefix))] if prefix else [(of_kind, (kind, operation)), (of_any, ())]
    for sql, values in asked:
        row = connection.execute(sql, values).fetchone()
        if row:
            return str(row[0])
    return None


@dataclass(frozen=True, slots=True)
class Usual:
    """Shift, scale and area of somebody's last ticket in an area; blank where it said none, or one now gone."""

    shift: str = ""
    scale: str = ""
    area: str = ""


def usual(connection: sqlite3.Connection, setup: Setup, by: str) -> Usual:
    """Return what somebody's last ticket in an area said of shift, scale and area, and nothing else of it."""
    for document in _documents(connection, by):
        places = (document.get("area"), document.get("from"), document.get("to"))
        area = next((place for place in places if isinstance(place, str) and place in setup.areas), "")
        if area:
            lines = [line for side in ("in", "lots", "out") for line in document.get(side, ())]
            scale = next((str(line["scale"]) for line in lines if "scale" in line), "")
            return Usual(str(document.get("shift", "")), scale if scale in setup.scales else "", area)
    return Usual()


def _documents(connection: sqlite3.Connection, by: str) -> Iterator[dict[str, Any]]:
    """Yield somebody's tickets, newest first."""
    rows = connection.execute(
        "SELECT body FROM record WHERE kind = 'ticket' ORDER BY seq DESC LIMIT ?", (_LOOKED_THROUGH,)
    )
    for (body,) in rows:
        if f'"by":{json.dumps(by, ensure_ascii=False)}' in body:
            document: dict[str, Any] = json.loads(body)
            if document.get("by") == by:
                yield document
