"""Tickets that weigh no lot of ours: settle, transfer, write-off, check weight, void, reverse."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, ClassVar, Literal

from pydantic import Discriminator, Field, Tag

from ledger.book.tickets.common import (
    Contradiction,
    Document,
    FreeText,
    Mass,
    Name,
    Number,
    Record,
    Results,
    SignedMass,
    Standard,
    TicketBase,
)
from ledger.book.tickets.custody import differ, some_lines
from ledger.book.tickets.lines import SETTLED, Line, Role


class Settle(TicketBase):
    roles: ClassVar[dict[str, Role]] = {"lots": SETTLED}
    purpose: ClassVar[str] = "A refiner's out-turn of lots that stand in an area outside the plant."

    kind: Literal["settle"]
    area: Name = Field(description="the outside area where the lots stand")
    party: Name = Field(description="the refiner")
    lots: list[Line] = Field(description="the lots settled, a line each")

    @classmethod
    def contradictions(cls, document: Document) -> Iterator[Contradiction]:
        """See TicketBase."""
        return some_lines(document)


class PartyAccount(Record):
    """A party's metal account under one kind of terms."""

    party: Name = Field(description="the party")
    terms: Literal["deposited", "leased", "pool", "settled"] = Field(description="under which terms")


def _own_or_party(value: object) -> str:
    return "‹own›" if isinstance(value, str) else "‹party›"


#: The plant's own stake, or a party's account; the tags are marked so that no field path shows them.
Side = Annotated[
    Annotated[Literal["own"], Tag("‹own›")] | Annotated[PartyAccount, Tag("‹party›")], Discriminator(_own_or_party)
]


class Transfer(TicketBase):
    purpose: ClassVar[str] = "Metal that moves on paper: pool, lease, title, priced out. No lot moves."

    kind: Literal["transfer"]
    from_: Side = Field(alias="from", description='`"own"`, or a party\'s account: `{"party": "…", "terms": "pool"}`')
    to: Side = Field(description="the same, and not the same account")
    metal: Name = Field(description="the metal")
    fine: Mass = Field(description="fine content")
    price: Name | None = Field(None, description="the price agreed, as text: `2650.10 USD/ozt`")
    reference: Name | None = Field(None, description="the paper it rests on")
    reason: FreeText | None = Field(None, description="why")

    @classmethod
    def contradictions(cls, document: Document) -> Iterator[Contradiction]:
        """See TicketBase."""
        return differ(document, "from", "to", "give the account that takes")


class WriteOff(TicketBase):
    purpose: ClassVar[str] = "An open difference answered for, by a named person on named evidence."

    kind: Literal["writeoff"]
    area: Name = Field(description="the area whose difference it is")
    metal: Name = Field(description="the metal, or gross")
    mass: SignedMass = Field(description='how much: + missing, − a gain, `"-0.35 g"`')
    cause: Name = Field(description="the cause")
    evidence: FreeText = Field(description="what shows it")
    reason: FreeText = Field(description="why it is written off")


class CheckWeigh(TicketBase):
    purpose: ClassVar[str] = "A check weight on a scale, or a standard through an assay. Posts nothing."

    kind: Literal["checkweigh"]
    scale: Name | None = Field(None, description="the scale, with `reading`; or `method`")
    method: Name | None = Field(None, description="the method, with `results`; or `scale`")
    standard: Standard = Field(description='what the standard is certified to be: `"200.0 g"`, or `{"gold": "585.0‰"}`')
    reading: Mass | None = Field(None, description="what the scale read")
    results: Results | None = Field(None, description="what the method found, by sample")
    calibrated: bool = Field(False, description="the scale was calibrated upon it")

    @classmethod
    def contradictions(cls, document: Document) -> Iterator[Contradiction]:
        """See TicketBase."""
        if ("scale" in document) == ("method" in document):
            yield Contradiction("scale", "either a scale or a method is checked", "give one of scale and method")
        elif "scale" in document:
            yield from _together(document, "scale", "reading", "results")
        else:
            yield from _together(document, "method", "results", "reading")


def _together(document: Document, checked: str, needed: str, strange: str) -> Iterator[Contradiction]:
    if needed not in document:
        yield Contradiction(needed, f"is missing: a {checked} is checked by it", f"give {needed}")
    if strange in document:
        yield Contradiction(strange, f"{strange} has no place in the check of a {checked}", "leave it out")


class Void(TicketBase):
    purpose: ClassVar[str] = "Spoiled numbers, so that no number is missing. Posts nothing."

    kind: Literal["void"]
    numbers: list[Number] = Field(min_length=1, description="the spoiled ticket numbers")
    reason: FreeText = Field(description="what became of them")

    @classmethod
    def contradictions(cls, document: Document) -> Iterator[Contradiction]:
        """See TicketBase."""
        numbers = document.get("numbers")
        if isinstance(numbers, list) and document.get("ticket") in numbers:
            yield Contradiction("numbers", "the ticket voids its own number", "leave it out")


class Reverse(TicketBase):
    purpose: ClassVar[str] = "The exact opposite of one earlier ticket, once; a reversal is never reversed."

    kind: Literal["reverse"]
    of: Number = Field(description="the number of the ticket reversed")
    reason: FreeText = Field(description="why")

    @classmethod
    def contradictions(cls, document: Document) -> Iterator[Contradiction]:
        """See TicketBase."""
        return differ(document, "ticket", "of", "give the number of the ticket to reverse")
