"""``lemel names``: the names behind codes, told only once it is recorded that they were asked for."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated

import typer

from ledger.faces.cli import options
from ledger.faces.printing import Table, counted, say, say_as_of, say_json, say_table, say_text

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Sequence

    from ledger.book.looking_up import LookedUp, Told


def names(
    codes: Annotated[list[str], typer.Argument(metavar="CODE…", help="Codes of persons in the set-up.")],
    by: Annotated[str, typer.Option("--by", metavar="PERSON", help="Who asks, by code.")],
    witness: Annotated[str, typer.Option("--witness", metavar="PERSON", help="The second who sees it, by code.")],
    reason: Annotated[str, typer.Option("--reason", metavar="TEXT", help="Why the names are needed.")],
    book: options.Book = None, json: options.Json = False,
) -> None:  # fmt: skip
    """Tell the names behind codes of persons, on record.

    Before a name is told, the book records for good who asked, who saw it, for which codes, when and why; lemel audit
    changes lists it. A book that is damaged tells none. Names are in no other answer about people's work.

    Arithmetic on records is no finding about any person. Local employment and data-protection law apply.

    Example:  lemel names RF PW --by MQ --witness HB --reason "rota of the press room, to plan a second weighing"
    """
    from ledger.book import holdings
    from ledger.book.entering import Entry, stamp_now
    from ledger.book.looking_up import names_told, record_looking_up
    from ledger.book.store import find_book, writing

    said = {"codes": list(dict.fromkeys(codes)), "by": by, "witness": witness, "reason": reason}
    with writing(find_book(book)) as connection, options.recording():
        _refuse_damaged(connection)
        entry = Entry(connection)
        looked_up = record_looking_up(entry, said, stamp_now(options.user_name()))
        told = names_told(entry.setups, looked_up.codes)
        plant, as_of = entry.setups.latest.plant.name, holdings.as_of(connection)
    if json:
        names = [{"code": one.code, "name": one.name, "from": one.since} for one in told]
        say_json({"plant": plant, "names": names, "looked_up": asdict(looked_up), **as_of.document()})
        return
    _say_names(plant, looked_up, told)
    say_as_of(as_of)


def _refuse_damaged(connection: sqlite3.Connection) -> None:
    """Refuse a book that the quick check finds wrong: neither its names nor who asked before could be trusted."""
    from ledger.book.verifying import verify
    from ledger.refusals import BookUnusable

    found = verify(connection, quick=True)
    if found:
        raise BookUnusable(f"the book is damaged: {found[0]}", "no name is told; run: lemel verify")


def _say_names(plant: str, looked_up: LookedUp, told: Sequence[Told]) -> None:
    from ledger.faces.caution import BY_PERSON, say_caution

    say_text(f"Names behind {counted(len(looked_up.codes), 'code')}, {plant}")
    say_text(f"Record {looked_up.record}, recorded {looked_up.recorded_at} by {looked_up.recorded_by}: asked by "
             f"{looked_up.by}, seen by {looked_up.witness}: {looked_up.reason}")  # fmt: skip
    say()
    table = Table(["code", "name", "from"], frozenset((0, 1, 2)))
    for one in told:
        table.add(one.code, one.name or "none in the set-up", (one.since or "").replace("T", " "))
    say_table(table.without_empty_columns())
    say()
    say_text(BY_PERSON)
    say()
    say_caution()
