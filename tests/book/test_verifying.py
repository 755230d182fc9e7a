"""Verify names every kind of change that somebody with the file and no scruples can make to it.

The forger of these tests drops the guards, changes something, and puts the guards back: what is left to find is the
change alone. Which changes there are is taken from the schema, table by table and column by column.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, suppress
from pathlib import Path
from typing import Any

import pytest

from ledger.book import findings, schema, verifying
from ledger.book.store import reading
from ledger.book.verifying import Finding, verify
from ledger.refusals import BookUnusable
from tests.book.sample import CHANGED_AT, RECORDS, forging, rows, sample_book

TABLES = (*schema.RECORD_TABLES, *schema.SUM_TABLES)


def columns_of(table: str) -> list[tuple[str, str, bool, bool]]:
    """Name, type, may be nothing, belongs to the key; as SQLite tells them of an empty book."""
    with closing(sqlite3.connect(":memory:")) as empty:
        schema.create(empty)
        rows = empty.execute(f"PRAGMA table_info({table})").fetchall()
    return [(name, type_, not notnull and not key, bool(key)) for _, name, type_, notnull, _, key in rows]


COLUMNS = [(table, name) for table in TABLES for name, *_ in columns_of(table)]

#: The record a row belongs to, told independently of what is tested.
OWNER = {
    "record": "seq", "setup_version": "seq", "ticket": "seq", "close": "seq", "lot": "made_by",
    "derivation": "(SELECT ticket FROM determination AS d WHERE d.id = derivation.determination)",
}  # fmt: skip

#: How a row of a table without a ticket is named.
NAMED = {
    "metal": ("metal {position}",), "setup_version": ("set-up",), "standing": ("stock {area}",),
    "missed": ("not found {area}",), "period_sum": ("sum {period} {class} {area}", "{metal}"),
    "area_clock": ("latest ticket of {area}",), "on_the_way": ("on the way {move}",), "open_job": ("open job",),
}  # fmt: skip


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return sample_book(tmp_path)


def verified(path: Path, *, quick: bool = False) -> list[Finding]:
    with reading(path) as connection:
        return verify(connection, quick)


#: Tables of which the sample has one row, or none that differ but in their key.
ONE_ROW = ("opened", "missed", "void_number", "job_state", "checked", "on_the_way", "open_job", "close")


def middle(connection: sqlite3.Connection, table: str) -> dict[str, Any]:
    """Return a row from the middle of a table."""
    count = connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0]
    cursor = connection.execute(f"SELECT * FROM {table} ORDER BY 1, 2 LIMIT 1 OFFSET ?", (count // 2,))
    return dict(zip([name for name, *_ in cursor.description], cursor.fetchone(), strict=True))


def key(table: str) -> list[str]:
    return [name for name, _, _, in_key in columns_of(table) if in_key]


def at(table: str) -> str:
    return " AND ".join(f"{name} = :{name}" for name in key(table))


def names(connection: sqlite3.Connection, table: str, row: dict[str, Any]) -> tuple[str, ...]:
    """Return what a finding must say for a person to find this row: the ticket, or the account of a sum."""
    if table in NAMED:
        return tuple(part.format(**row) for part in NAMED[table])
    sql = f"SELECT number FROM ticket WHERE seq = (SELECT {OWNER.get(table, 'ticket')} FROM {table} WHERE {at(table)})"
    (number,) = connection.execute(sql, row).fetchone()
    return ("the close of 2026-10",) if number == "2026-10 close" else (f"ticket {number}",)


def assert_named(found: list[Finding], wanted: tuple[str, ...]) -> None:
    """Some finding names the place, and no finding blames the file or its guards."""
    told = [str(one) for one in found]
    assert any(all(part in text for part in wanted) for text in told), (wanted, told)
    assert not [text for text in told if text.startswith(("the file", "trigger", "table", "index"))], told


# ---- sound books ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("quick", [False, True])
def test_a_sound_book_has_no_finding(path: Path, quick: bool) -> None:
    assert verified(path, quick=quick) == []


def test_verifying_writes_nothing_to_the_book_and_nothing_beside_it(path: Path) -> None:
    before = path.read_bytes()
    with reading(path) as connection:
        assert verify(connection) == []
        assert verify(connection) == [], "a second time on the same connection"
        beside = {one.name for one in path.parent.iterdir()}
    assert path.read_bytes() == before
    assert beside <= {path.name, f"{path.name}-wal", f"{path.name}-shm"}


def test_verifying_outside_a_transaction_leaves_nothing_attached(path: Path) -> None:
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        assert verify(connection) == []
        assert len(connection.execute("PRAGMA database_list").fetchall()) == 1


def test_progress_is_told(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(verifying, "_EVERY", 10)
    told: list[int] = []
    with reading(path) as connection:
        verify(connection, progress=told.append)
    assert told == [10, 20, 30, 40]


def test_statistics_for_the_query_planner_are_no_finding(path: Path) -> None:
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("ANALYZE")
    assert verified(path) == []


# ---- every column, every table ----------------------------------------------------------------------------------


def other_values(value: object, type_: str) -> list[object]:
    """Return values of the column's type that are not this one, likely allowed before seldom allowed."""
    if type_ == "INTEGER":
        return [1_000_000] if value is None else [value + 1, value + 1_000_000, 1 - value]  # type: ignore[operator]
    if type_ == "BLOB":
        return [bytes(32)]
    kinds = ("ticket", "setup", "bin", "job", "measured", "nominal", "loss", "own")
    return [f"{value or ''}x", *(kind for kind in kinds if kind != value)]


