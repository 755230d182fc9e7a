"""Tickets: one event of the plant each, read strictly from a document.

``parse_ticket`` is the only door. It finds every fault of form that needs no set-up; whether an area, a lot or a
person exists is the posting engine's to say.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from pydantic import ValidationError

from ledger.book.tickets.common import Contradiction, Document, TicketBase, split_number
from ledger.book.tickets.custody import Arrive, Discard, Move, Open, PartyBalance, Receive, Ship
from ledger.book.tickets.lines import LINE_FIELDS, Line, line_contradictions
from ledger.book.tickets.paper import CheckWeigh, PartyAccount, Reverse, Settle, Transfer, Void, WriteOff
from ledger.book.tickets.process import Assay, Count, Sweep, Work
from ledger.book.tickets.readings import Reading, shown
from ledger.book.tickets.wording import faults_of, path_of
from ledger.refusals import Fault, FormRefused

__all__ = [
    "KINDS",
    "Arrive",
    "Assay",
    "CheckWeigh",
    "Count",
    "Discard",
    "Line",
    "Move",
    "Open",
    "PartyAccount",
    "PartyBalance",
    "Reading",
    "Receive",
    "Reverse",
    "Settle",
    "Ship",
    "Sweep",
    "Ticket",
    "Transfer",
    "Void",
    "Work",
    "WriteOff",
    "parse_ticket",
    "split_number",
]

Ticket = (
    Open
    | Receive
    | Move
    | Arrive
    | Work
    | Assay
    | Sweep
    | Ship
    | Settle
    | Transfer
    | Count
    | Discard
    | WriteOff
    | CheckWeigh
    | Void
    | Reverse
)

#: The model of each kind, in the order of the reference.
KINDS: Final[dict[str, type[Ticket]]] = {
    "open": Open,
    "receive": Receive,
    "move": Move,
    "arrive": Arrive,
    "work": Work,
    "assay": Assay,
    "sweep": Sweep,
    "ship": Ship,
    "settle": Settle,
    "transfer": Transfer,
    "count": Count,
    "discard": Discard,
    "writeoff": WriteOff,
    "checkweigh": CheckWeigh,
    "void": Void,
    "reverse": Reverse,
}


def parse_ticket(document: Document) -> Ticket:
    """Return the ticket that a document says; raise FormRefused with every fault of form there is in it.

    The document is kept as ``ticket.document`` and must not be changed afterwards.
    """
    model = _model(document)
    try:
        ticket = model.model_validate(document)
    except ValidationError as error:
        raise _refusal(document, model, error) from None
    for _ in _contradictions(document, model):
        raise _refusal(document, model, None)
    ticket.__dict__["document"] = document
    return ticket


def _model(document: Document) -> type[Ticket]:
    if type(document) is not dict:
        raise FormRefused(f"a ticket is an object, not {shown(document)}", 'write {"ticket": …, "kind": …, …}')
    kind = document.get("kind")
    model = KINDS.get(kind) if type(kind) is str else None
    if model is None:
        what = "is missing" if "kind" not in document else f"{shown(kind)} is no kind of ticket"
        fault = Fault("form", what, "write one of " + ", ".join(KINDS), "kind", _number(document))
        raise FormRefused([fault])
    return model


def _refusal(document: Document, model: type[Ticket], error: ValidationError | None) -> FormRefused:
    found = faults_of(error, _fields(model)) if error is not None else []
    told = {fault.field for fault in found}
    found += [fault for fault in _contradictions(document, model) if fault.field not in told]
    number = _number(document)
    return FormRefused([Fault("form", what, mend, field, number) for field, what, mend in found])


def _number(document: Document) -> str:
    number = document.get("ticket")
    return number if type(number) is str and number.isprintable() and len(number) <= 64 else ""


def _fields(model: type[Ticket]) -> Iterator[str]:
    yield from (field.alias or name for name, field in model.model_fields.items())
    if model.roles:
        yield from LINE_FIELDS


# ---- faults between fields ---------------------------------------------------------------------------------


def _contradictions(document: Document, model: type[TicketBase]) -> Iterator[Contradiction]:
    if None in document.values():
        yield from _nulls(document, "")
    if "witness" in document and document["witness"] == document.get("by"):
        yield Contradiction("witness", "the witness is the one who weighed", "name somebody else, or leave it out")
    yield from model.contradictions(document)
    for side, role in model.roles.items():
        lines = document.get(side, ())
        for index, line in enumerate(lines) if type(lines) is list else ():
            if type(line) is dict:
                if None in line.values():
                    yield from _nulls(line, f"{side}[{index}].")
                for field, what, mend in line_contradictions(line, role):
                    yield Contradiction(f"{side}[{index}].{field}", what, mend)


def _nulls(part: Document, path: str) -> Iterator[Contradiction]:
    for name, value in part.items():
        if value is None:
            yield Contradiction(path + path_of([name]), "is null", "leave the field out")
