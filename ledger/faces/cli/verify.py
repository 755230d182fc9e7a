"""``lemel verify``: check the whole book."""

from __future__ import annotations

from typing import Annotated, Final

import typer

from ledger.faces.cli import options
from ledger.faces.printing import counted, say, say_json, say_text
from ledger.faces.progress import Progress

NEEDS_A_PERSON: Final = 5


def verify(
    quick: Annotated[
        bool, typer.Option("--quick", help="Hashes, guards and zero sums only; nothing is derived again.")
    ] = False,
    book: options.Book = None, json: options.Json = False,
) -> None:  # fmt: skip
    """Check the book.

    Every hash, the chain of records and zero sums; then all that follows from the records is derived again. What is
    wrong is listed, first wrong place first, and the exit status is 5. Keep the chain that is printed somewhere else:
    it tells a book that was cut short or replaced.

    Example:  lemel verify
    """
    from ledger.book import holdings, verifying

    with options.reading_book(book) as connection, Progress("records") as progress:
        findings = verifying.verify(connection, quick=quick, progress=progress.step)
        as_of = holdings.as_of(connection)
    if json:
        say_json({"sound": not findings, "quick": quick,
                  "findings": [{"where": found.where, "what": found.what} for found in findings],
                  "record": as_of.record, "chain": as_of.chain})  # fmt: skip
    else:
        for found in findings:
            say_text(str(found), indent="    ", first="")
        done = "hashes, chain and zero sums" if quick else "hashes, chain, zero sums, and all that follows from them"
        sound = "sound" if not findings else f"NOT SOUND, {counted(len(findings), 'finding')}"
        say(f"{sound}: {counted(as_of.record, 'record')}; checked {done}")
        say(f"chain {as_of.chain}")
    if findings:
        raise typer.Exit(NEEDS_A_PERSON)
