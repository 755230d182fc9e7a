"""``lemel write-off``: answer for an open difference, by name, cause and evidence."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from ledger.faces.cli import options
from ledger.faces.printing import mass as shown_mass
from ledger.faces.printing import say, say_json, say_text

if TYPE_CHECKING:
    from ledger.book.entering import Entry


def write_off(
    area: Annotated[str, typer.Argument(metavar="AREA", help="The area whose difference it is.")],
    mass: Annotated[str, typer.Argument(metavar="MASS", help='How much, "0.35 g": + missing, − a gain; or all.')],
    by: Annotated[str, typer.Option("--by", metavar="PERSON", help="Who accepts it: somebody who may accept.")],
    cause: Annotated[str, typer.Option("--cause", metavar="TEXT", help="What was found to be the cause.")],
    evidence: Annotated[str, typer.Option("--evidence", metavar="TEXT", help="What shows it.")],
    reason: Annotated[str, typer.Option("--reason", metavar="TEXT", help="Why it is written off.")],
    witness: Annotated[
        str, typer.Option("--witness", metavar="PERSON", help="The second who signs: may accept, or witness.")
    ],
    number: Annotated[
        str | None,
        typer.Option("--number", metavar="TICKET", help="Its number. Left out: the next one.", show_default=False),
    ] = None,
    at: Annotated[
        str | None, typer.Option("--at", metavar="TIME", help="Plant time. Left out: now.", show_default=False)
    ] = None,
    book: options.Book = None, metal: options.Metal = None, unit: options.Unit = None, json: options.Json = False,
) -> None:  # fmt: skip
    """Write off a difference that stands open.

    It becomes a loss with its cause, by two named people, on named evidence. Nothing turns into process loss by
    default: what nobody answers for stays open, and lemel exceptions lists it by age. Twelve months' cumulative keeps
    it.

    Example:  lemel write-off MELT "0.35 g" --by MQ --witness HB --cause spill --evidence "slag by assay" --reason gone
    """
    from ledger.book import holdings
    from ledger.book.entering import Entry, stamp_now
    from ledger.book.past import Past
    from ledger.book.store import find_book, writing
    from ledger.book.writing_off import write_off_ticket

    said = {"witness": witness, "cause": cause, "evidence": evidence, "reason": reason}
    with writing(find_book(book)) as connection, options.recording():
        facts = holdings.plant_facts(connection)
        of, in_unit = options.metal_of(facts, metal), options.unit_of(facts, unit)
        entry = Entry(connection)
        number, at = _numbered(entry, number, at)
        document = write_off_ticket(connection, number, at, area, of, mass, by, said)
        draft = entry.record(document, stamp_now(options.user_name()))
        entry.writer.flush()
        left = Past(connection).balance("difference", of, area=area)
        as_of = holdings.as_of(connection)
    flags = [] if draft is None else [{"flag": flag, "words": words} for _, flag, words in draft.flags]
    if json:
        say_json({**_document(document, left), "flags": flags, **as_of.document()})
        return
    say_text(f"{number}: {document['mass']} of {of} written off in {area}, cause {cause}, on {evidence}, by {by} "
             f"with {witness}.")
    say(f"{shown_mass(left, in_unit)} {in_unit} of {of} stand open in {area} now")
    for one in flags:
        say_text(f"irregular: {one['flag']}: {one['words']}")


def _numbered(entry: Entry, number: str | None, at: str | None) -> tuple[str, str]:
    """Return the number and time given, or the next number and the present moment."""
    from ledger.faces.bench.proposals import next_ticket, now
    from ledger.refusals import WrongUsage

    if number is None:
        checked = entry.setups.latest.plant.check_character
        number = next_ticket(entry.writer.connection, "writeoff", checked=checked)
    if number is None:
        raise WrongUsage("no ticket is recorded yet, whose number this one could follow", "give it with --number")
    return number, now(entry.setups.calendar) if at is None else at


def _document(document: dict[str, Any], left: int) -> dict[str, Any]:
    from ledger.quantities.mass import grams_text

    return {"ticket": document, "open": grams_text(left)}
