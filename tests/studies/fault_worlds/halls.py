"""A plant of many halls: worlds side by side in one book, each with areas, instruments and lots of its own.

A hall is the invented plant of one seed; its codes are marked with the hall's number. Alloys, classes, people and
prices are the same in all of them.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from decimal import Decimal
from heapq import merge
from operator import itemgetter
from typing import Any

from ledger.plant.setup import Setup
from tests.studies.fault_worlds.world import Document, plant_text, simulated

#: Tables of the set-up whose codes are a hall's own, and the words of tables and tickets that name one of them.
_TABLES = ("area", "operation", "rate", "scale", "method", "bin", "container", "party")
_NAMES = frozenset((
    "ticket", "lot", "job", "area", "from", "to", "of", "corrects", "count", "bin", "scale", "received_scale", "method",
    "container", "operation", "party", "holder", "numbers",
))  # fmt: skip


def plant(halls: int) -> Setup:
    """Return the sample plant's set-up with so many halls."""
    one: Document = tomllib.loads(plant_text(), parse_float=Decimal)
    every = dict(one)
    for table in _TABLES:
        rows = one.get(table, [])
        every[table] = [_marked(row, hall, code=True) for hall in range(halls) for row in rows]
    return Setup.from_document(every)


def tickets(halls: int, seed: int) -> list[Document]:
    """Return the tickets of so many halls in order of time, each hall's in its own order."""
    entered = merge(*(_as_entered(seed + hall, hall) for hall in range(halls)), key=itemgetter(0))
    return [ticket for _, ticket in entered]


def _as_entered(seed: int, hall: int) -> Iterator[tuple[str, Document]]:
    """Yield a hall's tickets in the order of entry, each with the latest date so far: some are entered late."""
    latest = ""
    for ticket in simulated(seed).tickets():
        latest = max(latest, ticket["at"])
        yield latest, _marked(ticket, hall)


def _marked(value: Any, hall: int, name: str = "", *, code: bool = False) -> Any:
    """Return a document with the hall's own names marked; ``code``: that of a table is one of them."""
    if isinstance(value, dict):
        return {key: _marked(each, hall, key, code=code) for key, each in value.items()}
    if isinstance(value, list):
        return [_marked(each, hall, name, code=code) for each in value]
    if not isinstance(value, str) or not (name in _NAMES or (code and name == "code")):
        return value
    return value if value == "own" else f"H{hall}{value}"
