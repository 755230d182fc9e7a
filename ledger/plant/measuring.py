"""What weighs and what assays: scales, methods, and containers with a registered tare."""

from __future__ import annotations

from fractions import Fraction
from functools import cached_property
from math import sqrt
from typing import Final, Literal, NamedTuple

from pydantic import Field

from ledger.plant.forms import Day, Days, Entry, Mass, MassOrNone, Name, Share

#: Relative sensitivity error of a scale, where none is stated: 0.005 %. Common practice, no source.
SENSITIVITY: Final = Fraction(5, 100_000)
REPEATABILITY_OF_DIVISION: Final = Fraction(1, 2)

Kind = Literal["fire", "icp", "xrf", "touch", "density", "strip"]


class MethodWorth(NamedTuple):
    """Standard deviations of a determination, as absolute fineness: of a repeat, of a sample, of the laboratory."""

    repeatability: Fraction
    sampling: Fraction
    bias: Fraction


def _worth(repeatability: str, sampling: str, bias: str) -> MethodWorth:
    return MethodWorth(*(Fraction(per_mille) / 1000 for per_mille in (repeatability, sampling, bias)))


#: What a method is taken to be worth where it does not say, in per mille of fineness. Common practice, no source.
WORTH_BY_KIND: Final[dict[str, MethodWorth]] = {
    "fire": _worth("0.3", "0.2", "0.1"),
    "icp": _worth("0.5", "0.2", "0.3"),
    "strip": _worth("1", "0.5", "0.5"),
    "xrf": _worth("2", "1", "2"),
    "density": _worth("5", "1", "5"),
    "touch": _worth("8", "2", "8"),
}
#: A method that does not even say its kind is taken to be worth no more than the poorest.
WORTH_OF_UNKNOWN_KIND: Final = WORTH_BY_KIND["touch"]


class Scale(Entry):
    """A scale."""

    code: Name = Field(description="what tickets call it")
    name: Name | None = Field(None, description="what people call it")
    division: Mass = Field(description="the step of its display, d")
    repeatability: MassOrNone | None = Field(
        None,
        description="standard deviation of repeated readings of one load",
        json_schema_extra={"default": "division/2"},
    )
    sensitivity: Share = Field(
        SENSITIVITY,
        description="standard deviation of its relative error, shared by all weighings until it is calibrated again",
        json_schema_extra={"default": "`0.005%`"},
    )
    calibrated: Day | None = Field(None, description="day of its last calibration")
    calibrate_every: Days | None = Field(None, description="days for which a calibration holds")

    @property
    def division_ng(self) -> int:
        """The step of the display, in nanograms."""
        return self.division

    @property
    def repeatability_ng(self) -> Fraction:
        """Standard deviation of repeated readings, in nanograms; half the division where it is not stated."""
        if self.repeatability is None:
            return self.division * REPEATABILITY_OF_DIVISION
        return Fraction(self.repeatability)

    @cached_property
    def weighing_sd_ng(self) -> float:
        """Standard deviation, in nanograms, of the random part of one reading: repeatability and rounding d/√12.

        Rounding is taken as uniform over one division (JCGM 100:2008, F.2.2.1, from memory).
        """
        return sqrt(self.repeatability_ng**2 + Fraction(self.division**2, 12))


class Method(Entry):
    """A method of assay, and the laboratory that carries it out.

    ``repeatability``, ``sampling`` and ``bias`` are standard deviations of absolute fineness, by kind where not stated.
    """

    code: Name = Field(description="what tickets call it")
    kind: Kind | None = Field(None, description="what is done", json_schema_extra={"default": "taken as `touch`"})
    laboratory: Name | None = Field(None, description="who does it")
    stated_repeatability: Share | None = Field(
        None,
        alias="repeatability",
        description="standard deviation of one determination, of fineness",
        json_schema_extra={"default": "by kind"},
    )
    stated_sampling: Share | None = Field(
        None,
        alias="sampling",
        description="standard deviation from sample to sample, of fineness",
        json_schema_extra={"default": "by kind"},
    )
    stated_bias: Share | None = Field(
        None,
        alias="bias",
        description="standard deviation of the laboratory's bias, of fineness, shared by all its determinations",
        json_schema_extra={"default": "by kind"},
    )

    @property
    def usual(self) -> MethodWorth:
        """What a method of this kind is taken to be worth."""
        return WORTH_BY_KIND[self.kind] if self.kind else WORTH_OF_UNKNOWN_KIND

    @property
    def repeatability(self) -> Fraction:
        """Standard deviation of one determination."""
        return self.usual.repeatability if self.stated_repeatability is None else self.stated_repeatability

    @property
    def sampling(self) -> Fraction:
        """Standard deviation from sample to sample."""
        return self.usual.sampling if self.stated_sampling is None else self.stated_sampling

    @property
    def bias(self) -> Fraction:
        """Standard deviation of what all determinations by this method share."""
        return self.usual.bias if self.stated_bias is None else self.stated_bias


class Container(Entry):
    """A pan, tray or bottle whose tare is registered, so that its error is shared by all who use it."""

    code: Name = Field(description="what tickets call it")
    tare: Mass | None = Field(None, description="its mass, empty")
    tared: Day | None = Field(None, description="day on which it was weighed")
