"""The fields every ticket shares, and the types of a field.

All models are strict (nothing is coerced), frozen, and refuse unknown fields. They are built through
``ledger.book.tickets.parse_ticket`` only, which adds the checks that need more than one field.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction
from functools import cached_property
from typing import Annotated, Any, ClassVar, Final, NamedTuple

from pydantic import BaseModel, ConfigDict, Field, PlainValidator, StringConstraints

from ledger.book.tickets import readings
from ledger.book.tickets.readings import Reading
from ledger.plant.numbering import body_of

_SIGN: Final = r"[^\p{C}\p{Z}]"
_SIGN_NOT_DIGIT: Final = r"[^\p{C}\p{Z}0-9]"

#: A code of the set-up, a lot, a person, a metal: 1–64 printable characters, no blank at either end.
Name = Annotated[str, StringConstraints(max_length=64, pattern=rf"^{_SIGN}(?:(?:{_SIGN}| )*{_SIGN})?$")]
#: A ticket's number: a prefix that ends in no digit, and a counter of digits, "M-000123"; where the plant prints check
#: characters, a hyphen and that character after it, "M-000123-K".
Number = Annotated[
    str,
    StringConstraints(
        max_length=64,
        pattern=rf"^(?:{_SIGN_NOT_DIGIT}|{_SIGN}(?:{_SIGN}| )*(?:{_SIGN_NOT_DIGIT}| ))[0-9]{{1,18}}(?:-[A-Z])?$",
    ),
]
Mass = Annotated[Reading, PlainValidator(readings.read_mass)]
MassOrNothing = Annotated[Reading, PlainValidator(readings.read_mass_or_nothing)]
SignedMass = Annotated[Reading, PlainValidator(readings.read_signed_mass)]
Share = Annotated[Fraction, PlainValidator(readings.read_share)]
Fineness = Annotated[str | dict[str, Fraction], PlainValidator(readings.read_fineness)]
Content = Annotated[dict[str, int], PlainValidator(readings.read_content)]
Dust = Annotated[dict[str, int], PlainValidator(readings.read_dust)]
Results = Annotated[dict[str, list[list[str]]], PlainValidator(readings.read_results)]
Assays = Annotated[dict[str, dict[str, Fraction]], PlainValidator(readings.read_assays)]
Standard = Annotated[Reading | str | dict[str, Fraction], PlainValidator(readings.read_standard)]
Instant = Annotated[str, PlainValidator(readings.read_at)]
FreeText = Annotated[str, PlainValidator(readings.read_free_text)]
Pieces = Annotated[int, Field(ge=1, le=1_000_000_000)]

#: What a document says of itself, before anything is known of its types.
Document = dict[str, Any]


class Contradiction(NamedTuple):
    """A fault between fields: where, what, mend."""

    field: str
    what: str
    mend: str


class Record(BaseModel):
    """A part of a ticket: strict, frozen, without unknown fields."""

    # Built when a ticket of the kind is first read: a command that reads none does not wait for sixteen models.
    model_config = ConfigDict(strict=True, extra="forbid", frozen=True, defer_build=True)


class TicketBase(Record):
    """What every ticket says: its number, when, by whom."""

    #: Lists of lines and the role each line plays: filled in by the kinds that have lines.
    roles: ClassVar[dict[str, Any]] = {}
    #: One sentence on what the ticket is for.
    purpose: ClassVar[str] = ""

    number: Number = Field(alias="ticket", description="prefix and counter, pre-numbered: `M-000123`")
    at: Instant = Field(description="when, in plant time: `2026-10-05T14:30`; an offset only where the clock repeats")
    by: Name = Field(description="who weighed (a person's code)")
    witness: Name | None = Field(None, description="who saw it: somebody else than `by`")
    workers: list[Name] = Field([], description="who did the work")
    shift: Name | None = Field(None, description="the shift")
    machine: Name | None = Field(None, description="the machine, furnace or bench")
    conditions: dict[Name, Name] | None = Field(None, description='conditions by name: `{"temperature": "1040 °C"}`')
    corrects: Number | None = Field(None, description="the reversed ticket this one corrects")
    note: FreeText | None = Field(None, description="a remark")

    @cached_property
    def document(self) -> Document:
        """The ticket as it was read: what its hash covers. Set by parse_ticket, never computed."""
        raise AttributeError("a ticket is built by parse_ticket")

    @classmethod
    def contradictions(cls, document: Document) -> Iterator[Contradiction]:
        """Yield the faults between the ticket's own fields; values may still be of any type."""
        return iter(())


_NUMBER = re.compile(r"(.*[^0-9])([0-9]+)(?:-[A-Z])?", re.DOTALL)


def split_number(number: str, *, checked: bool = False) -> tuple[str, int]:
    """Return a ticket number's prefix and counter: ``("M-", 123)`` of ``"M-000123"``.

    ``checked``: the plant prints check characters, so that a right one, letter or digit, is no part of the counter.
    """
    match = _NUMBER.fullmatch(body_of(number) if checked else number)
    if match is None:
        raise ValueError(f"not a ticket number: {number!r}")
    return match[1], int(match[2])
