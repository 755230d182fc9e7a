"""``lemel copy-out``: everything in the book, for other programs and for safe keeping."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ledger.faces.cli import options
from ledger.faces.printing import counted, warn
from ledger.faces.progress import Progress

if TYPE_CHECKING:
    import sqlite3

_WHATS = ("records", "postings")
_FORMATS = ("jsonl", "csv")


def copy_out(
    what: Annotated[
        str, typer.Option("--what", metavar="records|postings", help="Records as they came in, or what follows.")
    ] = "records",
    format: Annotated[str, typer.Option("--format", metavar="jsonl|csv", help="JSON Lines, or CSV.")] = "jsonl",  # noqa: A002
    to: Annotated[
        Path | None, typer.Option("--to", metavar="FILE", help="Left out: standard output.", show_default=False)
    ] = None,
    book: options.Book = None,
) -> None:  # fmt: skip
    """Copy out all records, or all postings.

    Records are the tickets, the set-up and its changes, and the closes, with their times of recording. `lemel new BOOK
    --copy FILE` takes the records back from JSON Lines, hash for hash.

    Example:  lemel copy-out --to works-2026-10.jsonl

    Example:  lemel copy-out --what postings --format csv --to postings.csv
    """
    from ledger.refusals import WrongUsage

    if what not in _WHATS:
        raise WrongUsage(f"there is no {what[:40]!r} to copy out", "write records or postings", field="--what")
    if format not in _FORMATS:
        raise WrongUsage(f"{format[:40]!r} is no format", "write jsonl or csv", field="--format")
    lines_show = to is None and sys.stdout.isatty()  # then they themselves say how far it is
    with options.reading_book(book) as connection, Progress("lines", silent=lines_show) as progress:
        lines = progress.over(_lines(connection, what, format))
        if to is None:
            sys.stdout.writelines(line + "\n" for line in lines)
        else:
            _write(to, lines)
    if to is not None:
        warn(f"{counted(progress.count, 'line')} in {to}")


def _lines(connection: sqlite3.Connection, what: str, format_: str) -> Iterator[str]:
    from ledger.book import copying

    if what == "records":
        if format_ == "jsonl":
            return copying.copy_out(connection)
        return copying.csv_lines(copying.RECORD_FIELDS, copying.record_rows(connection))
    rows = copying.postings_rows(connection)
    if format_ == "csv":
        return copying.csv_lines(copying.POSTING_FIELDS, rows)
    from json import dumps

    return (dumps(row, ensure_ascii=False) for row in rows)


def _write(path: Path, lines: Iterator[str]) -> None:
    """Write a new file whole or not at all; an existing one is kept."""
    from ledger.refusals import WrongUsage

    try:
        with path.open("x", encoding="utf-8", newline="\n") as file:
            try:
                file.writelines(line + "\n" for line in lines)
                file.flush()
            except BaseException:
                path.unlink(missing_ok=True)
                raise
    except FileExistsError:
        raise WrongUsage(f"{path} is there already", "give another name", field="--to") from None
