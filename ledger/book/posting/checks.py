"""Codes and people a ticket names: unknown is impossible, not entitled is irregular."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TypeVar

from ledger.book.draft import Draft
from ledger.book.tickets import Ticket
from ledger.refusals import Impossible

T = TypeVar("T")

#: What somebody must be entitled to for each kind; every other kind asks for "weigh".
_ENTITLED = {"count": "count", "writeoff": "accept", "void": "accept", "reverse": "accept"}


def known(codes: Mapping[str, T], code: str, field: str) -> T:
    """Return the set-up's entry of that code; raises Impossible naming the field when there is none."""
    entry = codes.get(code)
    if entry is None:
        raise Impossible(f"no {field.rsplit('.', 1)[-1]} {code} in the set-up",
                         "correct the code, or add it by a set-up change", field=field)  # fmt: skip
    return entry


def check_people(ticket: Ticket, draft: Draft) -> None:
    """Refuse people who are not in the set-up; flag those not entitled to what they did."""
    people = draft.setup.persons
    named = [("by", ticket.by), ("witness", ticket.witness), *(("workers", w) for w in ticket.workers or ())]
    for field, code in named:
        if code is not None and code not in people:
            raise Impossible(f"no person {code} in the set-up", "correct the code, or add it by a set-up change",
                             field=field)  # fmt: skip
    right = _ENTITLED.get(ticket.kind, "weigh")
    if right not in people[ticket.by].may:
        draft.flag("not entitled", f"{ticket.by} is not entitled to {right}")
    if ticket.witness is not None and "witness" not in people[ticket.witness].may:
        draft.flag("not entitled", f"{ticket.witness} is not entitled to witness")
