"""Taking metal out of a lot where it stands: R, what was recorded, against W, what was weighed."""

from __future__ import annotations

from dataclasses import dataclass

from ledger.book.amounts import Amounts, Composition, composition_of, content, minus, negative
from ledger.book.draft import Draft
from ledger.book.lots import Determination, Lot
from ledger.book.past import Missed
from ledger.book.posting.weighing import flag_reweighing, metallic_ng
from ledger.book.tickets.lines import Line
from ledger.plant.numbering import check_holds
from ledger.plant.setup import Setup
from ledger.quantities.mass import mass_text
from ledger.refusals import Fault, Impossible


@dataclass(frozen=True, slots=True)
class Taken:
    """What left a lot: ``recorded`` is R, ``weighed`` is W, under the lot's composition at that moment."""

    lot: Lot
    determination: Determination
    composition: Composition
    recorded: Amounts
    weighed: Amounts
    scale: str | None = None


def known_lot(draft: Draft, line: Line, field: str) -> Lot:
    """Return the lot or bin a line names; raises Impossible when there is none, or a reversal unmade it."""
    number = line.lot or line.bin or ""
    lot = draft.lot(number)
    if lot is None or lot.valuation.determination is None:
        raise Impossible([unknown_lot(draft.setup, number, f"{field}.lot")])
    return lot


def unknown_lot(setup: Setup, number: str, field: str) -> Fault:
    """Return the fault of a lot that no ticket has made; mis-keyed, where the plant prints check characters."""
    mend = "correct the number, or enter the ticket that made it first"
    if setup.plant.check_character and number not in setup.bins and not check_holds(number):
        what = f"no lot {number} is known, and its check character is wrong: it is mis-keyed"
        mend = "read the label again, or scan it; an older lot's ticket has to be entered first"
        return Fault(Impossible.code, what, mend, field, lot=number)
    return Fault(Impossible.code, f"no lot {number} is known", mend, field, lot=number)


def take(
    draft: Draft, area: str, line: Line, field: str, number: int, side: str, *, reweigh: bool = True
) -> Taken:
    """Issue a line's metal from ``area``: posts place −R and difference R − W, keeps the line, returns what left.

    With ``all`` the whole record leaves, whatever is weighed; without it R = W. A lot missed by a count is found again.
    Without ``reweigh`` the caller posts R − W itself.
    """
    lot = known_lot(draft, line, field)
    mass = metallic_ng(draft, line, field, lot.class_, number=number)
    bring_to_hand(draft, area, lot, number, field, mass)
    stands = draft.amounts(area, lot.id)
    composition = composition_of(stands) if lot.kind == "bin" else _composition(lot)
    emptied = line.all or mass is None
    if emptied:
        recorded = list(stands)
        weighed = recorded if mass is None else content(mass, composition)
    else:
        assert mass is not None
        recorded = weighed = _part(draft, area, lot, stands, mass, composition, field)
    draft.post("place", negative(recorded), area=area, lot=lot.id, line=number)
    if emptied and mass is not None:
        flag_reweighing(draft, lot, line.scale, mass, recorded[0] - mass, number)
    if reweigh:
        draft.post("difference", minus(recorded, weighed), area=area, origin="reweighing", line=number)
    draft.write_line(
        number, side, area, lot, weighed, scale=line.scale, weighed_ng=mass, settles=emptied, recorded=recorded
    )
    determination = lot.valuation.determination
    assert determination is not None
    return Taken(lot, determination, composition, recorded, weighed, line.scale)


def _composition(lot: Lot) -> Composition:
    assert lot.valuation.determination is not None
    return lot.valuation.determination.composition


def _part(
    draft: Draft, area: str, lot: Lot, stands: Amounts, mass: int, composition: Composition, field: str
) -> Amounts:
    """Return R = W of a part; taking exactly what is recorded empties the lot, to zero in every metal."""
    if mass > stands[0]:
        raise Impossible(
            f"lot {lot.number} stands at {_grams(stands[0])} in {area}; {_grams(mass)} cannot leave it",
            'if nothing is left of the lot, say "all": true; the rest is then the re-weighing difference',
            field=f"{field}.mass",
        )
    return list(stands) if mass == stands[0] else content(mass, composition)


def bring_to_hand(draft: Draft, area: str, lot: Lot, number: int, field: str, mass: int | None) -> None:
    """Make sure the lot is in the area: found again where a count missed it, refused where it is not."""
    stands = draft.amounts(area, lot.id)
    if any(stands) and (mass is None or mass <= stands[0]):
        return
    missed = sorted(draft.missed_places(lot.id), key=lambda m: m.area != area)
    if missed and (missed[0].area == area or not any(stands)):
        find_again(draft, area, lot, missed[0], number)
        return
    if not any(stands):
        mend = "correct the area or the lot, or enter the ticket that brought it there first"
        what = f"lot {lot.number} is not in {area}: {where_it_is(draft, lot)}"
        raise Impossible([Fault(Impossible.code, what, mend, f"{field}.lot", lot=lot.number)])


def find_again(draft: Draft, area: str, lot: Lot, missed: Missed, number: int) -> None:
    """Put a missed lot back where it was missed, and, if it turned up elsewhere, move it there without a ticket."""
    draft.found.append(missed)
    prior = draft.period_of(missed.ticket) != draft.occasion.period
    back = {"line": number, "prior": prior}
    draft.post("place", missed.amounts, area=missed.area, lot=lot.id, **back)  # type: ignore[arg-type]
    draft.post("difference", negative(missed.amounts), area=missed.area, origin="count", **back)  # type: ignore[arg-type]
    draft.write_line(number, "found", missed.area, lot, missed.amounts)
    draft.flag("found again", f"lot {lot.number}, not found by a count of {missed.area}, is there again", number)
    if missed.area != area:
        draft.post("place", negative(missed.amounts), area=missed.area, lot=lot.id, line=number)
        draft.post("place", missed.amounts, area=area, lot=lot.id, line=number)
        draft.write_line(number, "strayed", area, lot, missed.amounts)
        draft.flag("move without a ticket", f"lot {lot.number} went from {missed.area} to {area} unrecorded", number)


def where_it_is(draft: Draft, lot: Lot) -> str:
    """Say in words where a lot stands, or that it was not found, or is used up."""
    places = draft.shelf.places(lot.id)
    if places:
        return "it stands in " + ", ".join(f"{p.area} ({_grams(p.amounts[0])})" for p in places)
    on_the_way = draft.shelf.lot_on_the_way(lot.id)
    if on_the_way:
        return "it is on its way by " + ", ".join(f"{w.move} to {w.receiver}" for w in on_the_way)
    missed = draft.missed_places(lot.id)
    if missed:
        return "a count did not find it in " + ", ".join(m.area for m in missed)
    return "nothing is left of it"


def _grams(mass_ng: int) -> str:
    return f"{mass_text(mass_ng, 'g', 4)} g"

