"""``lemel backup``: a verified copy of the book, while others go on working."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final

import typer

from ledger.faces.cli import options
from ledger.faces.printing import counted, say, say_json
from ledger.faces.progress import Progress

if TYPE_CHECKING:
    from ledger.book.backing_up import Backup

#: What is checked of a copy before it bears its name: `lemel verify --quick`.
CHECKED: Final = ("every page and index of the file", "guards", "hashes", "chain", "seals", "zero sums",
                  "sums of periods")  # fmt: skip


def backup(
    to: Annotated[Path, typer.Argument(metavar="TO", help="The copy: a new name that ends in .lemel.")],
    replace: Annotated[
        bool, typer.Option("--replace", help="Replace TO where it is an earlier copy of this very book.")
    ] = False,
    book: options.Book = None, json: options.Json = False,
) -> None:  # fmt: skip
    """Make a verified copy of the book.

    Others may go on reading and entering: the copy is the book as it is when the command begins. It is checked as
    lemel verify --quick does, with SQLite's check of every page, before it bears its name. Nothing is written over,
    unless with --replace a copy of this book whose records all stand in it.

    A copy is a book: to restore one, back it up to the book's name. Keep it, and the lines printed here, where nobody
    who can write to the book can reach them.

    Example:  lemel backup /mnt/safe/works-2026-10-31.lemel

    Example:  lemel backup works.lemel --book /mnt/safe/works-2026-10-31.lemel
    """
    from ledger.book.backing_up import back_up
    from ledger.book.store import find_book, reading

    path = find_book(book)
    with reading(path) as connection, Progress("batches of pages") as progress:
        made = back_up(connection, path, to, replace=replace, copied=progress.step, checked=progress.step_of("records"))
    if json:
        say_json(_document(path, made))
    else:
        _say(path, made)


def _document(book: Path, made: Backup) -> dict[str, Any]:
    return {"book": str(book), "to": str(made.to), "replaced": made.replaced, "bytes": made.size,
            "sha256": made.sha256, "checked": list(CHECKED), "record": made.records, "chain": made.chain,
            "seal": made.seal}  # fmt: skip


def _say(book: Path, made: Backup) -> None:
    before = "" if made.replaced is None else f", in place of the copy as of record {made.replaced:,}"
    say(f"{book} backed up to {made.to}: {counted(made.records, 'record')}{before}")
    say("checked " + ", ".join(CHECKED[:-1]) + " and " + CHECKED[-1])
    say(f"chain {made.chain}")
    if made.seal is not None:
        say(f"seal {made.seal}")
    say(f"SHA-256 {made.sha256}")
