"""Tickets of what is done to metal in an area: work, assay, sweep, count."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar, Literal

from pydantic import Field

from ledger.book.tickets.common import Content, Contradiction, Document, Name, Results, TicketBase
from ledger.book.tickets.lines import COUNTED, INPUT, OUTPUT, SWEPT, Line, Role


class Work(TicketBase):
    roles: ClassVar[dict[str, Role]] = {"in": INPUT, "out": OUTPUT}
    purpose: ClassVar[str] = "One operation within one area: what goes in, what comes out; of a job, a part of it."

    kind: Literal["work"]
    operation: Name = Field(description="the operation")
    area: Name = Field(description="the area")
    in_: list[Line] = Field([], alias="in", description="what goes in, a line each")
    out: list[Line] = Field([], description="what comes out, a line each")
    job: Name | None = Field(None, description="the job, where its work runs over several tickets")
    done: bool = Field(False, description="the job's last ticket")

    @classmethod
    def contradictions(cls, document: Document) -> Iterator[Contradiction]:
        """See TicketBase."""
        if "job" in document:
            if not (document.get("in") or document.get("out") or document.get("done") is True):
                yield Contradiction("in", "nothing goes in, nothing comes out", "give in, out, or done: true")
            return
        if document.get("done") is True:
            yield Contradiction("job", "is missing: only a job is done", "give the job, or leave done out")
        for side in ("in", "out"):
            if not document.get(side):
                yield Contradiction(side, "has no lines", "give them; or the job, if they stand on other tickets")


class Assay(TicketBase):
    purpose: ClassVar[str] = "A new determination of a lot; on request of all lots on hand of the same melt."

    kind: Literal["assay"]
    lot: Name = Field(description="the lot (or bin) determined")
    method: Name = Field(description="the method")
    results: Results | None = Field(
        None, description='determinations by sample: `{"gold": [["499.8", "500.1"], ["499.6"]]}`; or `content`'
    )
    content: Content | None = Field(None, description='the lot\'s fine content: `{"gold": "12.3 g"}`; or `results`')
    apply: Literal["lot", "melt"] = Field("lot", description="to this lot, or to all on hand of its melt")

    @classmethod
    def contradictions(cls, document: Document) -> Iterator[Contradiction]:
        """See TicketBase."""
        if ("results" in document) == ("content" in document):
            yield Contradiction("results", "an assay has either results or content", "give one of them")


class Sweep(TicketBase):
    roles: ClassVar[dict[str, Role]] = {"lots": SWEPT}
    purpose: ClassVar[str] = "Dust taken up as a lot; may say that the area is cleaned out."

    kind: Literal["sweep"]
    area: Name = Field(description="the area swept")
    lots: list[Line] = Field([], description="what was taken up, a line each")
    cleaned_out: bool = Field(False, description="nothing recoverable is left in the area")

    @classmethod
    def contradictions(cls, document: Document) -> Iterator[Contradiction]:
        """See TicketBase."""
        if not document.get("lots") and document.get("cleaned_out") is not True:
            yield Contradiction("lots", "has no lines", "give what was taken up, or cleaned_out: true")


class Count(TicketBase):
    roles: ClassVar[dict[str, Role]] = {"lots": COUNTED}
    purpose: ClassVar[str] = "A sheet of a count: what is in an area, weighed without the book's figures in sight."

    kind: Literal["count"]
    area: Name = Field(description="the area counted")
    lots: list[Line] = Field([], description="what was found, a line each; a job's trays are one line under its number")
    nil: bool = Field(False, description="nothing is there")
    count: Name | None = Field(None, description="which count this sheet belongs to; else the ticket's own number")
    sheet: Name | None = Field(None, description="the sheet's number")
    team: Name | None = Field(None, description="the team")
    ended: bool = Field(True, description="the count is ended: what no sheet lists is not found")
    spot: bool = Field(False, description="a spot count: makes nothing not found")

    @property
    def count_id(self) -> str:
        """The count this sheet belongs to."""
        return self.count if self.count is not None else self.number

    @classmethod
    def contradictions(cls, document: Document) -> Iterator[Contradiction]:
        """See TicketBase."""
        lots, nil = bool(document.get("lots")), document.get("nil") is True
        if lots and nil:
            yield Contradiction("nil", "nil says that nothing is there, and lots are listed", "leave one of them out")
        if not lots and not nil and not ("count" in document and document.get("ended", True) is True):
            yield Contradiction("lots", "has no lines", "give what was found, or nil: true if nothing is there")

