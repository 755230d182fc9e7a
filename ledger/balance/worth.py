"""First form of σ: readings and the spread of normal loss, taken as independent of one another.

What scales share, what determinations are worth, and what closing counts mean for the next month are not yet in it;
every statement says so.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import sqrt

from ledger.balance.evidence import Weighing
from ledger.balance.normal_loss import Allowance
from ledger.book.setups import Setups

ASSUMPTION = (
    "σ: readings and the spread of normal loss, taken as independent; "
    "scales' shared errors and determinations are not yet in it"
)


@dataclass(frozen=True, slots=True)
class Sigma:
    """Standard deviations in nanograms: of the weighings alone, and with the spread of normal loss."""

    measurement: float
    total: float


def reading_variance(setups: Setups, line: Weighing, metal: int) -> float:
    """Return the variance, in ng², that a line's reading gives to its content in one metal (GUM 5.1.2: f²·u²)."""
    if not line.weighed or line.scale is None:
        return 0.0
    scale = setups.at(line.instant).scales.get(line.scale)
    if scale is None:
        return 0.0
    return (line.fineness(metal) * scale.weighing_sd_ng) ** 2


def area_sigma(
    setups: Setups, lines: Iterable[Weighing], opening_count: Iterable[Weighing], allowances: Sequence[Allowance],
    metal: int,
) -> Sigma:  # fmt: skip
    """Return an area's σ from its lines of the period, the readings of its opening count, and its work's spread."""
    measurement = sum(reading_variance(setups, line, metal) for line in (*lines, *opening_count))
    spread = sum(a.spread**2 for a in allowances)
    return Sigma(sqrt(measurement), sqrt(measurement + spread))


def z_score(value: int, sigma: float) -> float | None:
    """Return value/σ; None where σ is 0."""
    return value / sigma if sigma > 0 else None
