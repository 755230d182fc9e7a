"""The book as it stood before one of its records: what a closed period is computed from.

While it is looked at so, every record table shows only what follows from earlier records: temporary views of the
connection stand before the tables of the file, under the same names. Nobody who asks has to know. Sum tables are not
bounded: what they say of a closed period no later ticket changes.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

from ledger.book.schema import RECORD_TABLES, owner

#: After every record.
_NOW: Final = 2**62


@contextmanager
def book_before(connection: sqlite3.Connection, record: int) -> Iterator[None]:
    """Bound the connection to the records before one; bounds may stand within each other, the innermost holds."""
    with looking_back(connection):
        (outer,) = connection.execute("SELECT record FROM temp.bound").fetchone()
        connection.execute("UPDATE temp.bound SET record = ?", (record,))
        try:
            yield
        finally:
            connection.execute("UPDATE temp.bound SET record = ?", (outer,))


def first_unseen(connection: sqlite3.Connection) -> int:
    """Return the first record that the connection is bounded before; one after every record where it is not."""
    if not _up(connection):
        return _NOW
    return int(connection.execute("SELECT record FROM temp.bound").fetchone()[0])


def _up(connection: sqlite3.Connection) -> bool:
    found = connection.execute("SELECT EXISTS (SELECT 1 FROM temp.sqlite_master WHERE name = 'bound')").fetchone()
    return bool(found[0])


@contextmanager
def looking_back(connection: sqlite3.Connection) -> Iterator[None]:
    """Keep the views up, so that many bounds within cost little; nothing can be recorded meanwhile."""
    up = _up(connection)
    if not up:
        connection.execute(f"CREATE TEMP TABLE bound AS SELECT {_NOW} AS record")
        for table in RECORD_TABLES:
            # The sign keeps the bound from being taken for an index to search by.
            where = f"+{owner(table, f'main.{table}')} < (SELECT record FROM temp.bound)"
            connection.execute(f"CREATE TEMP VIEW {table} AS SELECT * FROM main.{table} WHERE {where}")
    try:
        yield
    finally:
        if not up:
            for table in RECORD_TABLES:
                connection.execute(f"DROP VIEW temp.{table}")
            connection.execute("DROP TABLE temp.bound")
