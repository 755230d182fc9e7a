"""A copy of the records is a copy of the book: out and back, hash for hash, or refused with the record named."""

from __future__ import annotations

import csv
import hashlib
import json
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
import rfc8785

from ledger.book import schema
from ledger.book.copying import (
    POSTING_FIELDS,
    RECORD_FIELDS,
    copy_out,
    csv_lines,
    postings_rows,
    record_rows,
    take_back,
)  # fmt: skip
from ledger.book.store import reading
from ledger.book.verifying import verify
from ledger.refusals import BookUnusable, LemelError, WrongUsage
from tests.book.sample import RECORDS, forging, rows, sample_book

Lines = list[str]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return sample_book(tmp_path)


def copied(path: Path) -> Lines:
    with reading(path) as connection:
        return list(copy_out(connection))


def changed(lines: Lines, record: int, change: Callable[[dict[str, Any]], object]) -> Lines:
    """Return the lines with one record changed, its hash made to fit the body again."""
    document = json.loads(lines[record - 1])
    change(document)
    document["hash"] = hashlib.sha256(rfc8785.dumps(document["body"])).hexdigest()
    return [*lines[: record - 1], json.dumps(document), *lines[record:]]


# ---- out --------------------------------------------------------------------------------------------------------


def test_each_line_is_canonical_json_of_one_record(path: Path) -> None:
    """Canonical form and hash by the reference implementation of RFC 8785 and by hashlib (FIPS 180-4)."""
    lines = copied(path)
    assert len(lines) == RECORDS
    for place, line in enumerate(lines, 1):
        record = json.loads(line)
        assert set(record) == set(RECORD_FIELDS)
        assert line.encode() == rfc8785.dumps(record)
        assert record["record"] == place
        assert record["hash"] == hashlib.sha256(rfc8785.dumps(record["body"])).hexdigest()


def test_a_damaged_body_is_told(path: Path) -> None:
    with forging(path) as connection:
        connection.execute("UPDATE record SET body = 'x' WHERE seq = 8")
    with pytest.raises(BookUnusable, match="record 8 is damaged"):
        copied(path)


# ---- and back ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("form", [lambda lines: lines, lambda lines: [f"{line}\r\n".encode() for line in lines]])
def test_out_and_back_is_the_identical_book(path: Path, tmp_path: Path, form: Callable[[Lines], Any]) -> None:
    """Every table row for row; the sample has a change of the set-up between its tickets."""
    again = tmp_path / "again.lemel"
    taken = take_back(again, form(copied(path)))
    for table in (*schema.RECORD_TABLES, *schema.SUM_TABLES):
        assert rows(again, table) == rows(path, table), table
    assert taken.records == RECORDS
    assert bytes.fromhex(taken.chain) == rows(path, "record")[-1][-1]
    assert copied(again) == copied(path)
    with reading(again) as connection:
        assert verify(connection) == []


def test_blank_lines_do_not_count(path: Path, tmp_path: Path) -> None:
    lines = copied(path)
    assert take_back(tmp_path / "again.lemel", ["", *lines, "\n"]).records == RECORDS


def test_a_book_that_is_there_is_left(path: Path) -> None:
    before = path.read_bytes()
    with pytest.raises(WrongUsage, match="is there already"):
        take_back(path, [])
    assert path.read_bytes() == before


TAMPERED: dict[str, tuple[int, Callable[[Lines], Lines]]] = {
    "a mass": (8, lambda lines: [line.replace("150.310 g", "150.210 g") for line in lines]),
    "a mass, its hash made to fit": (
        8, lambda lines: changed(lines, 8, lambda r: r["body"]["lots"][0].update(mass="150.210 g"))
    ),
    "the set-up": (1, lambda lines: changed(lines, 1, lambda r: r["body"]["plant"].update(name="Other"))),
    "the change": (42, lambda lines: changed(lines, 42, lambda r: r["body"].update(reason="none"))),
    "a time of recording": (42, lambda lines: changed(lines, 42, lambda r: r.update(recorded_at="2026-11-01"))),
    "a user": (9, lambda lines: changed(lines, 9, lambda r: r.update(recorded_by="somebody"))),
    "a running hash": (9, lambda lines: changed(lines, 9, lambda r: r.update(chain="00" * 32))),
    "a kind": (9, lambda lines: changed(lines, 9, lambda r: r.update(kind="close"))),
    "a setup in a ticket's place": (9, lambda lines: changed(lines, 9, lambda r: r.update(kind="setup"))),
    "a record taken out": (9, lambda lines: lines[:8] + lines[9:]),
    "a record twice": (10, lambda lines: [*lines[:9], lines[8], *lines[9:]]),
    "two records swapped": (9, lambda lines: [*lines[:8], lines[9], lines[8], *lines[10:]]),
    "no set-up": (1, lambda lines: lines[1:]),
    "a field more": (9, lambda lines: changed(lines, 9, lambda r: r.update(note="x"))),
    "a field less": (9, lambda lines: changed(lines, 9, lambda r: r.pop("recorded_by"))),
    "a number as text": (9, lambda lines: changed(lines, 9, lambda r: r.update(record="9"))),
    "true for the first": (1, lambda lines: changed(lines, 1, lambda r: r.update(record=True))),
    "a body that is no object": (9, lambda lines: changed(lines, 9, lambda r: r.update(body=["x"]))),
    "a user that is no text": (9, lambda lines: changed(lines, 9, lambda r: r.update(recorded_by=None))),
    "half a character": (9, lambda lines: changed(lines, 9, lambda r: r.update(recorded_by="\ud800"))),
    "a line cut short": (RECORDS, lambda lines: [*lines[:-1], lines[-1][:100]]),
    "garbage": (3, lambda lines: [*lines[:2], "garbage", *lines[2:]]),
    "a bare number": (3, lambda lines: [*lines[:2], "7", *lines[2:]]),
    "deep": (3, lambda lines: [*lines[:2], "[" * 100_000, *lines[2:]]),
}


