"""Counts: numbered sheets, teams compared, and, when the count is ended, what was not found.

A sheet speaks only of what it lists. A count posts to the difference of the area counted, and to no other.
"""

from __future__ import annotations

from math import hypot

from ledger.book.amounts import Amounts, Composition, composition_of, content, minus, negative, plus
from ledger.book.draft import Draft, SheetRow
from ledger.book.lots import Lot
from ledger.book.past import SheetReading
from ledger.book.posting.checks import known
from ledger.book.posting.composing import needed_composition
from ledger.book.posting.jobs import counted_in_job
from ledger.book.posting.making import make_lot, own_valuation
from ledger.book.posting.taking import where_it_is
from ledger.book.posting.weighing import flag_reweighing, metallic_ng, reading_sd_ng
from ledger.book.tickets import Count
from ledger.book.tickets.lines import Line
from ledger.quantities.mass import mass_text
from ledger.refusals import Impossible, OrderRefused


def post_count(ticket: Count, draft: Draft) -> None:
    """Post a count sheet: place C − R and difference R − C of each lot listed; if ended, the rest is not found."""
    area = known(draft.setup.areas, ticket.area, "area")
    if ticket.ended and not ticket.spot and area.keeper == ticket.by:
        raise Impossible(f"{ticket.by} keeps {area.code} and may not end its count",
                         "let somebody else end it, or say ended: false", field="by")  # fmt: skip
    ended = ticket.ended and not ticket.spot
    origin = "take_on" if draft.shelf.awaits_take_on(ticket.area, ticket.count_id) and not ticket.spot else "count"
    team = ticket.team or ""
    draft.sheet = SheetRow(
        draft.occasion.seq, ticket.area, ticket.count_id, ticket.sheet, team, int(ended), int(ticket.spot),
        int(origin == "take_on"),
    )  # fmt: skip
    earlier = draft.shelf.sheet_readings(ticket.area, ticket.count_id)
    listed = [_count_line(ticket, draft, line, i, origin, earlier) for i, line in enumerate(ticket.lots)]
    if ended:
        _not_found(ticket, draft, {lot.id for lot in listed} | {r.lot for r in earlier}, origin)


def _count_line(
    ticket: Count, draft: Draft, line: Line, index: int, origin: str, earlier: list[SheetReading]
) -> Lot:
    area, field, number = ticket.area, f"lots[{index}]", index + 1
    lot, counted, mass = _counted(draft, area, line, field, number)
    before = draft.amounts(area, lot.id)
    mine = [r for r in earlier if r.lot == lot.id and r.team == (ticket.team or "")]
    same_sheet = [row for row in draft.lines if row.lot == lot.id and row.side == "count"]
    others = {r.team for r in earlier if r.lot == lot.id} - {ticket.team or ""}
    if mine or same_sheet:
        draft.flag("listed twice", f"lot {lot.number} is listed more than once; the readings are added", number)
        counted = plus(counted, before)
    elif others:
        counted = _compared(draft, line, lot, counted, before, earlier, others, number)
    elif lot.kind != "job" and any(before):
        flag_reweighing(draft, lot, line.scale, counted[0], before[0] - counted[0], number)
    difference = minus(before, counted)
    draft.post("place", negative(difference), area=area, lot=lot.id, line=number)
    draft.post("difference", difference, area=area, origin=origin, line=number)
    draft.write_line(
        number, "count", area, lot, counted, scale=line.scale, weighed_ng=mass, settles=True, recorded=before
    )
    return lot


def _counted(draft: Draft, area: str, line: Line, field: str, number: int) -> tuple[Lot, Amounts, int | None]:
    """Return the lot, C, and the mass read; a lot the book does not know must say what it is made of."""
    lot = draft.lot(line.lot or line.bin or "")
    if lot is None or lot.valuation.determination is None:
        mass = metallic_ng(draft, line, field, line.class_, number=number)
        if mass is None:
            raise Impossible("a lot nobody knows must be weighed", 'add "mass"', field=f"{field}.mass")
        stated = needed_composition(draft, line, field, mass)
        lot = make_lot(draft, area, line, field, own_valuation(draft, stated, "", area))
        draft.flag("unknown lot counted", f"lot {lot.number} was in {area} and in no ticket", number)
        return lot, content(mass, stated.composition), mass
    mass = metallic_ng(draft, line, field, lot.class_, number=number)
    stands = draft.amounts(area, lot.id)
    stop = [m for m in draft.missed_places(lot.id) if mass is None or mass > 0]
    for missed in stop:
        draft.found.append(missed)
        draft.write_line(number, "missed no more", missed.area, lot, missed.amounts)
    if not any(stands) and not any(m.area == area for m in stop):
        draft.flag("counted where it is not recorded", f"lot {lot.number}: {where_it_is(draft, lot)}", number)
    if mass is None:
        return lot, list(stands), None
    if lot.kind == "job":
        return lot, counted_in_job(draft, lot, area, mass), mass
    composition = composition_of(stands) if lot.kind == "bin" and stands[0] > 0 else _composition(lot)
    return lot, content(mass, composition), mass


def _composition(lot: Lot) -> Composition:
    assert lot.valuation.determination is not None
    return lot.valuation.determination.composition


def _compared(
    draft: Draft, line: Line, lot: Lot, counted: Amounts, before: Amounts, earlier: list[SheetReading],
    others: set[str], number: int,
) -> Amounts:  # fmt: skip
    """Compare with the other teams: the first stands, unless a third decides between two that differ."""
    if len(others) > 1:
        return counted
    first = [r for r in earlier if r.lot == lot.id]
    other_ng = first[-1].content[0]
    sd = hypot(*(reading_sd_ng(draft, scale, counted[0]) for scale in (line.scale, *(r.scale for r in first))))
    apart = counted[0] - other_ng
    if abs(apart) > float(draft.setup.plant.act) * sd:
        draft.flag("teams differ", f"lot {lot.number} by {mass_text(apart, 'g', 4)} g; a third team decides", number)
    return before


def _not_found(ticket: Count, draft: Draft, listed: set[int], origin: str) -> None:
    """Miss every lot recorded in the area that no sheet lists: place −R, difference +R."""
    for standing in draft.shelf.touched_after(ticket.area, draft.occasion.instant):
        if standing.lot not in listed and draft.occasion.corrects is None and any(
            draft.shelf.amounts_at(ticket.area, standing.lot, draft.occasion.instant, draft.metals)
        ):
            number = draft.shelf.lot_by_id(standing.lot).number
            raise OrderRefused(
                f"the count does not list lot {number}, which ticket {standing.last_ticket} handled later",
                "enter the count with its lots before later tickets, or list the lot", field="at",
            )  # fmt: skip
    row = len(ticket.lots)
    for lot_id, recorded in draft.on_hand(ticket.area):
        if lot_id in listed:
            continue
        row += 1
        lot = draft.shelf.lot_by_id(lot_id)
        draft.post("place", negative(recorded), area=ticket.area, lot=lot.id, line=row)
        draft.post("difference", recorded, area=ticket.area, origin=origin, line=row)
        draft.write_line(
            row, "not found", ticket.area, lot, [0] * draft.size, settles=True, recorded=recorded
        )
        if not draft.shelf.counted_elsewhere(lot.id, ticket.area, draft.point):
            draft.miss(ticket.area, lot.id, recorded)
        draft.flag("not found", f"lot {lot.number}, {mass_text(recorded[0], 'g', 4)} g gross", row)

