"""``lemel causes``: what happened, ranked."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from ledger.faces.cli import options
from ledger.faces.printing import say, say_as_of, say_json
from ledger.faces.progress import Progress

if TYPE_CHECKING:
    import sqlite3

    from ledger.causes.answer import Examined


def causes(
    period: Annotated[str, typer.Argument(metavar="PERIOD", help="The period, 2026-10 or a listed code.")],
    area: Annotated[str | None, typer.Argument(metavar="AREA", help="This area. Left out: all.")] = None,
    settle: Annotated[
        int | None, typer.Option("--settle", metavar="RANK", help="Print the tickets that would settle this cause.")
    ] = None,
    by: Annotated[str, typer.Option("--by", metavar="CODE", help="Who signs those tickets.")] = "",
    at: Annotated[str, typer.Option("--at", metavar="TIME", help="When, in plant time.")] = "",
    book: options.Book = None, metal: options.Metal = None, unit: options.Unit = None, json: options.Json = False,
) -> None:  # fmt: skip
    """Rank what can have happened.

    Every weighing, work ticket, assay and count of the period is evidence. Causes are tried against all of it, in all
    metals at once, several together where need be; each is given its share: how probable it is, of the causes tried, to
    be among what happened. What the figures cannot tell apart is said, with the check that can.

    Example:  lemel causes 2026-10 DRAW

    Example:  lemel causes 2026-10 --settle 1 --by HC --at 2026-11-02T09:00 | lemel enter -
    """
    from ledger.balance.months.chain import Chain
    from ledger.balance.months.kept import keep
    from ledger.book import holdings
    from ledger.book.store import find_book
    from ledger.causes.answer import examined

    path = find_book(book)
    with options.reading_book(path) as connection, Progress("months") as progress:
        facts = holdings.plant_facts(connection)
        of, in_unit, only = options.metal_of(facts, metal), options.unit_of(facts, unit), options.area_of(facts, area)
        with options.called_wrongly("PERIOD"):
            chain = Chain(connection, progress=progress.step)
            found = examined(connection, period, only, of, chain)
        if settle is not None:
            _say_settling(connection, found, settle, by, at)
            return
        as_of, past = holdings.as_of(connection), chain.keepable()
    keep(path, past, as_of.record)
    if json:
        say_json({**found.document, **as_of.document()})
    else:
        from ledger.faces.causes_page import say_causes

        say_causes(found.document, facts, in_unit)
        say_as_of(as_of)


def _say_settling(connection: sqlite3.Connection, found: Examined, rank: int, by: str, at: str) -> None:
    """Print the tickets that settle a cause, one a line."""
    from json import dumps

    from ledger.causes.settling import settling
    from ledger.refusals import WrongUsage

    rows = found.document["causes"]
    weighed = found.behind[rank - 1] if 1 <= rank <= len(rows) else None
    if weighed is None:
        raise WrongUsage(f"there is no cause of rank {rank} to settle", "give the rank of a cause in the list")
    if not by or not at:
        raise WrongUsage("a ticket is signed and dated", "give --by CODE and --at TIME")
    for ticket in settling(connection, rows[rank - 1], weighed.proposal.mend, by, at):
        say(dumps(ticket, ensure_ascii=False))
