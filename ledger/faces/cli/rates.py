"""``lemel rates``: normal loss as learned, beside what is set."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from ledger.faces.cli import options
from ledger.faces.printing import say_as_of, say_json
from ledger.faces.progress import Progress


def rates(
    propose: Annotated[bool, typer.Option("--propose", help="Propose a change of the set-up, and say what it hides.")]
    = False,
    to: Annotated[Path | None, typer.Option("--to", metavar="FILE", help="With --propose: write the change there.",
                                            show_default=False)] = None,
    by: Annotated[str, typer.Option("--by", metavar="PERSON", help="Who decides on the change. Left out: to be "
                                    "written in.", show_default=False)] = "",
    start: Annotated[str, typer.Option("--from", metavar="TIME", help="When it takes effect. Left out: after the last "
                                       "period with tickets.", show_default=False)] = "",
    operation: Annotated[str | None, typer.Option("--operation", metavar="OPERATION", help="This operation only.",
                                                  show_default=False)] = None,
    area: Annotated[str | None, typer.Option("--area", metavar="AREA", help="Only operations that are worked in this "
                                             "area.", show_default=False)] = None,
    since: Annotated[str | None, typer.Option("--since", metavar="PERIOD", help="Learn from this period on. Left out: "
                                              "the last 24.", show_default=False)] = None,
    book: options.Book = None, metal: options.Metal = None, unit: options.Unit = None, json: options.Json = False,
) -> None:  # fmt: skip
    """Print normal loss as learned, beside what is set.

    Of each operation, from the work tickets and jobs of counted months: the loss as a share of the content put in,
    with its 95 % interval; its spread from ticket to ticket and drift from month to month; the part that every ticket
    loses whatever its size. A few wild tickets do not move it.

    A change is proposed where the interval leaves out what is set, and applied by nobody but a named person, with
    lemel setup change. Beside it stands every flag that it would have hidden.

    Example:  lemel rates --operation ROLLING

    Example:  lemel rates --propose --by OV --to new-rates.toml
    """
    from ledger.balance.rates.document import Asked
    from ledger.balance.rates.document import rates as rates_of
    from ledger.book import holdings
    from ledger.refusals import WrongUsage

    if (to or by or start) and not propose:
        raise WrongUsage("--to, --by and --from are about a proposal", "give --propose with them", field="--propose")
    with options.reading_book(book) as connection, Progress():
        facts = holdings.plant_facts(connection)
        of, in_unit, only = options.metal_of(facts, metal), options.unit_of(facts, unit), options.area_of(facts, area)
        asked = Asked(only, operation, since, propose, by, start)
        with options.called_wrongly("--since"):
            document = rates_of(connection, of, asked)
        as_of = holdings.as_of(connection)
    written = None if to is None else _write(document, to)
    if json:
        say_json({**document, **as_of.document()})
    else:
        from ledger.faces.rates_page import say_rates

        say_rates(document, in_unit, written)
        say_as_of(as_of)


def _write(document: dict[str, Any], to: Path) -> Path | None:
    """Write the change where there is one, never over an existing file; returns the file written."""
    from ledger.faces.rates_page import change_lines
    from ledger.refusals import WrongUsage

    lines = list(change_lines(document))
    if not lines:
        return None
    try:
        with to.open("x", encoding="utf-8") as file:
            file.write("\n".join(lines) + "\n")
    except FileExistsError:
        raise WrongUsage(f"{to} is there already", "give another name", field="--to") from None
    return to
