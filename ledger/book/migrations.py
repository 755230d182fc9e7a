"""The way from an earlier schema to this one. Each step leaves every record and its hash as they were."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from typing import Final

from ledger.book.schema import SCHEMA_VERSION

#: Version → what brings a book of that version to the next. Empty while there has been only one.
STEPS: Final[dict[int, Callable[[sqlite3.Connection], None]]] = {}


def migrate(connection: sqlite3.Connection, version: int) -> None:
    """Bring a book from ``version`` to the present schema, all steps or none."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        for step in range(version, SCHEMA_VERSION):
            STEPS[step](connection)
            connection.execute(f"PRAGMA user_version = {step + 1}")
        connection.execute("COMMIT")
    except BaseException:
        connection.execute("ROLLBACK")
        raise
