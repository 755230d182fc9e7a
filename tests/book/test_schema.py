"""The file guards itself: plain SQLite cannot change, remove or overwrite a row of what was recorded."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from ledger.book import schema
from tests.book.sample import sample_book


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> Iterator[sqlite3.Connection]:
    """A plain connection with SQLite's own defaults, as any other program would open the file."""
    with closing(sqlite3.connect(sample_book(tmp_path_factory.mktemp("schema")), isolation_level=None)) as connection:
        yield connection


def columns(connection: sqlite3.Connection, table: str) -> list[str]:
    return [name for _, name, *_ in connection.execute(f"PRAGMA table_info({table})")]


def unique_columns(connection: sqlite3.Connection, table: str) -> list[str]:
    """Columns that SQLite keeps unique, as SQLite itself tells them: the primary key, and each unique index."""
    keys = [name for _, name, *_, key in connection.execute(f"PRAGMA table_info({table})") if key]
    for _, index, unique, *_ in connection.execute(f"PRAGMA index_list({table})").fetchall():
        if unique:
            keys += [name for _, _, name in connection.execute(f"PRAGMA index_info({index})")]
    return sorted(set(keys))


def test_every_record_table_holds_rows_in_the_sample(plain: sqlite3.Connection) -> None:
    """Else the tests below would prove nothing: a trigger fires once for each row."""
    for table in (*schema.RECORD_TABLES, *schema.SUM_TABLES):
        assert plain.execute(f"SELECT count(*) FROM {table}").fetchone()[0], table


@pytest.mark.parametrize("table", schema.RECORD_TABLES)
def test_no_update_of_any_column(plain: sqlite3.Connection, table: str) -> None:
    for column in columns(plain, table):
        for verb in ("UPDATE", "UPDATE OR REPLACE", "UPDATE OR IGNORE"):
            with pytest.raises(sqlite3.IntegrityError, match=f"{table} is append-only"):
                plain.execute(f"{verb} {table} SET {column} = {column}")


@pytest.mark.parametrize("table", schema.RECORD_TABLES)
def test_no_delete(plain: sqlite3.Connection, table: str) -> None:
    with pytest.raises(sqlite3.IntegrityError, match=f"{table} is append-only"):
        plain.execute(f"DELETE FROM {table}")


@pytest.mark.parametrize("verb", ["INSERT", "INSERT OR REPLACE", "REPLACE", "INSERT OR IGNORE", "INSERT OR FAIL"])
@pytest.mark.parametrize("table", schema.RECORD_TABLES)
def test_no_insert_over_any_key(plain: sqlite3.Connection, table: str, verb: str) -> None:
    """A new row that shares just one unique value with an old one: INSERT OR REPLACE would remove the old one."""
    names, uniques = columns(plain, table), unique_columns(plain, table)
    before = plain.execute(f"SELECT * FROM {table} ORDER BY 1").fetchall()
    for shared in uniques:
        old = plain.execute(f"SELECT * FROM {table} WHERE {shared} IS NOT NULL LIMIT 1").fetchone()
        row = dict(zip(names, old, strict=True))
        for other in set(uniques) - {shared}:
            value = row[other]
            another = {str: f"{value}x", bytes: bytes(32), type(None): None}
            row[other] = another.get(type(value), 10**6)
        marks = ", ".join("?" * len(row))
        with pytest.raises(sqlite3.IntegrityError, match=f"{table} is append-only"):
            plain.execute(f"{verb} INTO {table} VALUES ({marks})", list(row.values()))
    assert plain.execute(f"SELECT * FROM {table} ORDER BY 1").fetchall() == before


def test_no_upsert(plain: sqlite3.Connection) -> None:
    with pytest.raises(sqlite3.IntegrityError, match="metal is append-only"):
        plain.execute("INSERT INTO metal VALUES (0, 'lead') ON CONFLICT DO UPDATE SET metal = 'lead'")


@pytest.mark.parametrize(
    ("column", "value"),
    [("ng", 1.5), ("ng", "1 g"), ("ng", b"1"), ("ng", None), ("ng", 0), ("prior", 2), ("class", "x"), ("metal", None)],
)
def test_a_posting_is_typed(plain: sqlite3.Connection, column: str, value: object) -> None:
    names = columns(plain, "posting")
    row = dict(zip(names, plain.execute("SELECT * FROM posting LIMIT 1").fetchone(), strict=True))
    row |= {"id": 10**6, column: value}
    with pytest.raises(sqlite3.IntegrityError):
        plain.execute(f"INSERT INTO posting VALUES ({', '.join('?' * len(names))})", list(row.values()))


def test_the_marks_of_the_file(tmp_path: Path) -> None:
    """Application id "LEML" stands at byte 68 of the header, the schema's version at 60 (SQLite file format, 1.3)."""
    header = sample_book(tmp_path).read_bytes()[:100]
    assert header[68:72] == b"LEML"
    assert int.from_bytes(header[60:64], "big") == schema.SCHEMA_VERSION


def test_every_table_is_strict_and_records_sums_or_is_kept(plain: sqlite3.Connection) -> None:
    listed = {name: strict for _, name, kind, _, _, strict in plain.execute("PRAGMA table_list")
              if kind == "table" and not name.startswith("sqlite_")}  # fmt: skip
    assert set(listed) == {*schema.RECORD_TABLES, *schema.SUM_TABLES, *schema.KEPT_TABLES}
    assert all(listed.values())
