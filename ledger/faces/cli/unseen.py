"""``lemel unseen``: how small a loss the tests still find."""

from __future__ import annotations

from typing import Annotated

import typer

from ledger.faces.cli import options
from ledger.faces.printing import say_as_of, say_json
from ledger.faces.progress import Progress


def unseen(
    area: Annotated[str | None, typer.Argument(metavar="AREA", help="This area only. Left out: all.")] = None,
    book: options.Book = None, metal: options.Metal = None, unit: options.Unit = None, json: options.Json = False,
) -> None:  # fmt: skip
    """Say what would go unseen.

    Of each area the smallest removal at once, and the smallest taken every month, that the month-end tests find with
    95 % probability within 1, 3 and 12 periods, by today's measurements; beside the best test there could be; and
    which better scale, assay, tare or count lowers it most. Below, from one work ticket and from one lot.

    Today's measurements are those of the last twelve periods, taken to go on.

    Example:  lemel unseen

    Example:  lemel unseen DRAW --metal gross
    """
    from ledger.book import holdings
    from ledger.causes.unseen import unseen as unseen_of

    with options.reading_book(book) as connection, Progress():
        facts = holdings.plant_facts(connection)
        of, in_unit, only = options.metal_of(facts, metal), options.unit_of(facts, unit), options.area_of(facts, area)
        document = unseen_of(connection, of, only)
        as_of = holdings.as_of(connection)
    if json:
        say_json({**document, **as_of.document()})
    else:
        from ledger.faces.unseen_page import say_unseen

        say_unseen(document, facts, in_unit)
        say_as_of(as_of)
