"""Tickets that move no metal: a difference answered for, and spoiled numbers."""

from __future__ import annotations

from ledger.book.amounts import negative
from ledger.book.draft import Draft
from ledger.book.posting.checks import known
from ledger.book.tickets import Void, WriteOff
from ledger.quantities.mass import mass_text
from ledger.refusals import Impossible


def post_writeoff(ticket: WriteOff, draft: Draft) -> None:
    """Write off a difference by name, cause and evidence: difference −m, loss +m. Unknown stays unknown."""
    known(draft.setup.areas, ticket.area, "area")
    if ticket.metal not in draft.metals:
        raise Impossible(f"{ticket.metal} is not booked", f"give one of {', '.join(draft.metals)}", field="metal")
    open_ng = draft.shelf.balance("difference", ticket.metal, area=ticket.area)
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
