"""What scales and assays say of true metal: readings with their random part, and what all readings of a time share."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from year_maker.chance import Chance

GRAMS = {"g": 1.0, "dwt": 1.55517384}


def _number_and_unit(text: str) -> tuple[Decimal, str]:
    number, unit = text.split()
    return Decimal(number), unit


def share(text: str) -> float:
    """Return a share written with its sign: ``0.05%``, ``0.3‰``; a bare number is per mille, ``12K`` karat."""
    if text.endswith("K"):
        return int(text[:-1]) / 24
    scale = {"%": 100.0, "‰": 1000.0}.get(text[-1], 1000.0)
    return float(text.rstrip("%‰")) / scale


class Scale:
    """A scale: repeatability and division make the random part; its sensitivity error is shared until recalibrated."""

    def __init__(self, table: dict[str, Any], chance: Chance) -> None:
        self.code: str = table["code"]
        self.division, self.unit = _number_and_unit(table["division"])
        self.repeatability = float(_number_and_unit(table["repeatability"])[0])
        self.sensitivity = share(table["sensitivity"])
        self.calibrated: date | None = table.get("calibrated")
        self.out_by: Callable[[datetime], float] = lambda now: 0.0
        self._chance = chance

    def error(self, now: datetime) -> float:
        """Return the relative error that all readings of the day share."""
        return self.sensitivity * self._chance.fixed("scale", self.code, self.calibrated) + self.out_by(now)

    def read(self, grams: float, now: datetime) -> str:
        """Return what it shows for a load, in its own unit."""
        load = grams / GRAMS[self.unit] * (1 + self.error(now))
        shown = load + self.repeatability * self._chance.normal("scale", self.code)
        return f"{max(round(shown / float(self.division)), 1) * self.division} {self.unit}"

    def overdue(self, today: date) -> bool:
        """Return whether it is calibrated today, lest it be past its ninety-two days."""
        return self.calibrated is not None and today - self.calibrated >= timedelta(days=82)


class Method:
    """A method of assay: error of a determination, of a sample, and the laboratory's bias, all as fineness."""

    def __init__(self, table: dict[str, Any], chance: Chance) -> None:
        self.code: str = table["code"]
        self.repeatability = share(table["repeatability"])
        self.sampling = share(table["sampling"])
        self.bias = share(table["bias"])
        self._chance = chance

    def results(self, fineness: float, metal: str, samples: int = 2, replicates: int = 2) -> list[list[str]]:
        """Return determinations by sample and replicate, as the laboratory writes them."""
        return [self._sample(fineness, metal, replicates) for _ in range(samples)]

    def _sample(self, fineness: float, metal: str, replicates: int) -> list[str]:
        centre = fineness + self.bias * self._chance.fixed("bias", self.code, metal)
        centre += self.sampling * self._chance.normal("assay", self.code)
        each = [centre + self.repeatability * self._chance.normal("assay", self.code) for _ in range(replicates)]
        places = 3 if self.code == "BEAD" else 2
        return [f"{max(one, 0.0) * 1000:.{places}f}‰" for one in each]


def mean(results: list[list[str]]) -> float:
    """Return the fineness that results come to."""
    samples = [sum(map(share, replicates)) / len(replicates) for replicates in results]
    return sum(samples) / len(samples)
