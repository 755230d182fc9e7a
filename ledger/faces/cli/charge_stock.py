"""What a charge takes from a book: its alloys, its lots on hand oldest first, and the rates of an operation."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ledger.faces.cli import options

if TYPE_CHECKING:
    import sqlite3

    from ledger.bench.charge_forms import Source, Wanted
    from ledger.book.holdings import AsOf, Held
    from ledger.plant.setup import Setup


@dataclass(frozen=True, slots=True)
class Stock:
    """What a charge can be made of: alloys by code, lots on hand oldest first, and those left out."""

    alloys: Mapping[str, Mapping[str, Fraction]]
    setup: Setup | None = None
    lots: Sequence[Source] = ()
    left_out: Sequence[tuple[Source, str]] = ()
    as_of: AsOf | None = None


def stock_of(book: Path | None, area: str | None, use: list[str], base: list[str]) -> Stock:
    """Return what the book gives: the lots of an area, or those named; raises Impossible, WrongUsage."""
    from ledger.book import holdings
    from ledger.book.setups import Setups

    with options.reading_book(book) as connection:
        setup = Setups.read(connection).latest
        facts = holdings.plant_facts(connection)
        within = options.area_of(facts, area)
        held = _held(connection, facts, within, use) if area or use else []
        as_of = holdings.as_of(connection)
    bases = bases_of(base, setup)
    alloys = {code: {**alloy.fineness, **bases.get(code, {})} for code, alloy in setup.alloys.items()}
    lots = [(_source(one, facts.metals, bases), _why_not(one, setup, use)) for one in held]
    left_out = [(source, why) for source, why in lots if why]
    return Stock(alloys, setup, [source for source, why in lots if not why], left_out, as_of)


def _held(connection: sqlite3.Connection, facts: Any, area: str | None, use: list[str]) -> list[Held]:
    """Return the lots of an area, oldest first, or the lots named; raises Impossible for one that is not there."""
    from ledger.book import ages, holdings
    from ledger.refusals import Impossible

    held = ages.oldest_first(connection, holdings.stock(connection, facts, area))
    missing = set(use) - {one.described.lot for one in held}
    if missing:
        where = f"in {area}" if area else "on hand"
        raise Impossible(f"lot {min(missing)!r} is not {where}", "see: lemel stock", field="--use")
    return [one for one in held if one.amounts[0] > 0 and (not use or one.described.lot in use)]


def _source(held: Held, metals: Sequence[str], bases: Mapping[str, Mapping[str, Fraction]]) -> Source:
    from ledger.bench.charge_forms import Source

    gross, *contents = held.amounts
    holds = {metal: Fraction(content, gross) for metal, content in zip(metals, contents, strict=True)}
    return Source(held.described.lot, holds | dict(bases.get(held.described.alloy or "", {})), gross)


def _why_not(held: Held, setup: Setup, use: list[str]) -> str:
    """Return why a lot of the book is not taken unless it was named, nothing where it is."""
    described = held.described
    class_ = setup.classes.get(described.class_ or "")
    clads = {code: clad.code for clad in setup.clad for code in (clad.bond, clad.base) if code}
    alloy = described.alloy or (class_.alloy if class_ else None) or ""
    reasons = {
        "it is an open job": described.kind == "job",
        "its content is an estimate": held.estimated,
        f"it belongs to {described.owner}": described.owner is not None,
        "it is clad": bool(described.clad or (class_ and class_.clad)),
        "it is dirty": bool(class_ and class_.dirty),
        f"it is bond or base of {clads.get(alloy)}": alloy in clads,
    }
    return "" if described.lot in use else next((why for why, holds in reasons.items() if holds), "")


def bases_of(base: Iterable[str], setup: Setup | None) -> dict[str, dict[str, Fraction]]:
    """Return what ``--base`` says of alloys, by code; raises WrongUsage."""
    from ledger.bench.charge_forms import parse_holds
    from ledger.refusals import WrongUsage

    stated = {}
    for text in base:
        code, _, written = text.partition(":")
        if setup is None or code.strip() not in setup.alloys:
            raise WrongUsage(f"there is no alloy {code[:64]!r}", "write an alloy of the set-up: "
                             '"COPPER: copper=1000‰"', field="--base")  # fmt: skip
        with options.called_wrongly("--base"):
            stated[code.strip()] = parse_holds([part.strip() for part in written.split(",")], "")
    return stated


def rates_of(setup: Setup, wanted: Wanted, operation: str) -> tuple[Fraction, Fraction, int]:
    """Return loss, fume and what each melt loses in mass; raises Impossible where the operation has no rate."""
    from ledger.plant.process import GROSS
    from ledger.refusals import Impossible

    rates = setup.rates_for(operation, wanted.name if wanted.name in setup.alloys else None)
    loss = rates.loss.get(wanted.metal, rates.loss.get(GROSS))
    if loss is None:
        mend = "state --loss: a rate is never assumed"
        raise Impossible(f"no loss is stated for {operation}", mend, field="--operation")
    fineness = wanted.windows[wanted.metal].low
    fine = rates.each.get(wanted.metal, 0)
    each = rates.each.get(GROSS, round(fine / fineness) if fineness else 0)
    return loss, rates.fume, each
