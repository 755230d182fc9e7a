"""``lemel close``: end a period, post its normal loss, and seal it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from ledger.faces.cli import options
from ledger.faces.printing import Table, counted, mass, ng_of, say, say_json, say_table, say_text
from ledger.faces.progress import Progress

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Sequence

    from ledger.balance.months.closing import Answers, Prepared
    from ledger.book.holdings import PlantFacts

Pairs = list[str]


def close(
    period: Annotated[str, typer.Argument(metavar="PERIOD", help="The period, 2026-10 or a listed code.")],
    by: Annotated[str, typer.Option("--by", metavar="PERSON", help="Who closes it: somebody who may close.")],
    with_: Annotated[str, typer.Option("--with", metavar="PERSON", help="The second who closes it.")],
    note: Annotated[
        Pairs, typer.Option("--note", metavar="AREA=TEXT", help="Answer for an area; again for another one.")
    ] = [],  # noqa: B006
    evidence: Annotated[
        Pairs, typer.Option("--evidence", metavar="AREA=TEXT", help="What shows that its normal loss is waste.")
    ] = [],  # noqa: B006
    missing: Annotated[
        Pairs, typer.Option("--missing", metavar="NUMBER=TEXT", help="Answer for missing numbers, by the first.")
    ] = [],  # noqa: B006
    check: Annotated[bool, typer.Option("--check", help="List what is still to be done, and close nothing.")] = False,
    book: options.Book = None, metal: options.Metal = None, unit: options.Unit = None, json: options.Json = False,
) -> None:  # fmt: skip
    """Close a period.

    Two entitled people close it; whoever sets rates may not. Every area is counted or answered for, so is every number
    that is missing and every area that is short, over, coarse or without a loss rate. Normal loss is posted, in every
    metal, and the book is sealed. From then on nothing enters the period: a late find counts in the open one. Keep the
    seal where nobody who can write to the book can reach it.

    Example:  lemel close 2026-10 --by MQ --with HB --check

    Example:  lemel close 2026-10 --by MQ --with HB --evidence "MELT=slag assayed" --note "BOND=scale replaced"
    """
    from ledger.balance.months.closing import Answers
    from ledger.book import holdings
    from ledger.book.store import find_book, reading, writing

    answers = Answers(by, with_, _pairs("--note", note), _pairs("--evidence", evidence), _pairs("--missing", missing))
    with Progress(), (reading if check else writing)(find_book(book)) as connection, options.recording():
        facts = holdings.plant_facts(connection)
        of, in_unit = options.metal_of(facts, metal), options.unit_of(facts, unit)
        prepared = _close(connection, period, answers, check)
        as_of = holdings.as_of(connection)
    if json:
        say_json({**_document(period, prepared, not check, of), **as_of.document()})
    elif check:
        _say_check(period, prepared)
    else:
        _say_closed(facts, prepared, of, in_unit)
        say(f"seal {as_of.seal}")


def _close(connection: sqlite3.Connection, period: str, answers: Answers, check: bool) -> Prepared:
    from ledger.balance.months.closing import close_period, prepare
    from ledger.book.entering import stamp_now
    from ledger.book.setups import Setups

    with options.called_wrongly("PERIOD"):
        Setups.read(connection).calendar.bounds(period)
    if check:
        return prepare(connection, period, answers)
    return close_period(connection, period, answers, stamp_now(options.user_name()))[1]


def _pairs(option: str, given: Pairs) -> dict[str, str]:
    """Return what ``CODE=TEXT`` says, by code; raises WrongUsage where one says nothing, or two speak of one."""
    from ledger.refusals import WrongUsage

    said: dict[str, str] = {}
    for pair in given:
        code, equals, text = (part.strip() for part in pair.partition("="))
        if not equals or not code or not text:
            raise WrongUsage(f"{pair[:40]!r} says nothing of anything", f"write {option} CODE=TEXT", field=option)
        if code in said:
            raise WrongUsage(f"{code} is answered for twice", "give one text", field=option)
        said[code] = text
    return said


def _document(period: str, prepared: Prepared, closed: bool, metal: str) -> dict[str, Any]:
    content = prepared.content
    return {
        "period": period, "closed": closed, "unmet": [{"what": f.what, "mend": f.mend} for f in prepared.unmet],
        "by": content["by"], "with": content["with"], "metal": metal, "areas": list(_areas(content, metal)),
        "missing": content["missing"], "open_jobs": content["open_jobs"],
    }  # fmt: skip


def _areas(content: dict[str, Any], metal: str) -> list[dict[str, Any]]:
    """Return what the close posts to each area in one metal, and what was said of it."""
    from ledger.quantities.mass import grams_text

    return [
        {
            "area": area["area"], "verdict": area["verdict"], "allowed": area["allowed"],
            "recoverable": area["dust"]["accrued"],
            "lost": grams_text(ng_of(area["allowed"]) - ng_of(area["dust"]["accrued"])),
            "shortfall": area["dust"]["shortfall"], "evidence": content["evidence"].get(area["area"]),
            "note": content["notes"].get(area["area"]),
        }
        for area in content["statements"][metal]
    ]  # fmt: skip


def _say_check(period: str, prepared: Prepared) -> None:
    if not prepared.unmet:
        say(f"{period} can be closed.")
    else:
        say(f"{period} cannot be closed yet: {counted(len(prepared.unmet), 'condition')} not met")
        for fault in prepared.unmet:
            say_text(str(fault), indent="    ", first="  ")
    _say_jobs(prepared.content["open_jobs"])


def _say_closed(facts: PlantFacts, prepared: Prepared, metal: str, unit: str) -> None:
    content = prepared.content
    say(f"Closed {content['close']}, {facts.name}: {metal}, in {unit}")
    say_text(f"by {content['by']} with {content['with']}: a name is a claim, not a signature.")
    say()
    table = Table(["area", "verdict", "normal loss", "to dust", "lost", "shortfall", "evidence"], frozenset((0, 1, 6)))
    for area in _areas(content, metal):
        figures = [mass(ng_of(area[key]), unit) for key in ("allowed", "recoverable", "lost", "shortfall")]
        table.add(area["area"], area["verdict"], *figures, "named" if area["evidence"] else "none")
    say_table(table)
    say("Normal loss has left the difference; what is short or over stays open in it.")
    for area in _areas(content, metal):
        if area["note"]:
            say_text(f"{area['area']}: {area['note']}", indent="    ", first="")
    _say_jobs(content["open_jobs"])
    say()


def _say_jobs(jobs: Sequence[dict[str, Any]]) -> None:
    if not jobs:
        return
    say()
    say("Jobs open across the close")
    table = Table(["job", "area", "operation", "since", "days"], frozenset((0, 1, 2, 3)))
    for job in jobs:
        table.add(job["job"], job["area"], job["operation"], job["opened"].replace("T", " "), str(job["age_days"]))
    say_table(table)
