"""``lemel bench settle``: a refiner's out-turn recomputed, set beside the book, and made a ticket."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from ledger.faces.cli import options
from ledger.faces.printing import say, say_json

if TYPE_CHECKING:
    import sqlite3

    from ledger.bench.settle import Settled
    from ledger.faces.out_turn_page import BookSide, OutTurnPage

File = Annotated[
    Path | None,
    typer.Argument(metavar="[FILE]", help="The out-turn: TOML, or JSON where its name ends in .json.",
                   show_default=False),
]  # fmt: skip
Template = Annotated[bool, typer.Option("--template", help="Print an out-turn to fill in, and do no more.")]
Tickets = Annotated[bool, typer.Option("--tickets", help="Print the tickets alone, for: lemel enter -")]
NoBook = Annotated[bool, typer.Option("--no-book", help="The sums alone, without the book.")]


def settle(
    file: File = None, template: Template = False, tickets: Tickets = False, book: options.Book = None,
    no_book: NoBook = False,
    ticket: Annotated[str | None, typer.Option("--ticket", metavar="NUMBER", help="The ticket's number. Left out: the "
                      "file's, or the next free one.", show_default=False)] = None,
    at: Annotated[str | None, typer.Option("--at", metavar="TIME", help="When, in plant time. Left out: the file's.",
                                           show_default=False)] = None,
    by: Annotated[str | None, typer.Option("--by", metavar="PERSON", help="Who recomputed it. Left out: the file's.",
                                           show_default=False)] = None,
    unit: options.Unit = None, json: options.Json = False,
) -> None:  # fmt: skip
    """Recompute a refiner's out-turn, step by step.

    Moisture, after-melt masses, both assays (and the umpire's), splitting limit, exchange rule, accountability,
    deductions, charges, advances and interest, rounded as the terms say. Beside it what the book has of each lot, with
    σ, and whether this refiner is always low. Ends with the settle ticket, ready to be entered.

    Example:  lemel bench settle --template > out-turn.toml

    Example:  lemel bench settle out-turn.toml

    Example:  lemel bench settle out-turn.toml --tickets | lemel enter - --dry-run
    """
    from ledger.refusals import WrongUsage

    if template:
        from ledger.bench.settle_template import TEMPLATE

        say(TEMPLATE.rstrip("\n"))
        return
    if file is None:
        raise WrongUsage("there is no out-turn", "give FILE; lemel bench settle --template prints one to fill in")
    page = _page(file, None if no_book else options.book_or_none(book), unit, {"ticket": ticket, "at": at, "by": by})
    if tickets and page.wanting:
        raise WrongUsage(f"the ticket is not complete: {', '.join(page.wanting)} not known",
                         "give them in the file, or as options", field="--tickets")  # fmt: skip
    if tickets:
        _say_tickets(page)
    elif json:
        say_json(page.document())
    else:
        page.say()


def _page(file: Path, book: Path | None, unit: str | None, given: dict[str, str | None]) -> OutTurnPage:
    from ledger.bench.settle import settle as recompute
    from ledger.bench.settle_file import read_file
    from ledger.bench.settle_money import money_of
    from ledger.bench.settle_reading import out_turn_from
    from ledger.faces.out_turn_page import OutTurnPage

    settled = read_file(file, lambda document: recompute(out_turn_from(document)))
    page = OutTurnPage(settled, money_of(settled))
    heading = settled.out_turn.heading
    common = {key: given.get(key) or getattr(heading, key) for key in ("ticket", "at", "by", "witness", "note")}
    if book is None:
        _complete(page, common, heading.area, ())
        return page
    with options.reading_book(book) as connection:
        _beside_book(page, connection, common, unit)
    return page


def _beside_book(
    page: OutTurnPage, connection: sqlite3.Connection, common: dict[str, str | None], unit: str | None
) -> None:
    from ledger.book import holdings
    from ledger.book.setups import Setups
    from ledger.faces.bench.proposals import next_ticket

    facts = holdings.plant_facts(connection)
    setups = Setups.read(connection)
    area = page.settled.out_turn.heading.area or _only_outside(facts.areas)
    numbers = _Numbers(connection, checked=setups.latest.plant.check_character)
    common["ticket"] = common["ticket"] or next_ticket(connection, "settle", checked=numbers.checked)
    if area is not None:
        page.book = _book_side(connection, setups, page.settled, area, common["at"], options.unit_of(facts, unit))
    _complete(page, common, area, facts.metals, numbers)


def _only_outside(areas: Any) -> str | None:
    outside = [area.code for area in areas if area.outside]
    return outside[0] if len(outside) == 1 else None


def _book_side(
    connection: sqlite3.Connection, setups: Any, settled: Settled, area: str, at: str | None, unit: str
) -> BookSide:
    from ledger.balance.daily.out_turn import OutTurnLine, against_book, history
    from ledger.bench.settle_ticket import agreed_ng, settle_ticket
    from ledger.book.holdings import as_of
    from ledger.faces.out_turn_page import BookSide

    metals = setups.latest.plant.metals
    party = settled.out_turn.heading.party
    (latest,) = connection.execute("SELECT max(instant) FROM ticket").fetchone()
    with options.called_wrongly("--at"):
        instant = latest or 0 if at is None else setups.calendar.instant(at)
    documents = settle_ticket(settled, {"ticket": ""}, area)["lots"]
    lines = [
        OutTurnLine(lot.lot.lot, document, agreed_ng(lot, metals))
        for lot, document in zip(settled.lots, documents, strict=True)
    ]
    found = against_book(connection, setups, area, party, instant, lines)
    histories = {m: history(connection, setups, party, m, found) for m in metals if m in settled.metals}
    return BookSide(unit, found, histories, as_of(connection))


class _Numbers:
    """Free ticket numbers of a book after a given one."""

    def __init__(self, connection: sqlite3.Connection, *, checked: bool) -> None:
        self.connection, self.checked = connection, checked

    def after(self, number: str, count: int) -> list[str]:
        from ledger.book.shelf import Shelf
        from ledger.faces.bench.proposals import next_free

        found: list[str] = []
        for _ in range(count):
            following = next_free(Shelf(self.connection), found[-1] if found else number, checked=self.checked)
            if following is None:
                break
            found.append(following)
        return found


def _complete(
    page: OutTurnPage, common: dict[str, str | None], area: str | None, metals: tuple[str, ...],
    numbers: _Numbers | None = None,
) -> None:  # fmt: skip
    """Make the tickets of a page, or say what they lack."""
    from ledger.bench.settle_ticket import sale_tickets, settle_ticket, sold_metals

    said = {key: value for key, value in common.items() if value is not None}
    page.wanting = [key for key in ("ticket", "at", "by") if key not in said] + ([] if area else ["area"])
    if page.wanting or area is None:
        return
    page.tickets = [settle_ticket(page.settled, said, area, metals)]
    sold = sold_metals(page.settled)
    following = numbers.after(said["ticket"], len(sold)) if numbers is not None else []
    if len(following) == len(sold):
        page.tickets += sale_tickets(page.settled, said, following)
    else:
        page.wanting = ["the book, for the numbers of the sale's transfer tickets"]
        page.tickets = []


def _say_tickets(page: OutTurnPage) -> None:
    import json

    for ticket in page.tickets:
        say(json.dumps(ticket, ensure_ascii=False))
