"""Options that commands share, and what they are read as."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    import sqlite3

    from ledger.book.holdings import PlantFacts

Book = Annotated[
    Path | None,
    typer.Option("--book", metavar="PATH", help="The book. Left out: the only *.lemel file in this folder.",
                 show_default=False),
]  # fmt: skip
Json = Annotated[bool, typer.Option("--json", help="One JSON document, masses in grams with all their digits.")]
Unit = Annotated[
    str | None,
    typer.Option("--unit", metavar="UNIT", help="g, kg, mg, grain, dwt, ozt, ozav or lb. Left out: the plant's.",
                 show_default=False),
]  # fmt: skip
Metal = Annotated[
    str | None,
    typer.Option("--metal", metavar="METAL", help="A booked metal, or gross. Left out: the plant's first.",
                 show_default=False),
]  # fmt: skip
At = Annotated[
    str | None,
    typer.Option("--at", metavar="TIME", help="As of a plant time, 2026-10-05T14:30, or the end of a day, 2026-10-05.",
                 show_default=False),
]  # fmt: skip


Area = Annotated[str | None, typer.Option("--area", metavar="AREA", help="This area only.", show_default=False)]


@contextmanager
def reading_book(given: Path | None) -> Iterator[sqlite3.Connection]:
    """Give the book that is meant, open for reading."""
    from ledger.book.store import find_book, reading

    with reading(find_book(given)) as connection:
        yield connection


def book_or_none(given: Path | None) -> Path | None:
    """Return the book that is meant, or None where none is given and there is none in this folder."""
    from ledger.book.store import find_book

    return None if given is None and not any(Path().glob("*.lemel")) else find_book(given)


def metal_of(facts: PlantFacts, given: str | None) -> str:
    """Return the metal asked for, or the plant's first; raises WrongUsage for one the book does not keep."""
    from ledger.refusals import WrongUsage

    metal = facts.metals[0] if given is None else given
    if metal not in (*facts.metals, "gross"):
        raise WrongUsage(f"this book keeps no {given}", "it keeps " + ", ".join((*facts.metals, "gross")),
                         field="--metal")  # fmt: skip
    return metal


def unit_of(facts: PlantFacts, given: str | None) -> str:
    """Return the unit asked for, or the plant's; raises WrongUsage for one that is not printed in."""
    from ledger.quantities.mass import PRINT_UNITS
    from ledger.refusals import WrongUsage

    unit = facts.unit if given is None else given
    if unit not in PRINT_UNITS:
        mend = "oz is ambiguous: write ozt or ozav" if unit == "oz" else "known are " + ", ".join(PRINT_UNITS)
        raise WrongUsage(f"{unit[:40]!r} is no unit to print in", mend, field="--unit")
    return unit


def area_of(facts: PlantFacts, given: str | None) -> str | None:
    """Return the area asked for; raises WrongUsage for one that the set-up does not have."""
    from ledger.refusals import WrongUsage

    codes = [area.code for area in facts.areas]
    if given is not None and given not in codes:
        raise WrongUsage(f"there is no area {given[:64]!r}", "the set-up has " + ", ".join(codes), field="--area")
    return given


def instant_of(connection: sqlite3.Connection, given: str | None) -> int | None:
    """Return the instant of ``--at``: a plant time, or the last moment of a plant's day; raises WrongUsage."""
    if given is None:
        return None
    from datetime import date, timedelta

    from ledger.book.setups import Setups

    calendar = Setups.read(connection).calendar
    with called_wrongly("--at"):
        if len(given) == 10 and "T" not in given:
            calendar.instant(f"{given}T12:00")
            return calendar.day_start(date.fromisoformat(given) + timedelta(1)) - 1
        return calendar.instant(given)


@contextmanager
def called_wrongly(option: str) -> Iterator[None]:
    """Tell what is refused inside as a fault of an option, not of input."""
    from ledger.refusals import Refused, WrongUsage

    try:
        yield
    except Refused as refused:
        raise WrongUsage([replace(fault, field=option) for fault in refused.faults]) from None


@contextmanager
def recording() -> Iterator[None]:
    """Let a refusal inside say that nothing was recorded."""
    from ledger.refusals import Refused

    try:
        yield
    except Refused as refused:
        refused.add_note("nothing was recorded")
        raise


def user_name() -> str:
    """Return the login name under which records are kept: a claim, as every name in a book."""
    import getpass

    try:
        return getpass.getuser()
    except (KeyError, OSError):
        return "unknown"
