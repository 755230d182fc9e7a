"""The plant itself, its periods and its areas."""

from __future__ import annotations

import re
from datetime import date, time
from fractions import Fraction
from typing import Annotated, Final

from pydantic import Field, PlainValidator, model_validator

from ledger.plant.forms import (
    Clock,
    Day,
    Entry,
    Form,
    MassOrNone,
    Name,
    Number,
    ToleranceForm,
    refused,
    shown,
)
from ledger.quantities.mass import PRINT_UNITS

#: Metals that a plant may book. Base metal goes by mass only, under ``gross``.
METALS: Final = ("gold", "silver", "platinum", "palladium", "rhodium")

#: A name in the IANA time zone database; its parts have at most 14 characters (its own guidelines, from memory).
_ZONE = re.compile(r"[A-Za-z0-9_+-]{1,14}(?:/[A-Za-z0-9_+-]{1,14}){0,2}", re.ASCII)
_CURRENCY = re.compile(r"[A-Z]{3}", re.ASCII)


def _read_metals(value: object) -> tuple[str, ...]:
    mend = f'write the first metal first, each once: metals = ["gold", "silver"]; known are {", ".join(METALS)}'
    if not isinstance(value, list) or not value or not all(isinstance(metal, str) for metal in value):
        raise refused(f"{shown(value)} is not a list of metals", mend)
    for metal in value:
        if metal not in METALS:
            raise refused(f"{shown(metal)} is not a precious metal known here", mend)
    if len(set(value)) < len(value):
        raise refused("a metal is named twice", mend)
    return tuple(value)


def _read_unit(value: object) -> str:
    if not isinstance(value, str) or value not in PRINT_UNITS:
        raise refused(f"{shown(value)} is not a unit to print in", "one of " + ", ".join(PRINT_UNITS))
    return value


def _read_currency(value: object) -> str:
    if not isinstance(value, str) or _CURRENCY.fullmatch(value) is None:
        raise refused(f"{shown(value)} is not a currency", 'write the three letters of ISO 4217: "USD"')
    return value


def _read_timezone(value: object) -> str:
    from zoneinfo import ZoneInfo  # here, so that reading a set-up without it costs nothing

    not_one = refused(f"{shown(value)} is not a time zone", 'write its name: "America/New_York"')
    if not isinstance(value, str) or _ZONE.fullmatch(value) is None:
        raise not_one
    try:
        return ZoneInfo(value).key
    except (KeyError, ValueError, OSError):
        raise not_one from None


class Plant(Entry):
    """The plant: what it books, its clock, and the levels at which a difference speaks."""

    name: Name = Field(description="name of the plant, as printed on every statement")
    unit: Annotated[str, PlainValidator(_read_unit), Form("one of " + ", ".join(PRINT_UNITS))] = Field(
        "g", description="unit that people read masses in"
    )
    currency: Annotated[str, PlainValidator(_read_currency), Form("three letters of ISO 4217")] = Field(
        "USD", description="currency of the prices"
    )
    metals: Annotated[tuple[str, ...], PlainValidator(_read_metals), Form("list of " + ", ".join(METALS))] = Field(
        description="metals booked by fine content; the first is the one statements show unless told otherwise"
    )
    timezone: Annotated[str, PlainValidator(_read_timezone), Form("name in the IANA time zone database")] = Field(
        "UTC", description="the clock on the plant's wall"
    )
    cut_off: Clock = Field(time(0, 0), description="hour at which the plant's day begins")
    warn: Number = Field(Fraction(2), description="warning level: beyond it, look", json_schema_extra={"unit": "σ"})
    act: Number = Field(
        Fraction(3), description="action level: beyond it, short or over", json_schema_extra={"unit": "σ"}
    )
    false_alarm_years: Number = Field(
        Fraction(10),
        description="years between false alarms of the running tests, over all areas",
        json_schema_extra={"unit": "years"},
    )
    check_character: bool = Field(
        False,
        description="whether new lots end in a check character, `COIL-0123-W` (ISO 7064 MOD 37,36), and proposed "
        "ticket numbers too; a mis-keyed lot is then told as such",
    )

    @model_validator(mode="after")
    def _levels_in_order(self) -> Plant:
        if self.act <= self.warn:
            raise refused("act is not above warn", "set the action level above the warning level, as 3 above 2")
        return self


class Period(Entry):
    """A listed period. Days before the first one belong to calendar months; after the last one, to none."""

    code: Name = Field(description="what the period is called")
    ends: Day = Field(description="its last day, in the plant's days")
    starts: Day | None = Field(
        None,
        description="its first day",
        json_schema_extra={
            "default": "the day after the one before ends; for the first, the first of the month in which it ends"
        },
    )

    @property
    def opens(self) -> date:
        """The day on which the listed periods begin, where this is the first of them."""
        return self.starts or self.ends.replace(day=1)


class Area(Entry):
    """Where metal is, and who answers for it."""

    code: Name = Field(description="what tickets call it")
    name: Name | None = Field(None, description="what people call it")
    outside: bool = Field(False, description="outside the building (refiner, plater, vault): still ours to account for")
    keeper: Name | None = Field(None, description="person who keeps it, and therefore may not end its count")
    holder: Name | None = Field(None, description="party in whose hands an outside area is")
    tolerance: ToleranceForm | None = Field(
        None, description="largest unexplained difference the plant accepts", json_schema_extra={"default": "none"}
    )
    trivial: MassOrNone = Field(
        0, description="mass below which no difference is acted upon", json_schema_extra={"default": "`0 g`"}
    )
    gross: bool = Field(True, description="whether its gross balance is judged")

    @property
    def title(self) -> str:
        """The name, or the code where there is none."""
        return self.name or self.code
