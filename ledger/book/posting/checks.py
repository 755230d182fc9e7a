"""Codes and people a ticket names: unknown is impossible, not entitled is irregular."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final, TypeVar

from ledger.book.draft import Draft
from ledger.book.tickets import Line, Ticket
from ledger.plant.setup import Setup
from ledger.refusals import Fault, Impossible

T = TypeVar("T")

#: What somebody must be entitled to for each kind; every other kind asks for "weigh".
_ENTITLED = {"count": "count", "writeoff": "accept", "void": "accept", "reverse": "accept"}

#: The fields that are codes, of a ticket and of a line, and the table of the set-up each is looked up in.
_CODES_OF_A_TICKET: Final = {
    "area": "areas", "to": "areas", "from_": "areas", "operation": "operations", "party": "parties",
    "method": "methods", "scale": "scales",
}  # fmt: skip
_CODES_OF_A_LINE: Final = {
    "scale": "scales", "received_scale": "scales", "container": "containers", "alloy": "alloys", "clad": "clads",
    "class_": "classes", "method": "methods", "owner": "parties", "party": "parties",
}  # fmt: skip

#: What the second who signs a write-off must be entitled to, any of them: the other of its four eyes.
SECOND_OF_A_WRITE_OFF = ("accept", "witness")


def known(codes: Mapping[str, T], code: str, field: str) -> T:
    """Return the set-up's entry of that code; raises Impossible naming the field when there is none."""
    entry = codes.get(code)
    if entry is None:
        raise Impossible(f"no {field.rsplit('.', 1)[-1]} {code} in the set-up",
                         "correct the code, or add it by a set-up change", field=field)  # fmt: skip
    return entry


def check_people(ticket: Ticket, draft: Draft) -> None:
    """Flag people not entitled to what they did; `check_codes` has refused those who are not in the set-up."""
    people = draft.setup.persons
    right = _ENTITLED.get(ticket.kind, "weigh")
    if right not in people[ticket.by].may:
        draft.flag("not entitled", f"{ticket.by} is not entitled to {right}")
    rights = SECOND_OF_A_WRITE_OFF if ticket.kind == "writeoff" else ("witness",)
    if ticket.witness is not None and people[ticket.witness].may.isdisjoint(rights):
        draft.flag("not entitled", f"{ticket.witness} is not entitled to {' or '.join(rights)}")
    if ticket.witness is None and ticket.kind == "writeoff":
        draft.flag("one person alone", f"{ticket.by} wrote off without a second who may accept or witness")


def check_codes(ticket: Ticket, draft: Draft) -> None:
    """Refuse every code that the set-up does not have, all of them at once."""
    setup, said = draft.setup, vars(ticket)  # asking a model for a field it does not have is slow
    people = (("by", ticket.by), ("witness", ticket.witness), *(("workers", worker) for worker in ticket.workers))
    faults = [_unknown("person", code, field) for field, code in people if code and code not in setup.persons]
    for name, table in _CODES_OF_A_TICKET.items():
        code = said.get(name)
        own = code == "own" and ticket.kind == "transfer"
        if type(code) is str and not own and code not in getattr(setup, table):
            faults.append(_unknown(name.rstrip("_"), code, name.rstrip("_")))
    for side in ("lots", "in_", "out"):
        for index, line in enumerate(said.get(side) or ()):
            faults += _line_faults(setup, line, side.rstrip("_"), index)
    if faults:
        raise Impossible(faults)


def _line_faults(setup: Setup, line: Line, side: str, index: int) -> Iterator[Fault]:
    said = vars(line)
    for name, table in _CODES_OF_A_LINE.items():
        code = said[name]
        if code is not None and code not in getattr(setup, table):
            field = name.rstrip("_")
            yield _unknown(field.removeprefix("received_"), code, f"{side}[{index}].{field}")


def _unknown(what: str, code: str, field: str) -> Fault:
    name = {"to": "area", "from": "area", "owner": "party"}.get(what, what)
    return Fault(Impossible.code, f"no {name} {code} in the set-up", "correct the code, or add it by a set-up change",
                 field)  # fmt: skip
