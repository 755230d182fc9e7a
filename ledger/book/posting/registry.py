"""Which module posts which kind, and what is checked around every one of them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from ledger.book.draft import Draft
from ledger.book.posting.assaying import post_assay
from ledger.book.posting.checks import check_codes, check_people
from ledger.book.posting.correcting import revalue_descendants
from ledger.book.posting.counting import post_count
from ledger.book.posting.goods import post_discard, post_move, post_open, post_receive, post_ship, post_sweep
from ledger.book.posting.paper import post_checkweigh, post_settle, post_transfer, post_void, post_writeoff
from ledger.book.posting.reversing import post_reverse, reversible
from ledger.book.posting.transit import post_arrive
from ledger.book.posting.work import post_work
from ledger.book.tickets import Reverse, Ticket
from ledger.refusals import OrderRefused

_POST: Final[dict[str, Callable[[Any, Draft], None]]] = {
    "open": post_open,
    "receive": post_receive,
    "move": post_move,
    "work": post_work,
    "assay": post_assay,
    "sweep": post_sweep,
    "ship": post_ship,
    "count": post_count,
    "discard": post_discard,
    "writeoff": post_writeoff,
    "void": post_void,
    "arrive": post_arrive,
    "settle": post_settle,
    "transfer": post_transfer,
    "checkweigh": post_checkweigh,
}


def post(ticket: Ticket, draft: Draft) -> None:
    """Fill the draft with everything the ticket does; raises Impossible or OrderRefused, leaving nothing behind."""
    check_codes(ticket, draft)
    check_people(ticket, draft)
    if isinstance(ticket, Reverse):
        post_reverse(ticket, draft, reversible(ticket, draft.shelf))
    else:
        _POST[ticket.kind](ticket, draft)
        if draft.occasion.corrects is not None:
            revalue_descendants(draft, draft.occasion.corrects)
        else:
            _check_order(draft)
    _flag_below_nothing(draft)
    wrong = draft.imbalance()
    if wrong:
        raise AssertionError(f"ticket {draft.occasion.number} does not balance: {wrong}")


def _check_order(draft: Draft) -> None:
    """Refuse a ticket dated before a later one of the same area and lot; flag other late paper."""
    for area, lot in draft.touched():
        before = draft.shelf.standing(area, lot)
        if before is not None and before.last_instant > draft.occasion.instant:
            number = draft.shelf.lot_by_id(lot).number
            raise OrderRefused(
                f"ticket {before.last_ticket} handled lot {number} in {area} at a later time",
                f"correct the date; or reverse {before.last_ticket} and enter both in their order", field="at",
            )  # fmt: skip
    for area in dict.fromkeys(line.area for line in draft.lines):
        clock = draft.shelf.clock(area)
        if clock is not None and clock[0] > draft.occasion.instant:
            draft.flag("late paper", f"dated before ticket {clock[1]} of {area}, which was recorded earlier")


def _flag_below_nothing(draft: Draft) -> None:
    for standing in draft.standings:
        if standing.amounts[0] < 0:
            number = _number(draft, standing.lot)
            draft.flag("below nothing", f"lot {number} in {standing.area} stands below nothing until it is corrected")


def _number(draft: Draft, lot: int) -> str:
    made = next((each.number for each in draft.new_lots if each.id == lot), None)
    return made or draft.shelf.lot_by_id(lot).number
