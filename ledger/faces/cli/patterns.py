"""``lemel patterns``: whether excess loss goes with people, shifts, machines, scales, weekdays or conditions."""

from __future__ import annotations

from typing import Annotated

import typer

from ledger.faces.cli import options
from ledger.faces.printing import say_as_of, say_json
from ledger.faces.progress import Progress


def patterns(
    first: Annotated[str, typer.Argument(metavar="FROM", help="The first period: 2026-05.")],
    last: Annotated[str, typer.Argument(metavar="TO", help="The last period: 2026-10.")],
    book: options.Book = None, metal: options.Metal = None, unit: options.Unit = None, json: options.Json = False,
) -> None:  # fmt: skip
    """Look for what excess loss goes with.

    Each work ticket's and job's difference, less its normal loss, against the other tickets of the same operation and
    material: by who did the work, shift, machine, scale, weekday and stated conditions. Chance alone lets five in a
    hundred of the patterns found be none. What the tickets do not tell apart is said to be inseparable.

    Codes only, never names, and never in the month-end pack. Arithmetic on records: no finding about any person.

    Example:  lemel patterns 2026-05 2026-10

    Example:  lemel patterns 2026-05 2026-10 --metal gross --json
    """
    from ledger.book import holdings
    from ledger.causes.patterns.document import patterns as patterns_of

    with options.reading_book(book) as connection, Progress():
        facts = holdings.plant_facts(connection)
        of, in_unit = options.metal_of(facts, metal), options.unit_of(facts, unit)
        with options.called_wrongly("FROM"):
            document = patterns_of(connection, of, first, last)
        as_of = holdings.as_of(connection)
    if json:
        say_json({**document, **as_of.document()})
    else:
        from ledger.faces.patterns_page import say_patterns

        say_patterns(document, facts, in_unit)
        say_as_of(as_of)
