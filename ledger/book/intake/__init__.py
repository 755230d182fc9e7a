"""Intake: files of tickets read as rows, each a document or the faults that keep it from being one."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import BinaryIO

from ledger.book.intake import jsonl
from ledger.book.intake.rows import Row, Unread
from ledger.plant.given_file import open_file
from ledger.refusals import WrongUsage

__all__ = ["Row", "read_file"]

Reader = Callable[[BinaryIO, str], Iterator[Row]]


def read_file(path: str | Path) -> Iterator[Row]:
    """Return the rows of a file, by its suffix: .jsonl, .json (JSON Lines both), .csv, .xlsx; ``-`` is standard input.

    Raises WrongUsage, before any row, for a file that cannot be opened or of another kind; FormRefused, on the way,
    for one of which too much does not read.
    """
    if str(path) == "-":
        return _bounded(jsonl.read(sys.stdin.buffer, "standard input"), "standard input")
    reader = _reader(path)
    try:
        stream = open_file(path)  # opened now, to refuse now; closed with the last row
    except OSError as error:
        raise WrongUsage(f"{path} cannot be read: {error.strerror}", "check the path") from None
    return _closing(stream, _bounded(reader(stream, str(path)), str(path)))


def _reader(path: str | Path) -> Reader:
    """Return what reads a file of that suffix; the tables' readers are imported where there is a table to read."""
    match Path(path).suffix.lower():
        case ".jsonl" | ".json":
            return jsonl.read
        case ".csv":
            from ledger.book.intake import csv_rows

            return csv_rows.read
        case ".xlsx":
            from ledger.book.intake import xlsx

            return xlsx.read
    raise WrongUsage(f"{path} is of no known kind", "give a file named .jsonl, .json, .csv or .xlsx")


def _closing(stream: BinaryIO, rows: Iterator[Row]) -> Iterator[Row]:
    with stream:
        yield from rows


def _bounded(rows: Iterator[Row], file: str) -> Iterator[Row]:
    unread = Unread(file)
    for row in rows:
        unread.add(row.faults)
        yield row
