"""The rounding a settlement is computed with: where it happens, and to which steps."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Annotated, Any, Final, Literal

from pydantic import Field, PlainValidator

from ledger.plant.forms import Entry, Form, Share, read_number, refused, shown
from ledger.quantities.mass import NG_PER_UNIT, decimal_text
from ledger.quantities.rounding import half_even

Policy = Literal["once", "each step", "truncate"]

_STEP = re.compile(r"(1|0\.0{0,8}[1-9]\d?) ?([a-zA-Z]{1,5})", re.ASCII)


class MassStep:
    """The step that masses are settled in: so much of a unit, exact, where the unit's step need not be a nanogram."""

    def __init__(self, text: str, unit: str) -> None:
        self.unit = unit
        self.places = len(text.partition(".")[2])
        self.ng = Fraction(text) * NG_PER_UNIT[unit]

    def text(self, mass: Fraction) -> str:
        """Return a mass that is a number of steps, ng, as a ticket has it: with a decimal point and the unit."""
        plain = decimal_text(mass / NG_PER_UNIT[self.unit], max(self.places, 1))
        return f"{plain} {self.unit}"


def _read_step(value: object) -> MassStep:
    match = _STEP.fullmatch(value) if isinstance(value, str) else None
    if match is None or match[2] not in NG_PER_UNIT:
        raise refused(f"{shown(value)} is not a step of mass", 'write "0.001 g" or "0.001 ozt"')
    return MassStep(match[1], match[2])


GRAM: Final = MassStep("0.001", "g")

#: Defaults as the reference shows them.
_SAID: Final[dict[str, dict[str, Any]]] = {
    "g": {"default": "`0.001 g`"}, "‰": {"default": "`0.01‰`"}, "money": {"default": "`0.01`", "unit": "money"}
}


class Rounding(Entry):
    """Where a settlement is rounded, and to what; to nearest, half to even, unless it is cut off.

    once: exact until the end, then each content, charge and payment once. each step: every figure on the way. truncate:
    every figure on the way, cut off downwards.
    """

    policy: Policy = Field("once", description="once, each step or truncate")
    mass: Annotated[MassStep, PlainValidator(_read_step), Form('step of mass, `"0.001 g"`')] = Field(
        GRAM, description="step of every mass and content", json_schema_extra=_SAID["g"]
    )
    fineness: Share = Field(Fraction(1, 100_000), description="step of every fineness", json_schema_extra=_SAID["‰"])
    money: Annotated[Fraction, PlainValidator(read_number), Form("step of money")] = Field(
        Fraction(1, 100), description="step of every amount of money", json_schema_extra=_SAID["money"]
    )
    weight: Literal["as read", "good delivery"] = Field(
        "as read", description="good delivery: bars step down by 0.025 ozt, and must turn the scale"
    )

    model_config = Entry.model_config | {"arbitrary_types_allowed": True}

    def on_the_way(self, value: Fraction, step: Fraction) -> Fraction:
        """Return a figure that others are computed from."""
        return value if self.policy == "once" else self.at_the_end(value, step)

    def at_the_end(self, value: Fraction, step: Fraction) -> Fraction:
        """Return a figure that stands in the out-turn."""
        steps = value / step
        if self.policy == "truncate":
            whole = abs(steps) // 1
            return step * (whole if steps >= 0 else -whole)
        return step * half_even(steps.numerator, steps.denominator)
