"""Intake: files of tickets read as rows, each a document or the faults that keep it from being one."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

from ledger.book.intake import csv_rows, jsonl, xlsx
from ledger.book.intake.columns import template
from ledger.book.intake.rows import Row, Unread
from ledger.plant.given_file import open_file
from ledger.refusals import WrongUsage

__all__ = ["Row", "read_file", "template"]

_READERS = {".jsonl": jsonl.read, ".json": jsonl.read, ".csv": csv_rows.read, ".xlsx": xlsx.read}


def read_file(path: str | Path) -> Iterator[Row]:
    """Return the rows of a file, by its suffix: .jsonl, .json (JSON Lines both), .csv, .xlsx; ``-`` is standard input.

    Raises WrongUsage, before any row, for a file that cannot be opened or of another kind; FormRefused, on the way,
    for one of which too much does not read.
    """
    if str(path) == "-":
        return _bounded(jsonl.read(sys.stdin.buffer, "standard input"), "standard input")
    reader = _READERS.get(Path(path).suffix.lower())
    if reader is None:
        raise WrongUsage(f"{path} is of no known kind", "give a file named .jsonl, .json, .csv or .xlsx")
    try:
        stream = open_file(path)  # opened now, to refuse now; closed with the last row
    except OSError as error:
        raise WrongUsage(f"{path} cannot be read: {error.strerror}", "check the path") from None
    return _closing(stream, _bounded(reader(stream, str(path)), str(path)))


def _closing(stream: BinaryIO, rows: Iterator[Row]) -> Iterator[Row]:
    with stream:
        yield from rows


def _bounded(rows: Iterator[Row], file: str) -> Iterator[Row]:
    unread = Unread(file)
    for row in rows:
        unread.add(row.faults)
        yield row