def change(connection: sqlite3.Connection, table: str, row: dict[str, Any], column: str, type_: str) -> None:
    """Change one column to a value that the table's own checks allow."""
    for value in other_values(row[column], type_):
        try:
            changed = connection.execute(
                f"UPDATE {table} SET {column} = :new_value WHERE {at(table)}", {**row, "new_value": value}
            )
        except sqlite3.IntegrityError:
            continue
        assert changed.rowcount == 1
        return
    raise AssertionError(f"no other value of {table}.{column} is allowed")


@pytest.mark.parametrize(("table", "column"), COLUMNS)
def test_a_changed_value_is_named(path: Path, table: str, column: str) -> None:
    type_, may_be_nothing = next((t, n) for name, t, n, _ in columns_of(table) if name == column)
    with forging(path) as connection:
        row = middle(connection, table)
        wanted = names(connection, table, row)
        change(connection, table, row, column, type_)
    assert_named(verified(path), wanted)
    if may_be_nothing and row[column] is not None:
        with forging(path) as connection:
            connection.execute(f"UPDATE {table} SET {column} = NULL WHERE {at(table)}", row)
        assert_named(verified(path), wanted)


@pytest.mark.parametrize("table", TABLES)
def test_a_removed_row_is_named(path: Path, table: str) -> None:
    with forging(path) as connection:
        row = middle(connection, table)
        wanted = names(connection, table, row)
        connection.execute(f"DELETE FROM {table} WHERE {at(table)}", row)
    assert_named(verified(path), wanted)


@pytest.mark.parametrize("table", TABLES)
def test_an_emptied_table_is_found(path: Path, table: str) -> None:
    with forging(path) as connection:
        connection.execute(f"DELETE FROM {table}")
    assert verified(path)


@pytest.mark.parametrize("table", TABLES)
def test_a_doubled_row_is_named(path: Path, table: str) -> None:
    """The same row under another key: for a table of tickets or lots its number must differ too."""
    with forging(path) as connection:
        row = middle(connection, table)
        wanted = names(connection, table, row)
        twin = dict(row)
        for column in {*key(table)[:1], *({"number"} if table in ("ticket", "lot") else ()),
                       *({"metal"} if table == "metal" else ()),
                       *({"period", "ends", "seal"} if table == "close" else ())}:  # fmt: skip
            value = row[column]
            twin[column] = value + 1_000_000 if isinstance(value, int) else (
                bytes(32) if isinstance(value, bytes) else f"{value}x")  # fmt: skip
        if table == "ticket":
            twin |= {"reverses": None, "corrects": None}
        marks = ", ".join(f":{name}" for name in twin)
        connection.execute(f"INSERT INTO {table} VALUES ({marks})", twin)
    found = [str(one) for one in verified(path)]
    if table == "record":
        assert any("the record is not in the book" in text for text in found), "the places before the twin are empty"
        return
    extra = [text for text in found if "is in the book, and no record" in text]
    assert len(extra) == 1, found
    if OWNER.get(table, "ticket") not in key(table) and table not in NAMED:
        assert all(part in extra[0] for part in wanted), (wanted, extra)


