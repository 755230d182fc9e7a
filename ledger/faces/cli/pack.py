"""``lemel pack``: the month-end pack."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ledger.faces.cli import options
from ledger.faces.printing import counted, say, say_as_of, say_json, say_text
from ledger.faces.progress import Progress

if TYPE_CHECKING:
    from ledger.faces.pack.making import Pack


def pack(
    period: Annotated[str, typer.Argument(metavar="PERIOD", help="The period, 2026-10 or a listed code.")],
    out: Annotated[
        Path,
        typer.Option("--out", metavar="DIR", help="The folder to put it in: a new one, or that of an earlier pack."),
    ],
    book: options.Book = None,
    metal: options.Metal = None,
    unit: options.Unit = None,
    json: options.Json = False,
) -> None:
    """Write the month-end pack into a folder.

    What goes into the meeting: one page for screen and paper (pack.html), one workbook (pack.xlsx), every figure for
    programs (figures.json, csv/), and the seal (seal.txt). First whether all metal is accounted for, area by area, how
    sure, and what to do next; then the statement, causes, moves, dust, refiners, the metal position, open items and an
    audit appendix. Nobody is named in it. It is written as a whole or not at all; an earlier pack of the same
    period is replaced.

    Example:  lemel pack 2026-10 --out pack-2026-10

    Example:  lemel pack 2026-10 --out pack-silver --metal silver --unit ozt
    """
    from ledger.balance.months.kept import keep
    from ledger.book import holdings
    from ledger.book.store import find_book
    from ledger.faces.pack.making import make
    from ledger.faces.pack.writing import check_place, put

    path = find_book(book)
    with options.reading_book(path) as connection, Progress("months") as progress:
        facts = holdings.plant_facts(connection)
        of, in_unit = options.metal_of(facts, metal), options.unit_of(facts, unit)
        check_place(out, facts.name, period)
        with options.called_wrongly("PERIOD"):
            made = make(connection, period, of, in_unit, progress.step)
        past = made.material.chain.keepable()
    keep(path, past, made.material.as_of.record)
    put(out, made.files)
    if json:
        files = [{"file": f.name, "bytes": len(f.content), "sha256": f.sha256} for f in made.files]
        say_json(
            {
                "plant": facts.name,
                "period": period,
                "metal": of,
                "closed": made.heading.closed,
                "files": files,
                **made.material.as_of.document(),
            }
        )
    else:
        _say(made, out)


def _say(made: Pack, out: Path) -> None:
    heading = made.heading
    state = "closed" if heading.closed else "not closed"
    say(f"Month-end pack, {heading.period}, {state}: {heading.metal}, in {heading.unit}")
    say_text(heading.plant)
    say()
    for sentences in made.answer:
        say_text(sentences)
    say("A difference is + where metal is missing.")
    say()
    tables = sum(file.name.startswith("csv/") for file in made.files)
    say_text(
        f"Written to {out}: pack.html, to read and print; pack.xlsx; figures.json and {counted(tables, 'table')} in "
        "csv, for programs; seal.txt."
    )
    say_as_of(made.material.as_of)
