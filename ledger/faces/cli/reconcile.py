"""``lemel reconcile``: the month-end statement."""

from __future__ import annotations

from typing import Annotated, Any, Final

import typer

from ledger.faces.cli import options
from ledger.faces.printing import say_as_of, say_json
from ledger.faces.progress import Progress

NEEDS_A_PERSON: Final = 5
FLAGGED: Final = ("short", "over")


def reconcile(
    period: Annotated[str, typer.Argument(metavar="PERIOD", help="The period, 2026-10 or a listed code.")],
    area: options.Area = None,
    fail_if_flagged: Annotated[
        bool, typer.Option("--fail-if-flagged", help="Exit with status 5 where an area is short or over.")
    ] = False,
    book: options.Book = None, metal: options.Metal = None, unit: options.Unit = None, json: options.Json = False,
) -> None:  # fmt: skip
    """Print the month-end statement.

    The balance of every area, what normal loss allows, what is left, and a verdict. A difference is + where metal is
    missing. σ is what weighing and the spread of normal loss can do by themselves; z is the unexplained part
    in units of it. Gains are never netted against losses.

    Example:  lemel reconcile 2026-10

    Example:  lemel reconcile 2026-10 --metal gross --area ROLL --unit ozt
    """
    from ledger.balance.months.chain import Chain
    from ledger.balance.months.kept import keep
    from ledger.balance.months.statement import reconcile as statement_of
    from ledger.book import holdings
    from ledger.book.store import find_book

    path = find_book(book)
    with options.reading_book(path) as connection, Progress("months") as progress:
        facts = holdings.plant_facts(connection)
        of, in_unit, only = options.metal_of(facts, metal), options.unit_of(facts, unit), options.area_of(facts, area)
        with options.called_wrongly("PERIOD"):
            chain = Chain(connection, progress=progress.step)
            document = statement_of(connection, period, of, chain)
        as_of, past = holdings.as_of(connection), chain.keepable()
    keep(path, past, as_of.record)
    if only is not None:
        document = _only(document, only)
    if json:
        say_json({**document, **as_of.document()})
    else:
        from ledger.faces.statement import say_statement

        say_statement(document, facts, in_unit, only)
        say_as_of(as_of)
    if fail_if_flagged and any(a["verdict"] in FLAGGED for a in document["areas"]):
        raise typer.Exit(NEEDS_A_PERSON)


def _only(document: dict[str, Any], area: str) -> dict[str, Any]:
    """Return the statement with one area's lines; the plant's total stays what it is."""
    return {
        **document,
        "areas": [a for a in document["areas"] if a["area"] == area],
        "moves": [m for m in document["moves"] if area in (m["from"], m["to"])],
        "receipts": [r for r in document["receipts"] if r["area"] == area],
        "assays": [a for a in document["assays"] if a["area"] == area],
    }
