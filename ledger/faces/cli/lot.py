"""``lemel lot``: one lot, and everything that happened to it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from ledger.faces.cli import options
from ledger.faces.printing import Table, mass, say, say_as_of, say_json, say_table, say_text

if TYPE_CHECKING:
    from collections.abc import Sequence
    from fractions import Fraction

    from ledger.book.aims import Aim
    from ledger.book.holdings import PlantFacts
    from ledger.book.lot_page import Event, LotPage, Relative


def lot(
    number: Annotated[str, typer.Argument(metavar="LOT", help="The lot's number.")],
    book: options.Book = None, metal: options.Metal = None, unit: options.Unit = None, json: options.Json = False,
) -> None:  # fmt: skip
    """Show one lot and all its tickets.

    What it is, where it stands, how its fineness is known, what it was made from and into. Masses in the history are
    the change of what is recorded: - left, + came.

    Example:  lemel lot PL-1005
    """
    from ledger.book import holdings, lot_page
    from ledger.refusals import WrongUsage

    with options.reading_book(book) as connection:
        facts = holdings.plant_facts(connection)
        of, in_unit = options.metal_of(facts, metal), options.unit_of(facts, unit)
        page = lot_page.lot_page(connection, facts, number)
        if page is None:
            like = lot_page.numbers_like(connection, number)
            mend = f"did you mean {', '.join(like)}?" if like else "lemel stock lists the lots on hand"
            raise WrongUsage(f"no ticket names a lot {number[:64]!r}", mend, field="LOT")
        as_of = holdings.as_of(connection)
    if json:
        say_json({**_document(page, facts), **as_of.document()})
    else:
        _say(page, facts, of, in_unit)
        say_as_of(as_of)


def _say(page: LotPage, facts: PlantFacts, metal: str, unit: str) -> None:
    for head, text in _head(page, facts, metal, unit):
        say_text(text, indent=" " * 12, first=f"{head:<12}")
    say()
    say_text(f"Tickets (change of recorded mass, in {unit}: + came, - left)")
    say_table(_history(page, facts, metal, unit))
    say()


def _head(page: LotPage, facts: PlantFacts, metal: str, unit: str) -> list[tuple[str, str]]:
    d = page.described
    what = [d.form, d.class_ and f"class {d.class_}", d.alloy and f"alloy {d.alloy}", d.clad and f"clad {d.clad}"]
    lines = [
        (d.kind, f"{d.lot}: " + (", ".join(w for w in what if w) or "no form stated")),
        ("made by", f"{page.made_by}, {page.made_at}"),
    ]
    lines += [(head, text) for head, text in (("serial", d.serial), ("owner", d.owner)) if text]
    lines += [("fineness", _determination(page, facts)), *_layer(page, facts)]
    lines += [("planned", _aim(aim, page, facts)) for aim in page.aims]
    lines += [("stands in", f"{h.area}: {_amounts(h.amounts, facts, metal, unit)}") for h in page.stands]
    lines += [
        ("not found", f"in {n.area} by count {n.count}: {_amounts(n.amounts, facts, metal, unit)}")
        for n in page.not_found
    ]
    if not page.stands and not page.not_found:
        lines.append(("stands in", "no area: nothing is left of it"))
    lines += [("made from", _kin(page.parents)), ("made into", _kin(page.children))]
    return lines


def _determination(page: LotPage, facts: PlantFacts) -> str:
    known = page.determined
    if known is None:
        return "none: the ticket that made it was reversed"
    how = known.basis + (f", by {known.method}" if known.method else "") + f", ticket {known.ticket} of {known.at}"
    return f"{_finenesses(known.composition, facts)}; {how}"


def _aim(aim: Aim, page: LotPage, facts: PlantFacts) -> str:
    """Return what was planned beside what came out, and what the lot is now known to be."""
    told = [_beside(aim, metal, page, facts) for metal in facts.metals if metal in aim.fineness]
    return f"{aim.planned}, ticket {aim.ticket}" + (": " + "; ".join(told) if told else ", which states no fineness")


def _beside(aim: Aim, metal: str, page: LotPage, facts: PlantFacts) -> str:
    from ledger.quantities.fineness import per_mille_text

    wanted, weighed, now = aim.fineness[metal], _weighed(aim, metal, facts), _now(page, metal, facts)
    told = f"{metal} {per_mille_text(wanted)} ‰ planned"
    if weighed is not None:
        told += f", {per_mille_text(weighed)} as weighed out"
    if now is not None:
        side = "above" if now >= wanted else "below"
        told += f", {per_mille_text(now)} as now known: {per_mille_text(abs(now - wanted))} ‰ {side}"
    return told


def _weighed(aim: Aim, metal: str, facts: PlantFacts) -> Fraction | None:
    from fractions import Fraction

    return Fraction(aim.weighed[facts.place(metal)], aim.weighed[0]) if aim.weighed[0] else None


def _now(page: LotPage, metal: str, facts: PlantFacts) -> Fraction | None:
    return page.determined.composition[facts.place(metal)] if page.determined else None


def _layer(page: LotPage, facts: PlantFacts) -> list[tuple[str, str]]:
    return [("layer", _finenesses(page.layer, facts))] if page.layer else []


def _finenesses(composition: Sequence[Fraction], facts: PlantFacts) -> str:
    from ledger.quantities.fineness import per_mille_text

    return ", ".join(f"{metal} {per_mille_text(f)} ‰" for metal, f in zip(facts.metals, composition[1:], strict=True))


def _amounts(amounts: Sequence[int], facts: PlantFacts, metal: str, unit: str) -> str:
    gross = f"{mass(amounts[0], unit)} {unit} gross"
    return gross if metal == "gross" else f"{gross}, {mass(amounts[facts.place(metal)], unit)} {unit} {metal}"


def _kin(relatives: Sequence[Relative]) -> str:
    by_ticket: dict[str, list[str]] = {}
    for relative in relatives:
        by_ticket.setdefault(relative.ticket, []).append(relative.lot)
    return "; ".join(f"{', '.join(lots)} ({ticket})" for ticket, lots in by_ticket.items()) or "no other lot"


def _history(page: LotPage, facts: PlantFacts, metal: str, unit: str) -> Table:
    fine = metal != "gross"
    table = Table(["ticket", "at", "area", "what", "gross", *([metal] if fine else [])], frozenset((0, 1, 2, 3)))
    for e in page.history:
        moved = [mass(e.change[0], unit), *([mass(e.change[facts.place(metal)], unit)] if fine else [])]
        table.add(e.ticket, e.at.replace("T", " "), e.area, _what(e), *moved)
    return table


def _what(e: Event) -> str:
    """Return what a ticket did to the lot, in two or three words."""
    if e.reverses:
        return f"reverse of {e.reverses}"
    return (e.kind if e.side in (e.kind, "") else f"{e.kind}: {e.side}") + (", undone" if e.reversed_by else "")


def _document(page: LotPage, facts: PlantFacts) -> dict[str, Any]:
    """Return the lot as JSON-able figures; amounts of gross and every booked metal, in grams."""
    from ledger.faces.cli.stock import described

    return {
        **described(page.described),
        "made_by": page.made_by,
        "made_at": page.made_at,
        "layer": _shares(page.layer, facts) if page.layer else None,
        "determination": _determination_document(page, facts),
        "planned": [_aim_document(aim, facts) for aim in page.aims],
        "stands": [{"area": h.area, **_grams(h.amounts, facts)} for h in page.stands],
        "not_found": [{"area": n.area, "count": n.count, **_grams(n.amounts, facts)} for n in page.not_found],
        "made_from": [{"lot": r.lot, "ticket": r.ticket} for r in page.parents],
        "made_into": [{"lot": r.lot, "ticket": r.ticket} for r in page.children],
        "tickets": [
            {"ticket": e.ticket, "kind": e.kind, "at": e.at, "by": e.by, "area": e.area, "side": e.side,
             "scale": e.scale, **_grams(e.change, facts), "reverses": e.reverses, "reversed_by": e.reversed_by}
            for e in page.history
        ],
    }  # fmt: skip


def _determination_document(page: LotPage, facts: PlantFacts) -> dict[str, Any] | None:
    known = page.determined
    if known is None:
        return None
    return {
        "fineness": _shares(known.composition, facts), "basis": known.basis, "method": known.method,
        "sd": None if known.sd is None else str(known.sd), "ticket": known.ticket, "at": known.at,
    }  # fmt: skip


def _aim_document(aim: Aim, facts: PlantFacts) -> dict[str, Any]:
    return {
        "ticket": aim.ticket, "planned": aim.planned,
        "fineness": {metal: str(aim.fineness[metal]) for metal in facts.metals if metal in aim.fineness},
        "weighed": _grams(aim.weighed, facts),
    }  # fmt: skip


def _shares(composition: Sequence[Fraction], facts: PlantFacts) -> dict[str, str]:
    """Return finenesses as exact fractions, by metal."""
    return {metal: str(f) for metal, f in zip(facts.metals, composition[1:], strict=True)}


def _grams(amounts: Sequence[int], facts: PlantFacts) -> dict[str, Any]:
    from ledger.quantities.mass import grams_text

    fine = {metal: grams_text(ng) for metal, ng in zip(facts.metals, amounts[1:], strict=True)}
    return {"gross": grams_text(amounts[0]), "fine": fine}
