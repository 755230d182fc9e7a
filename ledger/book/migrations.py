"""The way from an earlier schema to this one. Each step leaves every record and its hash as they were."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from typing import Final

from ledger.book.schema import SCHEMA_VERSION
from ledger.refusals import BookUnusable

#: Version → what brings a book of that version to the next. Empty while there has been only one.
STEPS: Final[dict[int, Callable[[sqlite3.Connection], None]]] = {}


def migrate(connection: sqlite3.Connection, version: int) -> None:
    """Bring a book from ``version`` to the present schema, all steps or none; raises BookUnusable."""
    if version not in range(min(STEPS, default=SCHEMA_VERSION), SCHEMA_VERSION):
        raise BookUnusable(f"the book says its schema is {version}, which no version of this program wrote",
                           "go back to the last backup")  # fmt: skip
    connection.execute("BEGIN IMMEDIATE")
    try:
        for step in range(version, SCHEMA_VERSION):
            STEPS[step](connection)
            connection.execute(f"PRAGMA user_version = {step + 1}")
        connection.execute("COMMIT")
    except BaseException:
        connection.execute("ROLLBACK")
        raise