@pytest.mark.parametrize("table", [t for t in TABLES if t not in ONE_ROW])
def test_two_rows_that_changed_places_are_named(path: Path, table: str) -> None:
    with forging(path) as connection:
        row = middle(connection, table)
        keys = key(table)
        rest = [name for name in row if name not in keys]
        differs = " OR ".join(f"{name} IS NOT :{name}" for name in rest)
        cursor = connection.execute(f"SELECT * FROM {table} WHERE {differs} LIMIT 1", row)
        other = dict(zip(row, cursor.fetchone(), strict=True))
        wanted = names(connection, table, row)
        marks = ", ".join(f":{name}" for name in row)
        for one in (row, other):
            connection.execute(f"DELETE FROM {table} WHERE {at(table)}", one)
        for one, place in ((row, other), (other, row)):
            connection.execute(f"INSERT INTO {table} VALUES ({marks})", {**one, **{name: place[name] for name in keys}})
    assert_named(verified(path), wanted)


GARBAGE = ["x'ff'", "1.5", "'garbage' || char(0)", "CAST(x'c328' AS TEXT)", "NULL", "-1"]


@pytest.mark.parametrize("table", TABLES)
def test_garbage_in_any_column_is_a_finding(path: Path, table: str) -> None:
    """The forger also takes the table's own checks away, so that anything can stand in every column of a row."""
    with forging(path) as connection:
        names_ = [name for name, *_ in columns_of(table)]
        redefine(connection, table, f"CREATE TABLE {table} ({', '.join(names_)})")
        sound = connection.execute(f"SELECT rowid, * FROM {table} LIMIT 1").fetchone()
    for garbage in GARBAGE:
        with forging(path) as connection:
            sets = ", ".join(f"{name} = {garbage}" for name in names_)
            connection.execute(f"UPDATE {table} SET {sets} WHERE rowid = ?", sound[:1])
        assert Finding(f"table {table}", "is altered") in verified(path, quick=True)
        assert len(verified(path)) > 1, garbage


def redefine(connection: sqlite3.Connection, table: str, sql: str) -> None:
    """Put a table made by that statement in the place of one, with the same rows."""
    rows = connection.execute(f"SELECT * FROM {table}").fetchall()
    connection.execute(f"DROP TABLE {table}")
    connection.execute(sql)
    connection.executemany(f"INSERT INTO {table} VALUES ({', '.join('?' * len(rows[0]))})", rows)


def test_a_whole_number_kept_as_a_float_is_named(path: Path) -> None:
    """12 and 12.0 are equal to SQLite; a mass is never a float."""
    with forging(path) as connection:
        (made,) = connection.execute("SELECT sql FROM sqlite_master WHERE name = 'posting'").fetchone()
        redefine(connection, "posting", made.replace("ng INTEGER", "ng").replace(" STRICT", ""))
        connection.execute("UPDATE posting SET ng = CAST(ng AS REAL) WHERE ticket = 8 AND line = 1 AND area = 'MELT'")
    assert any(one.where == "ticket HC-0007, line 1" for one in verified(path))


# ---- records ----------------------------------------------------------------------------------------------------


def reseal(connection: sqlite3.Connection) -> None:
    """Recompute every hash and the running hash, as a forger who knows the rules would.

    Written from the book's own statement of the rule (handbook 8): SHA-256 of the body; SHA-256 of the running hash
    before, followed by the record's place, kind, hash, time and user as a JSON array.
    """
    chain = b""
    rows = connection.execute("SELECT seq, kind, body, recorded_at, recorded_by FROM record ORDER BY seq").fetchall()
    for seq, kind, body, at_, by in rows:
        hash_ = hashlib.sha256(body.encode()).digest()
        said = json.dumps([seq, kind, hash_.hex(), at_, by], ensure_ascii=False, separators=(",", ":"))
        chain = hashlib.sha256(chain + said.encode()).digest()
        connection.execute("UPDATE record SET hash = ?, chain = ? WHERE seq = ?", (hash_, chain, seq))


def slow_root(leaves: list[bytes]) -> bytes:
    """RFC 9162, 2.1.1, as it is written."""
    if len(leaves) == 1:
        return leaves[0]
    split = 1
    while split * 2 < len(leaves):
        split *= 2
    return hashlib.sha256(b"\x01" + slow_root(leaves[:split]) + slow_root(leaves[split:])).digest()


