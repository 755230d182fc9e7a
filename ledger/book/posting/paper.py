"""Tickets that weigh no lot of ours: metal on paper, differences answered for, check weights, spoiled numbers."""

from __future__ import annotations

from ledger.book.amounts import minus, negative
from ledger.book.draft import Draft
from ledger.book.posting.assaying import true_up
from ledger.book.posting.checks import known
from ledger.book.posting.composing import every_metal
from ledger.book.posting.taking import take
from ledger.book.posting.weighing import reading_sd_ng
from ledger.book.tickets import CheckWeigh, Reading, Settle, Transfer, Void, WriteOff
from ledger.book.tickets.lines import Line
from ledger.quantities.mass import mass_text
from ledger.refusals import Impossible


def post_writeoff(ticket: WriteOff, draft: Draft) -> None:
    """Write off a difference by name, cause and evidence: difference −m, loss +m. Unknown stays unknown."""
    known(draft.setup.areas, ticket.area, "area")
    if ticket.metal not in draft.metals:
        raise Impossible(f"{ticket.metal} is not booked", f"give one of {', '.join(draft.metals)}", field="metal")
    open_ng = draft.open_difference(ticket.area, ticket.metal)
    if ticket.mass.ng * open_ng <= 0 or abs(ticket.mass.ng) > abs(open_ng):
        raise Impossible(
            f"{mass_text(open_ng, 'g', 4)} g of {ticket.metal} stand open in {ticket.area}; "
            f"{mass_text(ticket.mass.ng, 'g', 4)} g cannot be written off", "write off what stands open, or less",
            field="mass",
        )  # fmt: skip
    written_off = [ticket.mass.ng if metal == ticket.metal else 0 for metal in draft.metals]
    draft.post("difference", negative(written_off), area=ticket.area, origin="write-off")
    draft.post("loss", written_off, area=ticket.area, cause=ticket.cause)


def post_void(ticket: Void, draft: Draft) -> None:
    """Declare spoiled numbers; a number that is used, or was voided before, cannot be."""
    for i, number in enumerate(ticket.numbers):
        if draft.shelf.number_used(number):
            raise Impossible(f"number {number} is used", "reverse the ticket instead", field=f"numbers[{i}]")
        if number in draft.void_numbers:
            raise Impossible(f"number {number} is listed twice", "list it once", field=f"numbers[{i}]")
        draft.void_numbers.append(number)


def post_transfer(ticket: Transfer, draft: Draft) -> None:
    """Move metal on paper, between own and parties' accounts: from −F, to +F; fine metal is its own gross."""
    if ticket.metal not in draft.metals[1:]:
        raise Impossible(f"{ticket.metal} is not booked", f"give one of {', '.join(draft.metals[1:])}", field="metal")
    fine = [ticket.fine.ng if metal in ("gross", ticket.metal) else 0 for metal in draft.metals]
    for field, side, amounts in (("from", ticket.from_, negative(fine)), ("to", ticket.to, fine)):
        if isinstance(side, str):
            draft.post("own", amounts)
        else:
            party = known(draft.setup.parties, side.party, f"{field}.party")
            draft.post("party", amounts, party=party.code, terms=side.terms)


def post_checkweigh(ticket: CheckWeigh, draft: Draft) -> None:
    """Record a check weight or a standard: posts nothing; flags a scale that reads wrong beyond its repeatability."""
    if ticket.method is not None:
        known(draft.setup.methods, ticket.method, "method")
    if ticket.scale is not None:
        scale = known(draft.setup.scales, ticket.scale, "scale")
        if ticket.reading is not None and isinstance(ticket.standard, Reading):
            off = ticket.reading.ng - ticket.standard.ng
            allowed = float(draft.setup.plant.act) * reading_sd_ng(draft, scale.code, ticket.standard.ng)
            if abs(off) > allowed:
                words = f"scale {scale.code} reads {mass_text(off, 'g', 4)} g off its check weight"
                draft.flag("out of control", words)
    draft.checked = (ticket.scale, ticket.method, ticket.calibrated)


def post_settle(ticket: Settle, draft: Draft) -> None:
    """Settle lots at a refiner: difference R − A (an estimate's to its origin), party +P, retained A − P."""
    known(draft.setup.areas, ticket.area, "area")
    party = known(draft.setup.parties, ticket.party, "party")
    if party.role != "refiner":
        draft.flag("not a refiner", f"{party.code} is a {party.role}")
    for i, line in enumerate(ticket.lots):
        _settle_line(ticket, draft, line, i)


def _settle_line(ticket: Settle, draft: Draft, line: Line, index: int) -> None:
    field, number = f"lots[{index}]", index + 1
    whole = line.model_copy(update={"all": True, "mass": None, "gross": None})
    taken = take(draft, ticket.area, whole, field, number, "out", reweigh=False)
    agreed = every_metal(draft, dict(line.agreed or {}), f"{field}.agreed")
    payable = every_metal(draft, dict(line.payable or {}), f"{field}.payable")
    for metal, a, p in zip(draft.metals[1:], agreed, payable, strict=True):
        if p > a:
            raise Impossible(f"more {metal} is payable than was agreed", "check both", field=f"{field}.payable")
    a_whole, p_whole = [_received_ng(line), *agreed], [sum(payable), *payable]
    draft.post("party", p_whole, party=ticket.party, terms=line.terms or "settled", line=number)
    draft.post("retained", minus(a_whole, p_whole), party=ticket.party, line=number)
    rest = true_up(draft, taken.lot, minus(taken.recorded, a_whole), number)
    draft.post("difference", rest, area=ticket.area, origin="revaluation", line=number)
    draft.lines[-1] = draft.lines[-1]._replace(given=a_whole, content=a_whole)


def _received_ng(line: Line) -> int:
    """Return the metallic mass a refiner received: dry of moisture, or the stated metallic part."""
    assert line.received is not None
    if line.metallic is not None:
        return line.metallic.ng
    if line.moisture is not None:
        return round(line.received.ng * (1 - line.moisture))
    return line.received.ng
