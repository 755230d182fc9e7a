"""What a refiner's out-turn says: terms, assays, charges and advances.

Everything exact is written as text and kept as an integer number of nanograms or a fraction; a key that nobody knows is
refused. No term here is a norm: each is the contract's.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Final, Literal

from pydantic import Field

from ledger.bench.settle_exchange import Rule
from ledger.bench.settle_forms import ByMetal, ChargedBy, ContentByMetal, DayCount, Masses, MassUnit, Splitting
from ledger.bench.settle_rounding import Rounding
from ledger.plant.forms import Day, Entry, Mass, MassOrNone, Name, Number, Share, Text

_MONEY: Final[dict[str, Any]] = {"unit": "money"}
_NONE: Final[dict[str, Any]] = {"default": "none"}
_ALL: Final[dict[str, Any]] = {"default": "`100%`"}


class Terms(Entry):
    """What the contract says of one metal."""

    metal: Name = Field(description="the metal")
    splitting: Splitting | None = Field(None, description="splitting limit: as far as it the mean is taken")
    accountability: Share = Field(
        Fraction(1), description="share of the agreed content that is accounted for", json_schema_extra=_ALL
    )
    deduct: Share = Field(Fraction(0), description="or: the agreed fineness less so much, fixed")
    minimum_deduction: MassOrNone = Field(0, description="and at least so much content is kept of each lot")
    nothing_below: Share = Field(Fraction(0), description="of a lot below this fineness nothing is paid")
    replicates_within: Share | None = Field(None, description="what replicates of one sample may differ by")
    umpire_fee: Number | None = Field(None, description="the umpire's fee for a lot", json_schema_extra=_MONEY)
    price: Number | None = Field(None, description="price", json_schema_extra=_MONEY)
    price_per: MassUnit = Field("ozt", description="mass that the price buys")

    def limit(self, grade: Fraction) -> Fraction | None:
        """Return the splitting limit at a grade: of the limits that start at or below it the last."""
        reached = [limit for start, limit in self.splitting or () if start <= grade]
        return reached[-1] if reached else None


class Charge(Entry):
    """One charge: money for a mass, a lot or the settlement; or a part of a metal, kept."""

    what: Text = Field(description="what it is for: treatment, refining …")
    amount: Number | None = Field(None, description="money", json_schema_extra=_MONEY)
    per: ChargedBy = Field("settlement", description="what the amount is for")
    minimum: Number | None = Field(None, description="at least so much money, over the settlement")
    metal: Name | None = Field(None, description="with amount: by what is payable of this metal; else: the metal kept")
    share: Share | None = Field(None, description="the share of what is payable that is kept, in place of an amount")
    mass: Mass | None = Field(None, description="the mass kept of each lot, in place of an amount")


class Advance(Entry):
    """Money or metal paid before the settlement, at simple interest."""

    amount: Number | None = Field(None, description="money advanced")
    metal: Name | None = Field(None, description="or the metal advanced")
    mass: Mass | None = Field(None, description="and how much of it")
    rate: Share = Field(Fraction(0), description="interest a year")
    days: DayCount | None = Field(None, description="days of interest; or since and until")
    since: Day | None = Field(None, description="day it was paid")
    until: Day | None = Field(None, description="day to which interest runs, itself not counted")
    year: Literal[360, 365] = Field(360, description="days that the terms count a year at")

    def interest_days(self) -> int:
        """Return the days that bear interest."""
        if self.days is not None:
            return self.days
        return (self.until - self.since).days if self.since and self.until else 0


class Lot(Entry):
    """One lot as the refiner received, melted and assayed it."""

    lot: Name = Field(description="the lot, as the book calls it")
    received: Mass = Field(description="what the refiner weighed in, wet, before the melt")
    moisture: Share | None = Field(None, description="water, as a share of the wet mass")
    melted: Masses | None = Field(None, description="weighed after the melt, bar and samples; assays are of this")
    metallic: Mass | None = Field(None, description="the metal in a dirty lot, as the book keeps it; not in the sum")
    apart: ContentByMetal = Field(
        {}, description="content found apart from the assayed mass: slag, metallics", json_schema_extra=_NONE
    )
    ours: ByMetal = Field({}, json_schema_extra=_NONE, description="our determinations, by sample")
    theirs: ByMetal = Field(description="the refiner's")
    umpire: ByMetal = Field({}, json_schema_extra=_NONE, description="the umpire's")


class Heading(Entry):
    """Whose out-turn it is, and the terms that hold for all metals."""

    party: Name = Field(description="the refiner")
    area: Name | None = Field(None, description="the outside area where the lots stand")
    ticket: Name | None = Field(None, description="number of the settle ticket")
    at: Name | None = Field(None, description="when, in plant time")
    by: Name | None = Field(None, description="who recomputed it")
    witness: Name | None = Field(None, description="who saw it")
    note: Text | None = Field(None, description="a remark")
    exchange: Rule = Field(description="the terms' exchange rule")
    pay: Literal["kind", "pool", "money"] = Field("kind", description="metal back, to our pool account, or sold")
    currency: Name = Field("", description="what money is in", json_schema_extra=_NONE)


@dataclass(frozen=True, slots=True)
class OutTurn:
    """One out-turn, read."""

    heading: Heading
    rounding: Rounding
    metals: tuple[Terms, ...]
    charges: tuple[Charge, ...]
    advances: tuple[Advance, ...]
    lots: tuple[Lot, ...]