def forge_seals(connection: sqlite3.Connection) -> None:
    """Recompute hashes and every seal, as a forger would who read docs/reference/proof.md."""
    reseal(connection)
    previous: str | None = None
    for seq, body in connection.execute("SELECT seq, body FROM record WHERE kind = 'close' ORDER BY seq").fetchall():
        rows_ = connection.execute(
            "SELECT seq, kind, lower(hex(hash)), recorded_at, recorded_by FROM record WHERE seq < ? ORDER BY seq",
            (seq,),
        ).fetchall()
        leaves = [hashlib.sha256(b"\0" + canonical(list(row))).digest() for row in rows_]
        document = json.loads(body)
        head = document.pop("seal")
        head |= {
            "root": slow_root(leaves).hex(), "previous": previous,
            "close": hashlib.sha256(canonical(document)).hexdigest(),
            "statements": hashlib.sha256(canonical(document["statements"])).hexdigest(),
        }  # fmt: skip
        seal = hashlib.sha256(canonical(head)).digest()
        previous = seal.hex()
        body = canonical(document | {"seal": head}).decode()
        connection.execute("UPDATE record SET body = ? WHERE seq = ?", (body, seq))
        connection.execute("UPDATE close SET root = ?, seal = ? WHERE seq = ?", (slow_root(leaves), seal, seq))
        reseal(connection)


def canonical(value: object) -> bytes:
    return json.dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode()


def test_the_forger_of_these_tests_knows_the_rules(path: Path) -> None:
    before = rows(path, "record"), rows(path, "close")
    with forging(path) as connection:
        forge_seals(connection)
    assert (rows(path, "record"), rows(path, "close")) == before


def test_a_forger_who_recomputes_all_hashes_is_found_by_the_seal(path: Path) -> None:
    with forging(path) as connection:
        connection.execute("UPDATE record SET body = replace(body, '150.310 g', '150.210 g') WHERE seq = 8")
        reseal(connection)
    found = verified(path, quick=True)
    assert ("the close of 2026-10", "the seal does not fit: the root over the records before it differs") in [
        (one.where, one.what) for one in found
    ]


def test_a_forger_who_recomputes_hashes_where_nothing_is_sealed_is_found_by_what_follows(path: Path) -> None:
    with forging(path) as connection:
        connection.execute("UPDATE record SET body = replace(body, '\"100.000 g\"', '\"100.100 g\"') WHERE seq = 45")
        reseal(connection)
    assert verified(path, quick=True) == [], "the quick check reads records, not what follows from them"
    assert verified(path)[0].where == "ticket HC-0043, line 1"


def test_a_forger_who_makes_the_seals_anew_is_found_by_what_follows(path: Path) -> None:
    with forging(path) as connection:
        connection.execute("UPDATE record SET body = replace(body, '150.310 g', '150.210 g') WHERE seq = 8")
        forge_seals(connection)
    assert verified(path, quick=True) == []
    first = verified(path)[0]
    assert first.where == "ticket HC-0007, line 1"
    assert "is 150.31 g, the ticket gives 150.21 g" in first.what


BODIES: dict[str, str] = {
    "no JSON": "not JSON", "nothing": "", "an array": "[]", "a number": "1", "no ticket": "{}",
    "half": '{"ticket":"HC-0007"',
    "a float": '{"kind":"move","mass":1.5}', "NaN": '{"mass":NaN}', "a huge number": '{"mass":1' + "0" * 5000 + "}",
    "deep": "[" * 100_000, "doubled key": '{"a":1,"a":2}', "half a character": '{"a":"\\ud800"}',
    "other types": '{"ticket":7,"kind":["move"],"at":{},"lots":null}', "spaces": '{ "ticket" : "HC-0007" }',
    "unknown kind": '{"kind":"gift","ticket":"HC-0007"}', "NUL": '{"ticket":"HC-0007"}\0',
}  # fmt: skip


@pytest.mark.parametrize("seq", [1, 8, CHANGED_AT])
@pytest.mark.parametrize("sealed", [False, True])
@pytest.mark.parametrize("body", BODIES.values(), ids=BODIES)
def test_a_garbage_body_is_named(path: Path, body: str, sealed: bool, seq: int) -> None:
    where = {1: "record 1", 8: "ticket HC-0007", CHANGED_AT: f"record {CHANGED_AT}"}[seq]
    with forging(path) as connection:
        connection.execute("UPDATE record SET body = ? WHERE seq = ?", (body, seq))
        if sealed:
            reseal(connection)
    assert verified(path)[0].where == where


