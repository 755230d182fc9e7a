"""Comparing a book's tables with the same tables derived again from its records, row by row, in both directions."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Any

from ledger.book import schema
from ledger.book.findings import THE_SUMS, Findings
from ledger.book.schema import RECORD_TABLES, SUM_TABLES
from ledger.book.telling import Telling


def compare_tables(
    connection: sqlite3.Connection, derived: str, findings: Findings, stopped: int | None
) -> None:  # fmt: skip
    """Find every row that differs between the book (``main``) and the ``derived`` database attached beside it.

    With ``stopped`` only what follows from the records before that one is compared. Records themselves are not:
    each has its hash and its place in the chain.
    """
    telling = Telling(connection, derived)
    tables = [table for table in RECORD_TABLES if table != "record"]
    for table in tables if stopped is not None else [*tables, *SUM_TABLES]:
        try:
            _Pair(connection, derived, table, stopped).compare(telling, findings)
        except sqlite3.Error as error:
            findings.add("unreadable parts", 0, f"table {table}", f"cannot be compared: {error}")


class _Pair:
    """One table, as it stands (a) and as it was derived (b)."""

    def __init__(self, connection: sqlite3.Connection, derived: str, table: str, stopped: int | None) -> None:
        self.connection, self.derived, self.table, self.stopped = connection, derived, table, stopped
        columns = connection.execute(f"PRAGMA {derived}.table_info({table})").fetchall()
        self.columns = [name for _, name, *_ in columns]
        self.keys = [name for _, name, *_, key in columns if key]
        self.on = " AND ".join(f"a.{key} = b.{key}" for key in self.keys)

    def compare(self, telling: Telling, findings: Findings) -> None:
        """Find what differs, is too much, and is missing."""
        sort = f"rows of {self.table}"
        for record, row, right in self._differing():
            told = telling.differs(self.table, row, right) if right else telling.extra(self.table, row)
            findings.add(sort, record, *told)
        for record, right in self._missing():
            findings.add(sort, record, *telling.missing(self.table, right))
        if self.stopped is None and not findings.count(sort):
            self._count(findings)

    def _owner(self, row: str, database: str) -> str:
        if self.table in SUM_TABLES:
            return "NULL"
        return schema.owner(self.table, row, database)

    def _until(self, owner: str) -> str:
        return "" if self.stopped is None else f" AND {owner} < {self.stopped}"

    def _differing(self) -> Iterator[tuple[int, dict[str, Any], dict[str, Any] | None]]:
        """Yield rows of the book that were not derived so: with the derived row, or None where there is none."""
        rest = [column for column in self.columns if column not in self.keys]
        same = " AND ".join(f"a.{c} IS b.{c}" for c in rest) or "1"
        types = " AND ".join(f"typeof(a.{c}) = typeof(b.{c})" for c in self.columns)
        owner, first = self._owner("a", "main"), self.keys[0]
        rows = self.connection.execute(
            f"SELECT b.{first} IS NULL, {owner}, {self._list('a')}, {self._list('b')} "
            f"FROM main.{self.table} AS a LEFT JOIN {self.derived}.{self.table} AS b ON {self.on} "
            f"WHERE (b.{first} IS NULL OR NOT ({same} AND {types})){self._until(owner)} "
            f"ORDER BY {self._list('a', True)}"
        )
        width = len(self.columns)
        for alone, record, *values in rows:
            row, right = values[:width], values[width:]
            yield _record(record), dict(zip(self.columns, row, strict=True)), (
                None if alone else dict(zip(self.columns, right, strict=True))
            )  # fmt: skip

    def _missing(self) -> Iterator[tuple[int, dict[str, Any]]]:
        """Yield derived rows that the book does not hold."""
        owner = self._owner("b", self.derived)
        rows = self.connection.execute(
            f"SELECT {owner}, {self._list('b')} FROM {self.derived}.{self.table} AS b "
            f"WHERE NOT EXISTS (SELECT 1 FROM main.{self.table} AS a WHERE {self.on}){self._until(owner)} "
            f"ORDER BY {self._list('b', True)}"
        )
        for record, *values in rows:
            yield _record(record), dict(zip(self.columns, values, strict=True))

    def _list(self, row: str, keys: bool = False) -> str:
        return ", ".join(f"{row}.{column}" for column in (self.keys if keys else self.columns))

    def _count(self, findings: Findings) -> None:
        """Find rows that stand twice, which a table altered to have no key could hold."""
        book, right = (
            self.connection.execute(f"SELECT count(*) FROM {database}.{self.table}").fetchone()[0]
            for database in ("main", self.derived)
        )
        if book != right:
            findings.add(f"rows of {self.table}", THE_SUMS, f"table {self.table}", f"holds {book} rows, not {right}")


def _record(owner: object) -> int:
    if owner is None:
        return THE_SUMS
    return owner if isinstance(owner, int) and owner > 0 else 1
