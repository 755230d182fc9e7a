"""σ of a balance, and what it is made of in a word: the figures that verdicts are taken by."""

from __future__ import annotations

from dataclasses import dataclass

ASSUMPTION = (
    "σ: readings, scales' shared errors, determinations, laboratories, tares, moisture, and the spread and drift of "
    "normal loss, to first order; what the set-up does not state is assumed as listed there"
)


@dataclass(frozen=True, slots=True)
class Sigma:
    """Standard deviations in nanograms: of the measurement alone, and with the spread and drift of normal loss."""

    measurement: float
    total: float


def z_score(value: int, sigma: float) -> float | None:
    """Return value/σ; None where σ is 0."""
    return value / sigma if sigma > 0 else None
