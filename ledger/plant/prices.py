"""Prices of fine metal, as fixed on a day."""

from __future__ import annotations

from fractions import Fraction
from typing import Annotated

from pydantic import Field, PlainValidator

from ledger.plant.forms import Day, Entry, Form, Name, Number, Text, refused, shown
from ledger.quantities.mass import NG_PER_UNIT


def _read_unit(value: object) -> str:
    if not isinstance(value, str) or value not in NG_PER_UNIT:
        raise refused(f"{shown(value)} is not a unit of mass", 'write per = "ozt"; known are ' + ", ".join(NG_PER_UNIT))
    return value


class Fixing(Entry):
    """The price of one metal on one day, in the plant's currency."""

    metal: Name = Field(description="the metal")
    date: Day = Field(description="the day from which it holds, until the next")
    per: Annotated[str, PlainValidator(_read_unit), Form("unit of mass, " + ", ".join(NG_PER_UNIT))] = Field(
        description="mass that the amount buys"
    )
    amount: Number = Field(description="the price", json_schema_extra={"unit": "currency"})
    source: Text | None = Field(None, description="where it was read")

    @property
    def per_ng(self) -> Fraction:
        """The price of one nanogram of fine metal, exact, in the plant's currency."""
        return self.amount / NG_PER_UNIT[self.per]
