"""``lemel ticket``: one ticket at the bench."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ledger.faces.cli import options
from ledger.faces.printing import say_json

if TYPE_CHECKING:
    from ledger.book.holdings import PlantFacts
    from ledger.faces.bench.sitting import Sitting


def _code(name: str, metavar: str, words: str) -> typer.models.OptionInfo:
    option: typer.models.OptionInfo = typer.Option(name, metavar=metavar, help=words, show_default=False)
    return option


def ticket(
    kind: Annotated[
        str | None, typer.Argument(metavar="[KIND]", help="The kind of ticket; asked for when left out.",
                                   show_default=False)
    ] = None,
    by: Annotated[str | None, _code("--by", "PERSON", "Who weighs.")] = None,
    at: Annotated[str | None, _code("--at", "TIME", "When, in plant time. Left out: now.")] = None,
    area: Annotated[str | None, _code("--area", "AREA", "The area; of a move or shipment, the one that gives.")] = None,
    from_: Annotated[str | None, _code("--from", "AREA", "The area that gives.")] = None,
    to: Annotated[str | None, _code("--to", "AREA", "The area that takes.")] = None,
    party: Annotated[str | None, _code("--party", "PARTY", "The party.")] = None,
    terms: Annotated[str | None, _code("--terms", "TERMS", "Its terms.")] = None,
    operation: Annotated[str | None, _code("--operation", "OPERATION", "The operation.")] = None,
    scale: Annotated[str | None, _code("--scale", "SCALE", "The scale.")] = None,
    shift: Annotated[str | None, _code("--shift", "SHIFT", "The shift.")] = None,
    lot: Annotated[str | None, _code("--lot", "LOT", "The lot, or new.")] = None,
    mass: Annotated[str | None, _code("--mass", "MASS", 'The reading, with its unit: "10.00 g".')] = None,
    all_: Annotated[
        bool | None, typer.Option("--all/--rest", help="Nothing is left of the lot; --rest: something is.",
                                  show_default=False)
    ] = None,
    in_: Annotated[list[str] | None, _code("--in", "LINE", 'A line that goes in: "LOT MASS all". Repeatable.')] = None,
    out: Annotated[list[str] | None, _code("--out", "LINE", 'A line that comes out: "new MASS". Repeatable.')] = None,
    set_: Annotated[list[str] | None, _code("--set", "NAME=VALUE", "Any other field. Repeatable.")] = None,
    again: Annotated[
        str | None, _code("--again", "TICKET", "Add a second reading to a recorded ticket, instead of a new one.")
    ] = None,
    reason: Annotated[str | None, _code("--reason", "TEXT", "Why: of a reversal, write-off, void or second reading.")]
    = None,
    book: options.Book = None, unit: options.Unit = None, json: options.Json = False,
) -> None:  # fmt: skip
    """Record one ticket at the bench.

    Asks for what is not given, a line each, so that people, lots and areas can be scanned; a lot and its mass may
    stand on one line. The number, the time, and shift, scale and area as on your last ticket are proposed, and Enter
    accepts them. Any answer may name further fields: form=coil, witness=TH. new numbers a lot.

    What the book expects is not shown before the reading is recorded. Then content, difference and what is irregular
    are; a second reading is added with its reason, and both stay. Ctrl-C, or the end of the input, records nothing.

    Example:  lemel ticket move

    Example:  lemel ticket move --by RF --from ROLL --to FINISH --lot AN-1012 --mass "100.00 g" --rest

    Example:  lemel ticket --again HC-0042 --mass "99.98 g" --reason "draught on the pan"
    """
    from ledger.faces.bench.given import Given
    from ledger.faces.bench.sitting import Sitting

    named = {"by": by, "at": at, "party": party, "terms": terms, "operation": operation, "shift": shift,
             "from": from_, "to": to, "area": area, "scale": scale, "reason": reason}  # fmt: skip
    given = Given(
        {name: value for name, value in named.items() if value is not None}, lot, mass, all_,
        {"in": in_ or (), "out": out or ()}, set_ or (),
    )  # fmt: skip
    path, facts = _book(book)
    with options.recording():
        sitting = Sitting(path, at, options.unit_of(facts, unit), options.user_name(), quiet=json)
        if again is None:
            sitting.ticket(kind, given)
        else:
            sitting.again(again, given)
    if json:
        _say_json(path, sitting)


def _book(given: Path | None) -> tuple[Path, PlantFacts]:
    from ledger.book.holdings import plant_facts
    from ledger.book.store import find_book, reading

    path = find_book(given)
    with reading(path) as connection:
        return path, plant_facts(connection)


def _say_json(path: Path, sitting: Sitting) -> None:
    from ledger.book.holdings import as_of
    from ledger.book.store import reading
    from ledger.faces.bench.telling import results_document

    with reading(path) as connection:
        state = as_of(connection)
    say_json({**results_document(sitting.results), **state.document()})
