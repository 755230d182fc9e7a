"""``lemel trend``: the running tests."""

from __future__ import annotations

from typing import Annotated

import typer

from ledger.faces.cli import options
from ledger.faces.printing import say_as_of, say_json
from ledger.faces.progress import Progress


def trend(
    area: Annotated[str | None, typer.Argument(metavar="AREA", help="This area only. Left out: all.")] = None,
    book: options.Book = None, metal: options.Metal = None, unit: options.Unit = None, json: options.Json = False,
) -> None:  # fmt: skip
    """Draw the running tests, and say since when.

    An area's balances in sequence, made independent of one another, and Page's sums of what is missing and what is
    over, each with its threshold; the same loss in every month of a year; the largest month. All signal together as
    rarely as the plant wishes, over all its areas. Below them the same sums over work tickets, by area and operation.

    Example:  lemel trend

    Example:  lemel trend ROLL --metal gross
    """
    from ledger.balance.months.chain import Chain
    from ledger.balance.months.kept import keep
    from ledger.balance.months.trend import trend as trend_of
    from ledger.book import holdings
    from ledger.book.store import find_book

    path = find_book(book)
    with options.reading_book(path) as connection, Progress("months") as progress:
        facts = holdings.plant_facts(connection)
        of, in_unit, only = options.metal_of(facts, metal), options.unit_of(facts, unit), options.area_of(facts, area)
        chain = Chain(connection, progress=progress.step)
        document = trend_of(connection, of, only, chain)
        as_of, past = holdings.as_of(connection), chain.keepable()
    keep(path, past, as_of.record)
    if json:
        say_json({**document, **as_of.document()})
    else:
        from ledger.faces.trend_page import say_trend

        say_trend(document, facts, in_unit)
        say_as_of(as_of)
