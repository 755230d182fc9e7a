"""``lemel exceptions``: the daily list of what wants a look."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from ledger.faces.cli import options
from ledger.faces.printing import say_as_of, say_json

if TYPE_CHECKING:
    import sqlite3
    from datetime import date

    from ledger.balance.daily.exceptions import Day
    from ledger.book.setups import Setups

At = Annotated[
    str | None,
    typer.Option("--at", metavar="DAY", help="At the end of a plant's day, 2026-10-05. Left out: the last ticket's.",
                 show_default=False),
]  # fmt: skip
AssayDays = Annotated[
    int | None,
    typer.Option("--assay-days", metavar="DAYS", min=0, show_default=False,
                 help="List bins not assayed for more days than this. Left out: 30."),
]  # fmt: skip
CheckDays = Annotated[
    int | None,
    typer.Option("--check-days", metavar="DAYS", min=0, show_default=False,
                 help="List scales without a check weight for more days than this. Left out: 7."),
]  # fmt: skip


def exceptions(
    at: At = None, assay_days: AssayDays = None, check_days: CheckDays = None, book: options.Book = None,
    metal: options.Metal = None, unit: options.Unit = None, json: options.Json = False,
) -> None:  # fmt: skip
    """List what wants a look today, oldest first.

    Open jobs, lots on their way, missing numbers, transfer differences beyond the two scales, irregular tickets,
    bins and scales overdue, estimates, lots not found, open differences, lots below nothing. A list, no verdict: most
    of it has an ordinary reason.

    Example:  lemel exceptions

    Example:  lemel exceptions --at 2026-10-12 --assay-days 14
    """
    from ledger.balance.daily.exceptions import ASSAY_DAYS, CHECK_DAYS
    from ledger.book import holdings
    from ledger.book.setups import Setups
    from ledger.faces.exceptions_page import Limits, document, gather, say_page

    with options.reading_book(book) as connection:
        facts, setups = holdings.plant_facts(connection), Setups.read(connection)
        of, in_unit = options.metal_of(facts, metal), options.unit_of(facts, unit)
        limits = Limits(ASSAY_DAYS if assay_days is None else assay_days,
                        CHECK_DAYS if check_days is None else check_days)  # fmt: skip
        found = gather(connection, facts, setups, _day(connection, setups, at), limits, of)
        as_of = holdings.as_of(connection)
    if json:
        say_json({**document(found, facts, of), **as_of.document()})
    else:
        say_page(found, facts, of, in_unit)
        say_as_of(as_of)


def _day(connection: sqlite3.Connection, setups: Setups, given: str | None) -> Day | None:
    from ledger.balance.daily.exceptions import day_of

    if given is None:
        return day_of(connection, setups)
    with options.called_wrongly("--at"):
        return day_of(connection, setups, _date(given))


def _date(given: str) -> date:
    from ledger.plant.forms import read_day
    from ledger.refusals import WrongUsage

    try:
        return read_day(given)
    except ValueError:
        raise WrongUsage(f"{given[:40]!r} is not a day", "write 2026-10-05", field="--at") from None
