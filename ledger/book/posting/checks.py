"""Codes and people a ticket names: unknown is impossible, not entitled is irregular."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TypeVar

from ledger.book.draft import Draft
from ledger.book.tickets import Line, Ticket
from ledger.refusals import Fault, Impossible

T = TypeVar("T")

#: What somebody must be entitled to for each kind; every other kind asks for "weigh".
_ENTITLED = {"count": "count", "writeoff": "accept", "void": "accept", "reverse": "accept"}

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
    setup = draft.setup
    single: dict[str, Mapping[str, object]] = {
        "area": setup.areas, "to": setup.areas, "from_": setup.areas, "operation": setup.operations,
        "party": setup.parties, "method": setup.methods, "scale": setup.scales,
    }  # fmt: skip
    people = [("by", ticket.by), ("witness", ticket.witness), *(("workers", worker) for worker in ticket.workers)]
    unknown = [(field, code) for field, code in people if code is not None and code not in setup.persons]
    faults = [_unknown("person", code, field) for field, code in unknown]
    said = vars(ticket)  # asking a model for a field it does not have is slow
    for name, codes in single.items():
        code = said.get(name)
        if isinstance(code, str) and code not in codes and not (code == "own" and ticket.kind == "transfer"):
            faults.append(_unknown(name.rstrip("_"), code, name.rstrip("_")))
    for side in ("lots", "in_", "out"):
        for index, line in enumerate(said.get(side) or ()):
            faults += _line_faults(line, f"{side.rstrip('_')}[{index}]", draft)
    if faults:
        raise Impossible(faults)


def _line_faults(line: Line, place: str, draft: Draft) -> Iterator[Fault]:
    setup = draft.setup
    codes: tuple[tuple[str, str | None, Mapping[str, object]], ...] = (
        ("scale", line.scale, setup.scales), ("received_scale", line.received_scale, setup.scales),
        ("container", line.container, setup.containers), ("alloy", line.alloy, setup.alloys),
        ("clad", line.clad, setup.clads), ("class", line.class_, setup.classes), ("method", line.method, setup.methods),
        ("owner", line.owner, setup.parties), ("party", line.party, setup.parties),
    )  # fmt: skip
    for name, code, known_codes in codes:
        if code is not None and code not in known_codes:
            yield _unknown(name.removeprefix("received_"), code, f"{place}.{name}")


def _unknown(what: str, code: str, field: str) -> Fault:
    name = {"to": "area", "from": "area", "owner": "party"}.get(what, what)
    return Fault(Impossible.code, f"no {name} {code} in the set-up", "correct the code, or add it by a set-up change",
                 field)  # fmt: skip