def test_a_body_that_is_not_utf_8_is_named(path: Path) -> None:
    with forging(path) as connection:
        connection.execute("UPDATE record SET body = CAST(x'7b22ff227d' AS TEXT) WHERE seq = 8")
    for quick in (False, True):
        assert [one.where for one in verified(path, quick=quick)][:2] == ["ticket HC-0007"] * 2


@pytest.mark.parametrize("column", ["recorded_by", "recorded_at"])
def test_a_stamp_that_is_not_utf_8_is_named(path: Path, column: str) -> None:
    with forging(path) as connection:
        connection.execute(f"UPDATE record SET {column} = CAST(x'ff' AS TEXT) WHERE seq = 8")
    for quick in (False, True):
        assert verified(path, quick=quick)[0].where == "ticket HC-0007"


def test_a_body_with_other_spacing_is_not_canonical(path: Path) -> None:
    with forging(path) as connection:
        connection.execute("UPDATE record SET body = replace(body, '\":\"', '\": \"') WHERE seq = 8")
        reseal(connection)
    found = verified(path, quick=True)
    assert (found[0].where, found[0].what) == ("ticket HC-0007", "the body is not in its one canonical form")


@pytest.mark.parametrize("kind", ["close", "setup"])
def test_a_record_of_another_kind_is_named(path: Path, kind: str) -> None:
    with forging(path) as connection:
        connection.execute("UPDATE record SET kind = ? WHERE seq = 8", (kind,))
        reseal(connection)
    assert verified(path)[0].where == "ticket HC-0007"


def test_the_first_record_must_be_a_setup(path: Path) -> None:
    with forging(path) as connection:
        connection.execute("DELETE FROM record WHERE seq = 1")
        connection.execute("UPDATE record SET seq = seq - 1")
        reseal(connection)
    assert "the first record is not a set-up" in str(verified(path)[0])


def test_records_cut_off_at_the_end_leave_what_follows_from_them(path: Path) -> None:
    with forging(path) as connection:
        connection.execute("DELETE FROM record WHERE seq = ?", (RECORDS,))
    assert verified(path, quick=True) == []
    what = "entry, kind checkweigh is in the book, and no record gives it"
    assert verified(path)[0] == Finding("ticket HC-0045", what)


def test_the_same_ticket_twice_is_named(path: Path) -> None:
    with forging(path) as connection:
        connection.execute("INSERT INTO record SELECT ?, kind, body, hash, recorded_at, recorded_by, chain FROM record "
                           "WHERE seq = 8", (RECORDS + 1,))  # fmt: skip
        reseal(connection)
    assert "the same ticket is recorded before" in str(verified(path)[0])


def test_what_comes_before_a_bad_record_is_still_compared(path: Path) -> None:
    with forging(path) as connection:
        connection.execute("UPDATE posting SET ng = ng + 1 WHERE ticket = 6 AND id = (SELECT min(id) FROM posting "
                           "WHERE ticket = 6)")  # fmt: skip
        connection.execute("UPDATE record SET body = '{}' WHERE seq = 20")
    found = verified(path)
    assert found[0].where.startswith("ticket HC-0005")
    assert any("from here on nothing could be derived again" in one.what for one in found)


# ---- postings, in words -----------------------------------------------------------------------------------------


def test_a_posting_is_told_in_words_of_the_trade(path: Path) -> None:
    with forging(path) as connection:
        connection.execute(
            "UPDATE posting SET ng = ng + 1000000 WHERE ticket = 8 AND line = 1 AND class = 'place' AND area = 'MELT' "
            "AND metal = 'gross'"
        )
    first, second = verified(path)
    assert str(first) == (
        "ticket HC-0007, line 1: posting place MELT lot GB-0901 gross is 150.311 g, the ticket gives 150.31 g"
    )
    assert str(second) == (
        "ticket HC-0007: its postings of gross in 2026-10 sum to 0.001000000 g, not to nothing"
    )
    sums = Finding("sums", "the sum of 2026-10 place MELT gross is off by 0.001000000 g from its postings")
    assert verified(path, quick=True) == [second, sums]


def test_masses_beyond_what_sqlite_can_add_are_a_finding(path: Path) -> None:
    with forging(path) as connection:
        connection.execute("UPDATE posting SET ng = 9223372036854775807 WHERE ticket = 8")
    assert any("overflow" in one.what for one in verified(path, quick=True))
    assert any(one.where.startswith("ticket HC-0007") for one in verified(path))


