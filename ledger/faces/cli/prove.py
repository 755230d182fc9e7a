"""``lemel prove``: a small proof that anybody can check against a printed seal, without the book."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from ledger.faces.cli import options
from ledger.faces.printing import say_json, warn

if TYPE_CHECKING:
    import sqlite3


def prove(
    what: Annotated[str, typer.Argument(metavar="TICKET", help="A ticket's number; or the earlier of two periods.")],
    later: Annotated[
        str | None, typer.Argument(metavar="[PERIOD]", help="The later of two closed periods.", show_default=False)
    ] = None,
    seal: Annotated[
        str | None,
        typer.Option("--seal", metavar="PERIOD", help="Under which seal. Left out: the first that covers it.",
                     show_default=False),
    ] = None,
    to: Annotated[
        Path | None, typer.Option("--to", metavar="FILE", help="Left out: standard output.", show_default=False)
    ] = None,
    book: options.Book = None,
) -> None:  # fmt: skip
    """Prove that a ticket is under a seal, or that one seal continues another.

    The proof is one JSON document. It shows the ticket and no other, and leads by SHA-256 alone to the seal that was
    printed when the period was closed. Between two closed periods it proves that what the first seal covers was still
    the same at the second. How to check one by hand: docs/reference/proof.md.

    Example:  lemel prove HC-0007 --to HC-0007.proof.json

    Example:  lemel prove 2026-10 2026-11
    """
    with options.reading_book(book) as connection:
        proof = _proof(connection, what, later, seal)
    if to is None:
        say_json(proof)
    else:
        _write(to, proof)
        warn(f"proof in {to}; compare its seal with the one on paper")


def _proof(connection: sqlite3.Connection, what: str, later: str | None, seal: str | None) -> dict[str, Any]:
    from ledger.book.proving import prove_growth, prove_ticket
    from ledger.refusals import WrongUsage

    if later is None:
        return prove_ticket(connection, what, seal)
    if seal is not None:
        raise WrongUsage("two periods are each under their own seal", "leave --seal out", field="--seal")
    return prove_growth(connection, what, later)


def _write(path: Path, proof: dict[str, Any]) -> None:
    """Write a new file; an existing one is kept."""
    from json import dumps

    from ledger.refusals import WrongUsage

    try:
        with path.open("x", encoding="utf-8", newline="\n") as file:
            file.write(dumps(proof, ensure_ascii=False, indent=2) + "\n")
    except FileExistsError:
        raise WrongUsage(f"{path} is there already", "give another name", field="--to") from None
