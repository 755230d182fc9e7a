"""How old lots on hand are: the instant of the ticket that made each."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable

from ledger.book.holdings import Held


def oldest_first(connection: sqlite3.Connection, held: Iterable[Held]) -> list[Held]:
    """Return lots on hand by the time they were made, then by number."""
    made = dict(connection.execute(
        "SELECT lot.number, ticket.instant FROM standing JOIN lot ON lot.id = standing.lot "
        "JOIN ticket ON ticket.seq = lot.made_by WHERE standing.on_hand = 1"
    ))  # fmt: skip
    return sorted(held, key=lambda one: (made[one.described.lot], one.described.lot, one.area))
