"""``lemel verify``: check the whole book."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Final

import typer

from ledger.faces.cli import options
from ledger.faces.printing import counted, say, say_json, say_text
from ledger.faces.progress import Progress

if TYPE_CHECKING:
    import sqlite3

    from ledger.book.findings import Finding

NEEDS_A_PERSON: Final = 5

_QUICK: Final = "hashes, chain, seals, zero sums and sums of periods"
_WHOLE: Final = "hashes, chain, seals, zero sums, and all that follows from them"


def verify(
    quick: Annotated[
        bool, typer.Option("--quick", help="Hashes, guards, seals and sums only; nothing is derived again.")
    ] = False,
    seal: Annotated[
        list[str], typer.Option("--seal", metavar="LINE", help="A seal from paper, to compare; again for another.")
    ] = [],  # noqa: B006
    book: options.Book = None, json: options.Json = False,
) -> None:  # fmt: skip
    """Check the book.

    Every hash, the chain of records, seals and zero sums; then all that follows from the records is derived again. What
    is wrong is listed, first wrong place first, and the exit status is 5. A book that was rewritten wholly, by all the
    rules, is sound in itself: give the seals that were printed, and it is found out. Keep seals and chain elsewhere.

    Example:  lemel verify

    Example:  lemel verify --quick --seal "2026-10 3f9c11ab 88aa0f12 0123abcd 4567ef01 89abcdef-K"
    """
    from ledger.balance.months.verifying import verify as verify_book
    from ledger.book import closes, holdings

    with options.reading_book(book) as connection, Progress("records") as progress:
        findings = [*verify_book(connection, quick=quick, progress=progress.step), *_other_seals(connection, seal)]
        as_of, seals = holdings.as_of(connection), len(closes.closes(connection))
    if json:
        say_json({"sound": not findings, "quick": quick,
                  "findings": [{"where": found.where, "what": found.what} for found in findings],
                  "seals": seals, **as_of.document()})  # fmt: skip
    else:
        for found in findings:
            say_text(str(found), indent="    ", first="")
        sound = "sound" if not findings else f"NOT SOUND, {counted(len(findings), 'finding')}"
        sealed = f", {counted(seals, 'seal')}" if seals else ""
        say_text(f"{sound}: {counted(as_of.record, 'record')}{sealed}; checked {_QUICK if quick else _WHOLE}")
        say(f"chain {as_of.chain}")
        if as_of.seal is not None:
            say(f"seal {as_of.seal}")
    if findings:
        raise typer.Exit(NEEDS_A_PERSON)


def _other_seals(connection: sqlite3.Connection, printed: list[str]) -> list[Finding]:
    """Return what of the seals on paper is not the book's."""
    from ledger.book.closes import close_of
    from ledger.book.findings import Finding
    from ledger.book.seals import PRINTED, read_seal_line

    found = []
    for line in printed:
        period, digits = read_seal_line(line)
        close = close_of(connection, period)
        if close is None:
            found.append(Finding(f"seal {period}", "the book has no close of it, and on paper it has a seal"))
        elif close.seal.hex()[:PRINTED] != digits:
            found.append(Finding(f"seal {period}", "the book's is not the one on paper: what was sealed is another"))
    return found
