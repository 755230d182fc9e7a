"""``lemel position``: the metal position."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ledger.faces.cli import options
from ledger.faces.printing import Table, mass, say, say_as_of, say_json, say_table, say_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ledger.book.holdings import Account, PlantFacts, Position


def position(
    at: options.At = None, book: options.Book = None, metal: options.Metal = None, unit: options.Unit = None,
    json: options.Json = False,
) -> None:  # fmt: skip
    """Print the metal position.

    Where the metal is on one side, whose it is or how it went on the other. Both sides are equal to the nanogram.
    What is owed and the plant's own stake stand with a plus sign; what is owed to us, is missing, gone, given away or
    retained is taken off.

    Example:  lemel position

    Example:  lemel position --metal gross --at 2026-10-31T18:00
    """
    from ledger.book import holdings

    with options.reading_book(book) as connection:
        facts = holdings.plant_facts(connection)
        of, in_unit = options.metal_of(facts, metal), options.unit_of(facts, unit)
        found = holdings.position(connection, of, options.instant_of(connection, at))
        as_of = holdings.as_of(connection)
    if json:
        say_json({"plant": facts.name, "metal": of, "at": at, **document(found), **as_of.document()})
        return
    say_text(f"Metal position of {facts.name}" + (f", as of {at}" if at else "") + f": {of}, in {in_unit}")
    say()
    say_table(_table(found, facts, in_unit))
    say()
    if found.held != found.answered:
        say("THE TWO SIDES DIFFER: the book is damaged. Run: lemel verify")
    if any(account.ng < 0 for account in found.dust):
        say_text("Dust below zero: taken up before the close that accrues it.")
    say_text("Both sides are equal to the nanogram. A difference is + where metal is missing, and is taken off here.")
    say_as_of(as_of)


def _table(found: Position, facts: PlantFacts, unit: str) -> Table:
    """Return both sides as one column of figures, each heading with its parts below it."""
    table = Table(["", "each", "together"])
    order = {area.code: place for place, area in enumerate(facts.areas)}

    def part(heading: str, accounts: Sequence[Account], sign: int = 1) -> None:
        table.add(heading, "", mass(sign * sum(a.ng for a in accounts), unit, whole=True))
        for account in sorted(accounts, key=lambda a: (order.get(a.key, len(order)), a.key, a.terms)):
            table.add(f"  {account.key} {account.terms}".rstrip(), mass(sign * account.ng, unit, whole=True), "")

    part("in the areas", found.places)
    if found.transit:
        part("in transit", found.transit)
    part("dust, expected and not weighed", found.dust)
    table.add("held", "", mass(found.held, unit, whole=True))
    table.add("", "", "")
    table.add("own", "", mass(-found.own, unit, whole=True))
    part("owed to others", [a for a in found.parties if a.ng < 0], -1)
    part("less owed to us", [a for a in found.parties if a.ng > 0], -1)
    part("less differences, open", found.differences, -1)
    part("less losses", found.losses, -1)
    part("less given away", found.give_away, -1)
    part("less retained by refiners", found.retained, -1)
    table.add("answered for", "", mass(found.answered, unit, whole=True))
    return table


def document(found: Position) -> dict[str, Any]:
    """Return the position as JSON-able figures in grams; every sign as it is posted but own and owed, turned."""
    from ledger.quantities.mass import grams_text

    def by(name: str, second: str, accounts: Sequence[Account], sign: int = 1) -> list[dict[str, str]]:
        return [
            {name: a.key, **({second: a.terms} if second else {}), "mass": grams_text(sign * a.ng)} for a in accounts
        ]

    return {
        "places": by("area", "", found.places),
        "transit": by("area", "", found.transit),
        "dust": by("area", "", found.dust),
        "held": grams_text(found.held),
        "own": grams_text(-found.own),
        "owed": by("party", "terms", [a for a in found.parties if a.ng < 0], -1),
        "owed_to_us": by("party", "terms", [a for a in found.parties if a.ng > 0]),
        "differences": by("area", "", found.differences),
        "losses": by("area", "cause", found.losses),
        "give_away": by("party", "", found.give_away),
        "retained": by("party", "", found.retained),
        "answered": grams_text(found.answered),
        "balanced": found.held == found.answered,
    }
