"""Damaged input, tests/studies/mutations.py in short: recorded as valid, or refused with the book as it was."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

from ledger.book.intake import csv_rows
from tests.book.plants import Book, bought, lot, ticket
from tests.studies.mutations import LONGEST, attempt


def test_damaged_input_is_valid_or_refused_and_changes_nothing(tmp_path: Path) -> None:
    found = attempt(500, 7, tmp_path, sampled=5)
    assert found.refused >= 250
    assert found.accepted >= 20  # else the damage is so heavy that it proves little
    assert found.slowest <= LONGEST


# What the study has found; each failed before it was mended.


def test_a_job_whose_first_ticket_gives_out_more_than_was_put_in_is_below_nothing() -> None:
    book = Book([
        bought(1, "ROLL", lot("A", "100.00", clad="CL20")),
        ticket(2, "work", operation="roll", area="ROLL", job="J-1", in_=[lot("A", "10.00")], out=[lot("B", "20.00")]),
    ])  # fmt: skip
    assert "below nothing" in book.flags(2)


def test_a_header_too_long_to_be_one_is_refused() -> None:
    (row,) = csv_rows.read(BytesIO(b"ticket,kind" + b" " * 200_000 + b",at\nM-1,move,2026-10-05T10:00\n"), "t.csv")
    assert row.document is None
    assert "header" in row.faults[0].what