def test_much_damage_is_counted_not_listed(path: Path) -> None:
    with forging(path) as connection:
        connection.execute("UPDATE posting SET ng = ng + 1")
    found = [one for one in verified(path) if "posting" in str(one)]
    assert len(found) <= 2 * (findings.LISTED + 1)
    assert any(one.what.endswith("more like these") for one in found)


# ---- the file ---------------------------------------------------------------------------------------------------


def objects(kind: str) -> Iterator[str]:
    with closing(sqlite3.connect(":memory:")) as empty:
        schema.create(empty)
        for (name,) in empty.execute("SELECT name FROM sqlite_master WHERE type = ? AND sql IS NOT NULL", (kind,)):
            yield name


@pytest.mark.parametrize("kind", ["trigger", "index"])
def test_a_dropped_guard_or_index_is_named(path: Path, kind: str) -> None:
    for name in objects(kind):
        with closing(sqlite3.connect(path, isolation_level=None)) as connection:
            (sql,) = connection.execute("SELECT sql FROM sqlite_master WHERE name = ?", (name,)).fetchone()
            connection.execute(f"DROP {kind} {name}")
            assert Finding(f"{kind} {name}", "is missing") in verified(path, quick=True)
            connection.execute(sql)
    assert verified(path, quick=True) == []


@pytest.mark.parametrize("table", TABLES)
def test_a_dropped_table_is_named(path: Path, table: str) -> None:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(f"DROP TABLE {table}")
    for quick in (False, True):
        assert Finding(f"table {table}", "is missing") in verified(path, quick=quick)


@pytest.mark.parametrize(
    ("sql", "named"),
    [
        ("CREATE TRIGGER later AFTER INSERT ON posting BEGIN DELETE FROM missed; END", "trigger later"),
        ("CREATE VIEW opinion AS SELECT 1", "view opinion"),
        ("CREATE TABLE aside (x)", "table aside"),
        ("CREATE INDEX aside ON posting (metal)", "index aside"),
    ],
)
def test_what_does_not_belong_is_named(path: Path, sql: str, named: str) -> None:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(sql)
    assert verified(path) == [Finding(named, "does not belong to a book")]


def test_a_guard_that_guards_nothing_is_named(path: Path) -> None:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("DROP TRIGGER posting_no_update")
        connection.execute("CREATE TRIGGER posting_no_update BEFORE UPDATE ON posting WHEN 0 BEGIN SELECT 1; END")
    assert verified(path) == [Finding("trigger posting_no_update", "is altered")]


def test_an_altered_table_is_named(path: Path) -> None:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("ALTER TABLE flag ADD COLUMN remark TEXT")
    assert verified(path) == [Finding("table flag", "is altered")]


def test_marks_of_the_file_are_checked(path: Path) -> None:
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("PRAGMA application_id = 1")
        connection.execute("PRAGMA user_version = 7")
        found = verify(connection, quick=True)
    assert [one.what.split(" is ")[0] for one in found] == ["its application_id", "its user_version"]


def test_any_damaged_page_is_a_finding_or_a_refusal(path: Path) -> None:
    """Bytes overwritten in every page in turn: never a traceback, and never a sound book."""
    whole = path.read_bytes()
    for page in range(0, len(whole), 4096):
        damaged = bytearray(whole)
        damaged[page : page + 4096] = bytes(byte ^ 0x5A for byte in damaged[page : page + 4096])
        path.write_bytes(damaged)
        with suppress(BookUnusable):
            assert verified(path), f"page {page // 4096}"


@pytest.mark.parametrize("damage", [lambda raw: raw[: len(raw) // 2], lambda raw: raw + b"\0" * 100])
def test_a_file_of_another_length(path: Path, damage: Callable[[bytes], bytes]) -> None:
    path.write_bytes(damage(path.read_bytes()))
    with suppress(BookUnusable):
        verified(path)


def test_a_full_folder_for_temporary_files_is_told(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    connect = sqlite3.connect

    def cramped(database: Any, **options: Any) -> sqlite3.Connection:
        connection = connect(database, **options)
        if str(database).endswith("derived"):
            connection.execute("PRAGMA max_page_count = 60")
        return connection

    with reading(path) as connection:
        monkeypatch.setattr(sqlite3, "connect", cramped)
        with pytest.raises(BookUnusable, match="temporary files has no room"):
            verify(connection)