@pytest.mark.parametrize(("record", "tamper"), TAMPERED.values(), ids=TAMPERED)
def test_a_tampered_copy_is_refused_whole(
    path: Path, tmp_path: Path, record: int, tamper: Callable[[Lines], Lines]
) -> None:  # fmt: skip
    folder = tmp_path / "new"
    folder.mkdir()
    with pytest.raises(LemelError) as refused:
        take_back(folder / "again.lemel", tamper(copied(path)), file="copy.jsonl")
    fault = refused.value.faults[0]
    assert (fault.file, fault.line) == ("copy.jsonl", record)
    assert f"record {record}" in fault.field or fault.ticket or fault.field, fault
    assert refused.value.exit_status == 3
    assert not list(folder.iterdir()), "nothing is left of the attempt"


def test_bytes_that_are_not_utf_8_are_refused(path: Path, tmp_path: Path) -> None:
    with pytest.raises(LemelError, match="record 2: is not UTF-8"):
        take_back(tmp_path / "again.lemel", [copied(path)[0], b'{"a":"\xff"}'])


def test_an_empty_copy_is_refused(tmp_path: Path) -> None:
    with pytest.raises(LemelError, match="holds no record"):
        take_back(tmp_path / "again.lemel", ["", "\n"])
    assert not list(tmp_path.iterdir())


def test_a_copy_cut_off_between_records_shows_in_the_running_hash_only(path: Path, tmp_path: Path) -> None:
    """What the docstring warns of: a shorter book is a sound book."""
    lines = copied(path)
    taken = take_back(tmp_path / "short.lemel", lines[:-1])
    assert taken.chain == json.loads(lines[-2])["chain"] != json.loads(lines[-1])["chain"]


# ---- postings ---------------------------------------------------------------------------------------------------


def test_every_posting_is_there_and_balances(path: Path) -> None:
    with reading(path) as connection:
        postings = list(postings_rows(connection))
    assert len(postings) == len(rows(path, "posting"))
    sums: dict[tuple[str, str, str], Decimal] = {}
    for one in postings:
        assert tuple(one) == POSTING_FIELDS
        account = (one["ticket"], one["period"], one["metal"])
        sums[account] = sums.get(account, Decimal(0)) + Decimal(one["grams"])
    assert not any(sums.values())


def test_a_posting_in_full(path: Path) -> None:
    """HC-0007 moved 150.310 g of lot GB-0901 at 07:00 plant time; the receiver read the same."""
    with reading(path) as connection:
        one = next(p for p in postings_rows(connection)
                   if p["ticket"] == "HC-0007" and p["area"] == "MELT" and p["metal"] == "gross")  # fmt: skip
    recorded_at = one.pop("recorded_at")
    assert recorded_at.endswith("+00:00")
    assert one.pop("at").startswith("2026-10-06T07:00")
    assert one == {
        "ticket": "HC-0007", "line": 1, "period": "2026-10", "class": "place", "area": "MELT", "lot": "GB-0901",
        "party": None, "terms": None, "cause": None, "origin": None, "prior": False, "metal": "gross",
        "grams": "150.310000000",
    }  # fmt: skip


# ---- CSV --------------------------------------------------------------------------------------------------------


def read_csv(lines: Lines) -> list[dict[str, str]]:
    return list(csv.DictReader([f"{line}\n" for line in lines]))


def test_postings_as_csv_keep_their_numbers(path: Path) -> None:
    with reading(path) as connection:
        postings = list(postings_rows(connection))
        read = read_csv(list(csv_lines(POSTING_FIELDS, postings)))
    assert [one["grams"] for one in read] == [one["grams"] for one in postings]
    assert any(one["grams"].startswith("-") for one in read)
    assert {one["prior"] for one in read} <= {"true", "false"}
    assert all(one["party"] == "" for one, posting in zip(read, postings, strict=True) if posting["party"] is None)


def test_records_as_csv_carry_the_whole_body(path: Path) -> None:
    with reading(path) as connection:
        read = read_csv(list(csv_lines(RECORD_FIELDS, record_rows(connection))))
    assert [hashlib.sha256(one["body"].encode()).hexdigest() for one in read] == [one["hash"] for one in read]


@pytest.mark.parametrize(
    ("value", "cell"),
    [("=1+1", "'=1+1"), ("+1", "'+1"), ("-1", "'-1"), ("@a", "'@a"), ("\t=1", "'\t=1"), ("\r=1", "'\r=1"),
     ("＝1+1", "'＝1+1"), ("＠a", "'＠a"), ("a=1", "a=1"),
     ("", ""), ("'=", "'="), (None, ""), (7, "7"), (True, "true")],
)  # fmt: skip
def test_what_a_spreadsheet_would_run_is_made_harmless(value: object, cell: str) -> None:
    """The characters are those of OWASP's page "CSV Injection" (from memory): = + - @, also full width, tab, return."""
    (_, line) = csv_lines(["lot"], [{"lot": value}])
    assert next(csv.reader([line], lineterminator=""), [""]) == ([cell] if cell else [""])


def test_a_negative_mass_stays_a_number() -> None:
    assert list(csv_lines(["grams", "lot"], [{"grams": "-1.5", "lot": "-1.5"}])) == ["grams,lot", "-1.5,'-1.5"]
