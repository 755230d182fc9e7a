"""Parties outside the plant, and people in it. A name is a claim, not a signature."""

from __future__ import annotations

from fractions import Fraction
from typing import Annotated, Final, Literal

from pydantic import Field, PlainValidator

from ledger.plant.forms import Entry, Form, MassOrNone, Name, Share, Text, refused, shown

RIGHTS: Final = ("weigh", "witness", "count", "accept", "set", "close")


def _read_rights(value: object) -> frozenset[str]:
    known = "known are " + ", ".join(RIGHTS)
    if not isinstance(value, list):
        raise refused(f"{shown(value)} is not a list of rights", 'write may = ["weigh", "count"]; ' + known)
    for right in value:
        if right not in RIGHTS:
            raise refused(f"{shown(right)} is not a right", known)
    return frozenset(value)


class Party(Entry):
    """Somebody outside to whom metal goes, from whom it comes, or whose it is."""

    code: Name = Field(description="what tickets call it")
    name: Name | None = Field(None, description="what people call it")
    role: Literal["supplier", "customer", "lender", "refiner"] = Field(description="what it is to the plant")
    title: Text | None = Field(None, description="whose the metal is while it is here, in the words of the terms")
    owed: Literal["declared", "own"] = Field(
        "own", description="whether its metal is owed at the declared content or at the plant's own determination"
    )
    limit: MassOrNone | None = Field(
        None, description="most fine metal that may be owed or on loan", json_schema_extra={"default": "none"}
    )
    loss_allowance: Share = Field(
        Fraction(0), description="share of its metal that the terms let go", json_schema_extra={"default": "`0%`"}
    )


class Person(Entry):
    """Somebody in the plant, and what they are entitled to."""

    code: Name = Field(description="what tickets call them")
    name: Name | None = Field(None, description="their name, printed only by a separate, recorded command")
    may: Annotated[frozenset[str], PlainValidator(_read_rights), Form("list of " + ", ".join(RIGHTS))] = Field(
        frozenset(), description="what they may do", json_schema_extra={"default": "nothing"}
    )
