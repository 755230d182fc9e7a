"""The book of a world: a file in memory, with a plant's set-up and the tickets entered."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from functools import lru_cache
from typing import Any

from ledger.book.entering import Entry, Stamp
from ledger.book.opening import record_first_setup
from ledger.book.schema import create
from ledger.plant.toml_file import parse_setup
from tests.studies.fault_worlds.world import plant_text

_STAMP = Stamp("2026-01-01T00:00:00+00:00", "study")


@lru_cache(maxsize=16)
def _empty(text: str) -> bytes:
    connection = sqlite3.connect(":memory:", isolation_level=None)
    create(connection)
    record_first_setup(connection, parse_setup(text).to_document(), _STAMP)
    return connection.serialize()


def book_of(tickets: Iterable[dict[str, Any]], setup: str | None = None) -> sqlite3.Connection:
    """Enter tickets into a new book in memory; ``setup``: what the book is told of the plant, if not the truth."""
    connection = sqlite3.connect(":memory:", isolation_level=None)
    connection.deserialize(_empty(setup or plant_text()))
    connection.execute("BEGIN")
    entry = Entry(connection)
    for ticket in tickets:
        entry.record(ticket, _STAMP)
    entry.writer.flush()
    connection.execute("COMMIT")
    return connection
