"""``lemel bench sweeps``: a lot of sweeps worked out; what is in the drums, and what estimates have been worth."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from ledger.faces.cli import options
from ledger.faces.printing import say, say_as_of, say_json

File = Annotated[
    Path | None,
    typer.Argument(metavar="[FILE]", help="A lot of sweeps: TOML, or JSON where its name ends in .json. Left out: what "
                   "the book has in its drums.", show_default=False),
]  # fmt: skip
Template = Annotated[bool, typer.Option("--template", help="Print a lot to fill in, and do no more.")]


def sweeps(
    file: File = None, template: Template = False, book: options.Book = None, metal: options.Metal = None,
    unit: options.Unit = None, json: options.Json = False,
) -> None:  # fmt: skip
    """Work out a lot of sweeps, or look into the drums.

    With FILE, one lot: dry mass by moisture dishes, samples, metallics screened out, content and its σ, as a ticket's
    line has them. Without, the book's drums: each lot and its age, how each stream's estimates have turned out, what
    correction and sd that proposes for the next lot, and how much a lender can count on.

    Example:  lemel bench sweeps --template > lot.toml

    Example:  lemel bench sweeps lot.toml

    Example:  lemel bench sweeps --metal silver
    """
    if template:
        from ledger.bench.sweeps_template import TEMPLATE

        say(TEMPLATE.rstrip("\n"))
    elif file is not None:
        _lot(file, json)
    else:
        _drums(book, metal, unit, json)


def _lot(file: Path, json: bool) -> None:
    from ledger.bench.settle_file import read_file
    from ledger.bench.sweeps import sweeps_lot
    from ledger.bench.sweeps_terms import lot_from
    from ledger.faces import sweeps_page

    worked = sweeps_lot(read_file(file, lot_from))
    if json:
        say_json(sweeps_page.lot_document(worked))
    else:
        sweeps_page.say_lot(worked)


def _drums(book: Path | None, metal: str | None, unit: str | None, json: bool) -> None:
    from ledger.balance.daily.residues import drums
    from ledger.book import holdings
    from ledger.book.setups import Setups
    from ledger.faces import sweeps_page
    from ledger.refusals import WrongUsage

    with options.reading_book(book) as connection:
        facts = holdings.plant_facts(connection)
        of, in_unit = options.metal_of(facts, metal), options.unit_of(facts, unit)
        if of == "gross":
            raise WrongUsage("gross is weighed, and never an estimate", "give one of " + ", ".join(facts.metals),
                             field="--metal")  # fmt: skip
        found = drums(connection, Setups.read(connection), of)
        as_of = holdings.as_of(connection)
    if json:
        say_json({"plant": facts.name, **sweeps_page.drums_document(found), **as_of.document()})  # fmt: skip
        return
    sweeps_page.say_drums(facts.name, found, in_unit)
    say_as_of(as_of)
