"""Who looked up names: a record like every other, checked, copied, and changing nothing else."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from pathlib import Path
from typing import Any

import pytest
import rfc8785

from ledger.balance.months.statement import reconcile
from ledger.book import schema
from ledger.book.copying import copy_out, take_back
from ledger.book.entering import Entry, Stamp
from ledger.book.looking_up import LookedUp, Told, looked_up, names_told, record_looking_up
from ledger.book.opening import record_change
from ledger.book.setups import Setups
from ledger.book.store import reading, writing
from ledger.book.verifying import verify
from ledger.refusals import Impossible, Refused, SetupRefused
from tests.book.plants import PLANT, Book, Document
from tests.book.sample import MONTH, RECORDS, forging, rows, sample_book

STAMP = Stamp("2026-11-04T09:00:00+00:00", "third user")
SAID = {"codes": ["RF", "PW"], "by": "MQ", "witness": "HB", "reason": "rota of the press room"}


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """The sample book, in which names were looked up twice."""
    path = sample_book(tmp_path)
    with writing(path) as connection:
        entry = Entry(connection)
        record_looking_up(entry, SAID, STAMP)
        record_looking_up(entry, SAID | {"codes": ["JD"]}, STAMP)
    return path


def tables(path: Path) -> dict[str, list[tuple[object, ...]]]:
    return {table: rows(path, table) for table in (*schema.RECORD_TABLES, *schema.SUM_TABLES)}


def test_it_is_recorded_each_time_in_the_chain_and_the_book_is_sound(path: Path) -> None:
    """The running hash as docs/reference/proof.md has it, by hashlib and the reference RFC 8785."""
    before, first, second = rows(path, "record")[-3:]
    assert [row[0] for row in (first, second)] == [RECORDS + 1, RECORDS + 2]
    body = rfc8785.dumps({"names": SAID})
    entry = rfc8785.dumps([RECORDS + 1, "setup", hashlib.sha256(body).hexdigest(), STAMP.at, STAMP.by])
    assert first[2] == body.decode()
    assert isinstance(before[6], bytes)
    assert first[6] == hashlib.sha256(before[6] + entry).digest()
    with reading(path) as connection:
        assert verify(connection) == verify(connection, quick=True) == []
        one, two = looked_up(connection)
    assert one == LookedUp(RECORDS + 1, ("RF", "PW"), "MQ", "HB", "rota of the press room", STAMP.at, STAMP.by)
    assert (two.record, two.codes) == (RECORDS + 2, ("JD",))


def test_nothing_else_of_the_book_changes(path: Path, tmp_path: Path) -> None:
    """Every other table, and the statement of a closed and of an open month."""
    (tmp_path / "before").mkdir()
    before = sample_book(tmp_path / "before")
    now, then = tables(path), tables(before)
    assert now.pop("record")[:RECORDS] == then.pop("record")
    assert now == then
    assert _statements(path) == _statements(before)


def _statements(path: Path) -> list[Any]:
    with reading(path) as connection:
        asked = [(period, metal) for period in ("2026-10", "2026-11") for metal in ("gold", "gross")]
        return [reconcile(connection, period, metal) for period, metal in asked]


def test_later_records_stand_on_it(path: Path) -> None:
    with writing(path) as connection:
        change = {"from": "2026-11-05T00:00", "by": "OV", "reason": "new keeper", "area": [{"code": "ROLL"}]}
        record_change(connection, change, STAMP)
        record_looking_up(Entry(connection), SAID, STAMP)
    with reading(path) as connection:
        assert verify(connection) == []
        assert [one.record for one in looked_up(connection)] == [RECORDS + 1, RECORDS + 2, RECORDS + 4]


def test_it_is_copied_out_and_taken_back_hash_for_hash(path: Path, tmp_path: Path) -> None:
    again = tmp_path / "again.lemel"
    with reading(path) as connection:
        taken = take_back(again, list(copy_out(connection)))
    assert taken.records == RECORDS + 2
    assert tables(again) == tables(path)


@pytest.mark.parametrize("change", ["UPDATE record SET body = '{}'", "DELETE FROM record"])
def test_the_database_refuses_to_change_or_forget_it(path: Path, change: str) -> None:
    with writing(path) as connection, pytest.raises(sqlite3.IntegrityError, match="append-only"):
        connection.execute(f"{change} WHERE seq = ?", (RECORDS + 1,))


@pytest.mark.parametrize(
    ("forgery", "told"),
    [
        ("UPDATE record SET body = replace(body, 'MQ', 'TH') WHERE seq = 48", "the hash is not that of the body"),
        ("UPDATE record SET recorded_at = '2026-11-05T09:00:00+00:00' WHERE seq = 48", "the running hash does not"),
        ("DELETE FROM record WHERE seq = 48", "the record is not in the book"),
    ],
)
@pytest.mark.parametrize("quick", [True, False])
def test_what_was_changed_in_it_is_found(path: Path, forgery: str, told: str, quick: bool) -> None:
    assert RECORDS + 1 == 48
    with forging(path) as connection:
        connection.execute(forgery)
    with reading(path) as connection:
        found = verify(connection, quick=quick)
    assert (found[0].where, told in found[0].what) == ("record 48", True)


@pytest.mark.parametrize(
    "body",
    [
        {"names": SAID | {"witness": "MQ"}}, {"names": SAID | {"codes": ["NOBODY"]}}, {"names": SAID | {"codes": []}},
        {"names": SAID | {"reason": ""}}, {"names": {**SAID, "more": 1}}, {"names": None}, {"names": ["RF"]},
        {"names": SAID | {"codes": "RF"}}, {"names": SAID | {"codes": [7]}}, {"names": SAID | {"by": None}},
    ],
    ids=str,
)  # fmt: skip
def test_a_copy_with_a_look_that_cannot_have_been_is_refused(path: Path, tmp_path: Path, body: Document) -> None:
    with reading(path) as connection:
        lines = list(copy_out(connection))
    record = json.loads(lines[RECORDS])
    record |= {"body": body, "hash": hashlib.sha256(rfc8785.dumps(body)).hexdigest()}
    with pytest.raises(Refused) as refused:
        take_back(tmp_path / "again.lemel", [*lines[:RECORDS], json.dumps(record)])
    assert refused.value.faults[0].line == RECORDS + 1
    assert "hash" not in str(refused.value), "it is refused for what it says"
    assert not (tmp_path / "again.lemel").exists()


def test_a_book_cannot_begin_with_it(tmp_path: Path) -> None:
    body: Document = {"names": SAID}
    record = {"record": 1, "kind": "setup", "recorded_at": STAMP.at, "recorded_by": STAMP.by, "chain": "",
              "body": body, "hash": hashlib.sha256(rfc8785.dumps(body)).hexdigest()}  # fmt: skip
    with pytest.raises(SetupRefused):
        take_back(tmp_path / "again.lemel", [json.dumps(record)])


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"codes": ["W", "NOBODY"]}, "there is no person 'NOBODY'"), ({"codes": ["SUP"]}, "there is no person 'SUP'"),
        ({"by": "NOBODY"}, "by: there is no person"), ({"witness": "NOBODY"}, "witness: there is no person"),
        ({"witness": "W"}, "the witness is the one who asks"), ({"reason": " "}, "no reason is given"),
        ({"reason": "two\nlines"}, "the reason cannot be kept"), ({"reason": "x" * 501}, "the reason cannot be kept"),
        ({"codes": []}, "no code is given"), ({"codes": ["W", "W"]}, "given twice"),
    ],
)  # fmt: skip
def test_what_is_refused_is_not_recorded(change: Document, words: str) -> None:
    book = Book()
    before = book.tables()
    with pytest.raises(Refused) as refused:
        record_looking_up(book.entry, {"codes": ["ONLY"], "by": "W", "witness": "KEEP", "reason": "x"} | change, STAMP)
    book.entry.writer.flush()
    assert words in str(refused.value)
    assert book.tables() == before


def test_all_that_is_wrong_is_said_at_once() -> None:
    with pytest.raises(Impossible) as refused:
        record_looking_up(Book().entry, {"codes": ["X", "Y"], "by": "Z", "witness": "Z", "reason": "x"}, STAMP)
    assert [fault.field for fault in refused.value.faults] == ["codes", "codes", "by", "witness", "witness"]


def test_a_name_that_was_changed_is_told_with_the_time_it_holds_from() -> None:
    """Codes of past tickets may have stood for another; somebody without a name has none."""
    named = PLANT.replace('code = "ONLY"\n', 'code = "ONLY"\nname = "Wilmot Crake"\n')
    book = Book(text=named)
    change = {"from": "2026-10-05T00:00", "by": "W", "reason": "a new hand", "person": [
        {"code": "ONLY", "name": "Ansgar Pell"}, {"code": "NEW", "name": "Ida Roth"}]}  # fmt: skip
    record_change(book.connection, change, STAMP)
    assert names_told(Setups.read(book.connection), ("ONLY", "NEW", "W")) == [
        Told("ONLY", "Wilmot Crake", None), Told("ONLY", "Ansgar Pell", "2026-10-05T00:00"),
        Told("NEW", "Ida Roth", "2026-10-05T00:00"), Told("W", None, None),
    ]  # fmt: skip


def test_who_asks_is_not_taken_for_who_sets_rates(tmp_path: Path) -> None:
    """Who decided a change of rates may not close: a look at names is none (MQ asked, and closes)."""
    from ledger.balance.months.closing import Answers, prepare
    from ledger.book.entering import enter
    from ledger.book.intake import read_file
    from ledger.book.opening import new_book
    from ledger.plant.toml_file import read_setup

    path = tmp_path / "month.lemel"
    new_book(path, read_setup(MONTH / "plant.toml"), "first user")
    with writing(path) as connection:
        enter(connection, read_file(MONTH / "tickets.jsonl"), "second user")
        record_looking_up(Entry(connection), SAID, STAMP)
        unmet = prepare(connection, "2026-10", Answers("MQ", "HB", {}, {})).unmet
    assert [fault.what for fault in unmet if fault.field in ("--by", "--with")] == []
