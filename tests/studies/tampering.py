"""Single changes that somebody with the file and plain SQLite can make to a book, each as statements or as a bit.

The forger drops the guards, changes one thing, and puts the guards back. Which changes there are is taken from the
book's own schema: every column of every table, rows added, removed, swapped and renumbered, guards and indexes dropped
or made harmless, tables put in the place of others, marks of the file, and bits of the file turned.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from itertools import pairwise
from random import Random
from typing import Any

Statement = tuple[str, tuple[Any, ...]]


@dataclass(frozen=True)
class Change:
    """One change: which sort of one, in words, and its statements; or the place of a bit, counted from the first."""

    sort: str
    words: str
    statements: tuple[Statement, ...] = ()
    bit: int | None = None
    guarded: bool = True  # guards are dropped before the statements, and put back after them


def opened(book: bytes) -> sqlite3.Connection:
    """Return a book in memory."""
    connection = sqlite3.connect(":memory:", isolation_level=None)
    connection.deserialize(book)
    return connection


def tampered(book: bytes, change: Change) -> sqlite3.Connection:
    """Return the changed book; raises sqlite3.Error where the table's own checks do not allow the change."""
    if change.bit is not None:
        wounded = bytearray(book)
        wounded[change.bit // 8] ^= 1 << change.bit % 8
        return opened(bytes(wounded))
    connection = opened(book)
    guards = connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
    for name, _ in guards if change.guarded else ():
        connection.execute(f"DROP TRIGGER {name}")
    for sql, values in change.statements:
        connection.execute(sql, values)
    for _, sql in guards if change.guarded else ():
        connection.execute(sql)
    return connection


# ---- values and rows --------------------------------------------------------------------------------------------


class Tables:
    """The tables of a book, their columns and rows."""

    def __init__(self, book: bytes, rows: int, random: Random) -> None:
        self.book, self.random = book, random
        self.connection = opened(book)
        listed = self.connection.execute(
            "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name"
        ).fetchall()
        self.names = [name for (name,) in listed]
        self.columns: dict[str, list[str]] = {}
        self.keys: dict[str, list[str]] = {}
        self.unique: dict[str, set[str]] = {}
        self.rows: dict[str, list[dict[str, Any]]] = {}
        for table in self.names:
            info = self.connection.execute(f"PRAGMA table_info({table})").fetchall()
            self.columns[table] = [name for _, name, *_ in info]
            self.keys[table] = [name for _, name, *_, key in info if key]
            self.unique[table] = set(self._unique(table))
            found = self.connection.execute(f"SELECT * FROM {table} ORDER BY {', '.join(self.keys[table])}").fetchall()
            chosen = found if len(found) <= rows else [found[i] for i in sorted(random.sample(range(len(found)), rows))]
            self.rows[table] = [dict(zip(self.columns[table], row, strict=True)) for row in chosen]

    def _unique(self, table: str) -> Iterator[str]:
        for _, index, is_unique, *_ in self.connection.execute(f"PRAGMA index_list({table})").fetchall():
            columns = [name for *_, name in self.connection.execute(f"PRAGMA index_info({index})")]
            if is_unique and len(columns) == 1:
                yield columns[0]

    def at(self, table: str, row: dict[str, Any]) -> Statement:
        """Return the condition that finds a row."""
        return " AND ".join(f"{key} = ?" for key in self.keys[table]), tuple(row[key] for key in self.keys[table])

    def allowed(self, change: Change) -> bool:
        """Return whether the table's own checks let a change be made."""
        try:
            with closing(tampered(self.book, change)):
                return True
        except sqlite3.Error:
            return False

    def another(self, value: Any) -> list[Any]:
        """Return other values of the same type, and nothing at all; likely allowed before seldom allowed."""
        if value is None:
            return [1, "x", b"x"]
        if isinstance(value, int):
            near = [value + 1, value - 1, -value, value + 10**6, 1 - value]
            return [one for one in near if one != value] + [None]
        if isinstance(value, bytes):
            turned = bytearray(value)
            turned[self.random.randrange(len(turned) or 1)] ^= 1
            return [bytes(turned), bytes(len(value)), None]
        return [*self._texts(value), None]

    def _texts(self, text: str) -> list[str]:
        digits = [i for i, sign in enumerate(text) if sign in "0123456789"]
        changed = []
        if digits:
            at = self.random.choice(digits)
            changed.append(text[:at] + str((int(text[at]) + self.random.randint(1, 9)) % 10) + text[at + 1 :])
        return [*changed, text + "x", text[:-1], text.swapcase(), "measured", "nominal", "loss", "own", "bin", "job"]


def value_changes(tables: Tables, values: int) -> Iterator[Change]:
    """Yield changes of one column of one row, so many values each."""
    for table in tables.names:
        for row in tables.rows[table]:
            where, key = tables.at(table, row)
            for column in tables.columns[table]:
                yield from _values(tables, table, column, row[column], (where, key), values)


def _values(
    tables: Tables, table: str, column: str, value: Any, at: Statement, values: int
) -> Iterator[Change]:  # fmt: skip
    made = 0
    for other in tables.another(value):
        if other == value and type(other) is type(value):
            continue
        sql = f"UPDATE {table} SET {column} = ? WHERE {at[0]}"
        change = Change("a value changed", f"{table}.{column} of {at[1]}: {value!r:.60} → {other!r:.60}",
                        ((sql, (other, *at[1])),))  # fmt: skip
        if tables.allowed(change):
            yield change
            made += 1
        if made == values:
            return


def row_changes(tables: Tables) -> Iterator[Change]:
    """Yield rows removed, added again under another key, renumbered, and pairs that changed places."""
    for table in tables.names:
        rows = tables.rows[table]
        for row in rows:
            where, key = tables.at(table, row)
            yield Change("a row removed", f"{table} {key}", ((f"DELETE FROM {table} WHERE {where}", key),))
            yield from _allowed(tables, _added(tables, table, row))
            yield from _allowed(tables, _renumbered(tables, table, row))
        for one, other in pairwise(rows):
            yield from _allowed(tables, _swapped(tables, table, one, other))


def _allowed(tables: Tables, change: Change) -> Iterator[Change]:
    if tables.allowed(change):
        yield change


def _fresh(tables: Tables, table: str, row: dict[str, Any]) -> dict[str, Any]:
    """Return a row with every unique column, and the first column of its key, made another."""
    twin = dict(row)
    for column in {tables.keys[table][0], *tables.unique[table]}:
        value = row[column]
        twin[column] = {int: lambda v: v + 10**6, str: lambda v: f"{v}7", bytes: lambda v: v[::-1]}.get(
            type(value), lambda v: None
        )(value)
    return twin


def _insert(table: str, row: dict[str, Any]) -> Statement:
    return f"INSERT INTO {table} VALUES ({', '.join('?' * len(row))})", tuple(row.values())


def _added(tables: Tables, table: str, row: dict[str, Any]) -> Change:
    twin = _fresh(tables, table, row)
    return Change("a row added", f"{table} {tables.at(table, twin)[1]}", (_insert(table, twin),))


def _renumbered(tables: Tables, table: str, row: dict[str, Any]) -> Change:
    (where, key), column = tables.at(table, row), tables.keys[table][0]
    value = _fresh(tables, table, row)[column]
    sql = f"UPDATE {table} SET {column} = ? WHERE {where}"
    return Change("a row renumbered", f"{table}.{column} of {key} → {value!r}", ((sql, (value, *key)),))


def _swapped(tables: Tables, table: str, one: dict[str, Any], other: dict[str, Any]) -> Change:
    keys = tables.keys[table]
    deleted = tuple((f"DELETE FROM {table} WHERE {where}", key) for where, key in
                    (tables.at(table, row) for row in (one, other)))  # fmt: skip
    put = tuple(_insert(table, {**row, **{key: place[key] for key in keys}}) for row, place in
                ((one, other), (other, one)))  # fmt: skip
    same = all(one[column] == other[column] for column in one if column not in keys)
    words = f"{table} {tables.at(table, one)[1]} and {tables.at(table, other)[1]}"
    return Change("two rows swapped" if not same else "two equal rows swapped", words, deleted + put)


# ---- the schema and the file ------------------------------------------------------------------------------------


def schema_changes(tables: Tables) -> Iterator[Change]:
    """Yield guards and indexes dropped or made harmless, tables replaced, and what does not belong."""
    made = tables.connection.execute("SELECT type, name, sql FROM sqlite_master WHERE sql IS NOT NULL")
    for type_, name, sql in made.fetchall():
        if type_ == "trigger":
            harmless = sql.partition("BEGIN")[0] + "BEGIN SELECT 1; END"
            yield Change("a guard dropped", name, ((f"DROP TRIGGER {name}", ()),), guarded=False)
            yield Change("a guard made harmless", name, ((f"DROP TRIGGER {name}", ()), (harmless, ())), guarded=False)
        elif type_ == "index":
            yield Change("an index dropped", name, ((f"DROP INDEX {name}", ()),))
        elif name in tables.names:
            yield from _table_changes(tables, name, sql)
    for number in (2, 7):
        yield Change("a mark of the file", f"user_version {number + 1}", ((f"PRAGMA user_version = {number + 1}", ()),))
        yield Change("a mark of the file", f"application_id {number}", ((f"PRAGMA application_id = {number}", ()),))


def _table_changes(tables: Tables, name: str, sql: str) -> Iterator[Change]:
    columns = ", ".join(tables.columns[name])
    copied = (f"CREATE TABLE aside AS SELECT * FROM {name}", ())
    back = (f"INSERT INTO {name} SELECT * FROM aside", ())
    gone = (f"DROP TABLE {name}", ())
    forget = ("DROP TABLE aside", ())
    loose = (f"CREATE TABLE {name} ({columns})", ())
    for words, made in (("without its checks", loose), ("lax", (sql.replace("STRICT", "").rstrip(" ,"), ()))):
        replaced = Change("a table replaced", f"{name} {words}", (copied, gone, made, back, forget))
        yield from _allowed(tables, replaced)
    view = (f"CREATE VIEW {name} AS SELECT * FROM aside", ())
    yield Change("a table replaced", f"{name} by a view", (copied, gone, view), guarded=False)
    yield Change("a table emptied", name, ((f"DELETE FROM {name}", ()),))
    yield Change("a table dropped", name, (gone,), guarded=False)
    yield Change("a column added", name, ((f"ALTER TABLE {name} ADD COLUMN remark TEXT", ()),))
    body = f"CREATE TRIGGER later AFTER INSERT ON {name} BEGIN DELETE FROM flag; END"
    yield Change("what does not belong", f"a trigger on {name}", ((body, ()),))
    yield Change("what does not belong", f"an index on {name}",
                 ((f"CREATE INDEX aside ON {name} ({tables.columns[name][0]})", ()),))  # fmt: skip


def bit_changes(book: bytes, many: int, random: Random) -> Iterator[Change]:
    """Yield single bits of the file turned, anywhere; every bit of its header among them."""
    header = range(100 * 8)
    rest = random.sample(range(100 * 8, len(book) * 8), many)
    for bit in [*header, *rest]:
        yield Change("a bit of the file turned", f"bit {bit % 8} of byte {bit // 8}", bit=bit)


def every_change(book: bytes, *, rows: int, values: int, bits: int, seed: int) -> list[Change]:
    """Return the changes to a book: of so many rows a table, so many values a column, so many bits of the file."""
    random = Random(seed)
    tables = Tables(book, rows, random)
    groups: Sequence[Iterator[Change]] = (
        value_changes(tables, values), row_changes(tables), schema_changes(tables), bit_changes(book, bits, random),
    )  # fmt: skip
    return [change for group in groups for change in group]
