"""Metal on its way: sent by a move, not yet weighed by the receiver."""

from __future__ import annotations

from ledger.book.amounts import Amounts, composition_of, content, minus, negative
from ledger.book.draft import Draft
from ledger.book.lots import Lot
from ledger.book.past import Missed, OnTheWay
from ledger.book.posting.taking import known_lot
from ledger.book.posting.weighing import flag_transfer, metallic_ng
from ledger.book.tickets import Arrive
from ledger.book.tickets.lines import Line
from ledger.refusals import Impossible


def send(draft: Draft, lot: Lot, weighed: Amounts, sender: str, receiver: str, number: int) -> None:
    """Post metal sent: transit(move, lot) +W. It still is the sender's to answer for until it arrives."""
    o = draft.occasion
    draft.post("transit", weighed, area=sender, lot=lot.id, move=o.number, line=number)
    draft.sent.append(OnTheWay(o.number, lot.id, sender, receiver, o.instant, list(weighed)))


def post_arrive(ticket: Arrive, draft: Draft) -> None:
    """Post an arrival by the receiver's own reading: transit −W, place(to) +V, difference(to) W − V.

    A lot that never came is a line of 0 g: it is missed where it should have come, and can be found again.
    """
    waiting = {sent.lot: sent for sent in draft.shelf.on_the_way(ticket.of)}
    if not waiting:
        raise Impossible(f"nothing of move {ticket.of} is on its way", "correct the number of the move", field="of")
    for i, line in enumerate(ticket.lots):
        field, number = f"lots[{i}]", i + 1
        lot = known_lot(draft, line, field)
        sent = waiting.pop(lot.id, None)
        if sent is None:
            raise Impossible(f"lot {lot.number} is not on its way by move {ticket.of}", "correct the lot or the move",
                             field=f"{field}.lot")  # fmt: skip
        if draft.occasion.instant < sent.instant:
            raise Impossible(f"the lot left later than it arrived: move {ticket.of} is dated later", "correct the date",
                             field="at")  # fmt: skip
        _arrive(draft, line, field, number, lot, sent)


def _arrive(draft: Draft, line: Line, field: str, number: int, lot: Lot, sent: OnTheWay) -> None:
    mass = metallic_ng(draft, line, field, lot.class_ if line.mass and line.mass.ng else None, number=number)
    arrived = list(sent.amounts) if mass is None else _content(lot, sent, mass)
    to = sent.receiver
    draft.post("transit", negative(sent.amounts), area=sent.sender, lot=lot.id, move=sent.move, line=number)
    draft.post("place", arrived, area=to, lot=lot.id, line=number)
    draft.post("difference", minus(sent.amounts, arrived), area=to, origin="transfer", line=number)
    draft.write_line(number, "in", to, lot, arrived, scale=line.scale, weighed_ng=mass, given=sent.amounts)
    draft.arrived.append(sent)
    if mass == 0:
        draft.missed.append(Missed(to, lot.id, list(sent.amounts), draft.occasion.seq))
        draft.flag("never came", f"lot {lot.number}, sent from {sent.sender} by {sent.move}, is not in {to}", number)
    elif mass is not None:
        lost, sender = sent.amounts[0] - mass, draft.shelf.sent_on(sent)
        flag_transfer(draft, line.scale, sender, mass, lost, "the sender's reading", number)


def _content(lot: Lot, sent: OnTheWay, mass: int) -> Amounts:
    """Return V: the mass at the lot's fineness; of a part of a bin, at the fineness it was sent with."""
    determination = lot.valuation.determination
    if lot.kind == "bin" or determination is None:
        return content(mass, composition_of(sent.amounts))
    return content(mass, determination.composition)
