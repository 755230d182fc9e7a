"""Operations, and the normal loss stated for them: per operation, and where needed per alloy or class.

A loss rate is never assumed: there is no published norm. A metal without a stated loss is absent from ``loss``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Final, Literal

from pydantic import Field

from ledger.plant.forms import Entry, MassOrNone, Name, Share

#: Key, beside the metals, of a rate or balance of metallic mass.
GROSS: Final = "gross"

#: Common practice, no source; printed as assumed where it is used.
SPREAD_OF_LOSS: Final = Fraction(1, 2)
DRIFT_OF_SPREAD: Final = Fraction(1, 4)
RECOVERABLE_SPREAD_OF_RECOVERABLE: Final = Fraction(1, 10)

Composition = Literal["carries", "combines", "surface", "content"]


class StatedRates(Entry):
    """What an operation, or a rate of it, states; all of it may be left out."""

    loss: dict[str, Share] = Field(
        {}, description="normal loss, as a share of the input's content", json_schema_extra={"default": "never assumed"}
    )
    each: dict[str, MassOrNone] = Field(
        {}, description="fixed normal loss of each ticket or job", json_schema_extra={"default": "nothing"}
    )
    spread: dict[str, Share] = Field(
        {},
        description="standard deviation of the loss from ticket to ticket, as a share of the input's content",
        json_schema_extra={"default": "half the loss"},
    )
    drift: dict[str, Share] = Field(
        {},
        description="standard deviation of the loss from month to month, shared by the operation's tickets",
        json_schema_extra={"default": "a quarter of the spread"},
    )
    recoverable: Share = Field(
        Fraction(0), description="share of the normal loss that becomes dust", json_schema_extra={"default": "`0%`"}
    )
    recoverable_spread: Share | None = Field(
        None,
        description="standard deviation of the recoverable share",
        json_schema_extra={"default": "a tenth of recoverable"},
    )
    fume: Share = Field(
        Fraction(0),
        description="share of the input's mass that leaves as base metal, with nothing in it",
        json_schema_extra={"default": "`0%`"},
    )


class Operation(StatedRates):
    """A step of the work, and what becomes of composition in it. Its rates here are only those stated."""

    code: Name = Field(description="what tickets call it")
    name: Name | None = Field(None, description="what people call it")
    composition: Composition = Field(description="how the outputs' fineness follows from the inputs")

    @property
    def title(self) -> str:
        """The name, or the code where there is none."""
        return self.name or self.code


class Rate(StatedRates):
    """Rates of one operation for one alloy or one class, in place of the operation's own, key by key."""

    operation: Name = Field(description="the operation")
    alloy: Name | None = Field(None, description="the alloy; this or class, not both")
    class_: Name | None = Field(None, alias="class", description="the class; this or alloy, not both")


@dataclass(frozen=True, slots=True)
class Rates:
    """The rates in force for one operation and material, with the assumed parts filled in.

    Keyed by booked metal or ``gross``. ``loss``, ``spread``, ``drift``: shares of the input's content; ``each``: ng a
    ticket or job. ``loss`` lacks a metal for which none is stated; ``spread`` and ``drift`` cover at least ``loss``.
    """

    loss: Mapping[str, Fraction]
    each: Mapping[str, int]
    spread: Mapping[str, Fraction]
    drift: Mapping[str, Fraction]
    recoverable: Fraction
    recoverable_spread: Fraction
    fume: Fraction


def rates_in_force(*layers: StatedRates) -> Rates:
    """Return the rates of the operation and of its overriding rates, widest first: a later layer wins, key by key."""
    loss: dict[str, Fraction] = {}
    each: dict[str, int] = {}
    spread: dict[str, Fraction] = {}
    drift: dict[str, Fraction] = {}
    for layer in layers:
        loss |= layer.loss
        each |= layer.each
        spread |= layer.spread
        drift |= layer.drift
    recoverable = _last_stated(layers, "recoverable") or Fraction(0)
    spread_of_q = _last_stated(layers, "recoverable_spread")
    if spread_of_q is None:
        spread_of_q = recoverable * RECOVERABLE_SPREAD_OF_RECOVERABLE
    fume = _last_stated(layers, "fume") or Fraction(0)
    spread = _filled(spread, loss, SPREAD_OF_LOSS)
    drift = _filled(drift, spread, DRIFT_OF_SPREAD)
    return Rates(loss, each, spread, drift, recoverable, spread_of_q, fume)


def _last_stated(layers: tuple[StatedRates, ...], key: str) -> Fraction | None:
    stated: Fraction | None = None
    for layer in layers:
        if key in layer.model_fields_set:
            stated = getattr(layer, key)
    return stated


def _filled(stated: Mapping[str, Fraction], base: Mapping[str, Fraction], part: Fraction) -> dict[str, Fraction]:
    return {metal: value * part for metal, value in base.items() if metal not in stated} | dict(stated)
