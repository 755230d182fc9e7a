"""Tickets of metal that comes, changes hands and leaves: open, receive, move, arrive, ship, discard."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar, Literal

from pydantic import Field

from ledger.book.tickets.common import Contradiction, Document, Dust, Name, Number, Record, SignedMass, TicketBase
from ledger.book.tickets.lines import ARRIVED, DISCARDED, MOVED, OPENED, RECEIVED, SHIPPED, ArrivedLine, Line, Role

_LOTS = "the lots, a line each"


def differ(document: Document, first: str, second: str, mend: str) -> Iterator[Contradiction]:
    """Yield a fault where two fields say the same."""
    if first in document and document[first] == document.get(second):
        yield Contradiction(second, f"{first} and {second} are the same", mend)


def some_lines(document: Document, name: str = "lots") -> Iterator[Contradiction]:
    """Yield a fault where a list of lines is there and empty."""
    if document.get(name) == []:
        yield Contradiction(name, "has no lines", "give at least one line")


class PartyBalance(Record):
    """What a party owes (+) or is owed (−) when the book is opened."""

    party: Name = Field(description="the party")
    terms: Literal["deposited", "leased", "pool", "settled"] = Field(description="under which terms")
    metal: Name = Field(description="the metal")
    fine: SignedMass = Field(description='fine content: + owed to us, − owed by us, `"-120.5 g"`')


class Open(TicketBase):
    roles: ClassVar[dict[str, Role]] = {"lots": OPENED}
    purpose: ClassVar[str] = "Take-on of a running plant, beside a count: what an area holds when the book is opened."

    kind: Literal["open"]
    area: Name = Field(description="the area taken on")
    lots: list[Line] = Field([], description=_LOTS)
    dust: Dust | None = Field(None, description='recoverable dust, estimated, by metal: `{"gold": "12.0 g"}`')
    parties: list[PartyBalance] = Field([], description="party balances: party, terms, metal, fine")

    @classmethod
    def contradictions(cls, document: Document) -> Iterator[Contradiction]:
        """See TicketBase."""
        if not (document.get("lots") or "dust" in document or document.get("parties")):
            yield Contradiction("lots", "the take-on is empty", "give lots, dust or parties")


class Receive(TicketBase):
    roles: ClassVar[dict[str, Role]] = {"lots": RECEIVED}
    purpose: ClassVar[str] = "Metal that comes into the plant, by the plant's own weighing."

    kind: Literal["receive"]
    party: Name = Field(description="from whom")
    terms: Literal["bought", "deposited", "leased", "returned"] = Field(description="under which terms")
    to: Name = Field(description="the area it comes into")
    lots: list[Line] = Field(description=_LOTS)

    @classmethod
    def contradictions(cls, document: Document) -> Iterator[Contradiction]:
        """See TicketBase."""
        return some_lines(document)


class Move(TicketBase):
    roles: ClassVar[dict[str, Role]] = {"lots": MOVED}
    purpose: ClassVar[str] = "Lots from one area's custody to another's, weighed by sender and, where given, receiver."

    kind: Literal["move"]
    from_: Name = Field(alias="from", description="the area that gives")
    to: Name = Field(description="the area that takes")
    lots: list[Line] = Field(description=_LOTS)
    in_transit: bool = Field(False, description="sent and not yet arrived: an `arrive` ticket follows")

    @classmethod
    def contradictions(cls, document: Document) -> Iterator[Contradiction]:
        """See TicketBase."""
        yield from some_lines(document)
        yield from differ(document, "from", "to", "give the area that takes")
        lots = document.get("lots")
        if document.get("in_transit") is True and isinstance(lots, list):
            for index, line in enumerate(lots):
                if isinstance(line, dict) and "received_mass" in line:
                    yield Contradiction(
                        f"lots[{index}].received_mass",
                        "what is in transit has not been weighed by the receiver",
                        "write the receiver's reading on the arrive ticket",
                    )


class Arrive(TicketBase):
    roles: ClassVar[dict[str, Role]] = {"lots": ARRIVED}
    purpose: ClassVar[str] = (
        'The receiver\'s own reading of what was in transit; a lot that never came is a line of `"0 g"`.'
    )

    kind: Literal["arrive"]
    of: Number = Field(description="the number of the move")
    lots: list[ArrivedLine] = Field(description=_LOTS)

    @classmethod
    def contradictions(cls, document: Document) -> Iterator[Contradiction]:
        """See TicketBase."""
        yield from some_lines(document)
        yield from differ(document, "ticket", "of", "give the number of the move")


class Ship(TicketBase):
    roles: ClassVar[dict[str, Role]] = {"lots": SHIPPED}
    purpose: ClassVar[str] = "Metal that leaves the plant: sold, or returned to whose it is."

    kind: Literal["ship"]
    from_: Name = Field(alias="from", description="the area it leaves")
    party: Name = Field(description="to whom")
    terms: Literal["sold", "returned"] = Field(description="under which terms")
    against: Literal["deposited", "leased"] | None = Field(None, description="the account that a return is set against")
    lots: list[Line] = Field(description=_LOTS)

    @classmethod
    def contradictions(cls, document: Document) -> Iterator[Contradiction]:
        """See TicketBase."""
        yield from some_lines(document)
        if document.get("terms") == "sold" and "against" in document:
            yield Contradiction("against", "a sale is set against nobody's account", "leave it out, or say returned")


class Discard(TicketBase):
    roles: ClassVar[dict[str, Role]] = {"lots": DISCARDED}
    purpose: ClassVar[str] = "A measured loss: effluent, slag thrown away, a dissolved sample."

    kind: Literal["discard"]
    area: Name = Field(description="the area")
    lots: list[Line] = Field(description="what is thrown away, a line each, with results or content")

    @classmethod
    def contradictions(cls, document: Document) -> Iterator[Contradiction]:
        """See TicketBase."""
        return some_lines(document)
