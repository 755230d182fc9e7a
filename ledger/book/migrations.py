"""The way from an earlier schema to this one. Each step leaves every record and its hash as they were."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from typing import Final

from ledger.book.schema import INDEXES, SCHEMA_VERSION, table_statements
from ledger.refusals import BookUnusable


def _add_closes(connection: sqlite3.Connection) -> None:
    """Version 2 keeps closes of periods, and what past periods left; a book of version 1 has none of either yet."""
    connection.execute(next(index for index in INDEXES if " ticket_written_off " in index))
    for table in ("close", "carried", "carried_rows", "carried_balance"):
        for statement in table_statements(table):
            connection.execute(statement)


#: Version → what brings a book of that version to the next.
STEPS: Final[dict[int, Callable[[sqlite3.Connection], None]]] = {1: _add_closes}


def migrate(connection: sqlite3.Connection, version: int) -> None:
    """Bring a book from ``version`` to the present schema, all steps or none; raises BookUnusable."""
    if version not in range(min(STEPS, default=SCHEMA_VERSION), SCHEMA_VERSION):
        raise BookUnusable(f"the book says its schema is {version}, which no version of this program wrote",
                           "go back to the last backup")  # fmt: skip
    connection.execute("BEGIN IMMEDIATE")
    try:
        (version,) = connection.execute("PRAGMA user_version").fetchone()  # another may have been faster
        for step in range(version, SCHEMA_VERSION):
            STEPS[step](connection)
            connection.execute(f"PRAGMA user_version = {step + 1}")
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:  # a full disk has ended it already
            connection.execute("ROLLBACK")
        raise
