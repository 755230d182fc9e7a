"""What was planted, and how large it is: the truth of a simulated month."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, NamedTuple


class Band(NamedTuple):
    """Between how many σ of the difference that shows it a fault is to be."""

    low: float
    high: float

    def holds(self, multiple: float) -> bool:
        """Return whether a size lies within, with a hundredth to spare for rounding."""
        return self.low * 0.99 <= multiple <= self.high * 1.01


#: Five σ and more; and what is on the edge of being seen.
LARGE, SMALL = Band(5.0, 500.0), Band(3.0, 5.0)


@dataclass(frozen=True)
class Fault:
    """One planted fault.

    ``mode``: which way of its family. ``tickets``, ``lots``, ``what`` (scale, operation, method or party): what it is
    about. ``size``: grams, of ``metal``; a scale's, rate's, assay's or refiner's error is a pure number. ``multiple``:
    |Δ|/σ of the difference that shows it best, by the σ of the same month without it; of what many differences show
    together, √(ΔᵀΣ⁻¹Δ) with Δ found by entering the month with the fault and without; None of a whole lot.
    ``shown_in``: the area whose balance shows it. ``together``: of a small one, √(ΔᵀΣ⁻¹Δ): all
    that the month's differences say of it.
    """

    family: str
    mode: str
    area: str
    tickets: tuple[str, ...]
    lots: tuple[str, ...]
    what: dict[str, str] = field(default_factory=dict)
    size: float = 0.0
    metal: str = "gross"
    multiple: float | None = None
    says: str = ""
    shown_in: str = ""
    together: float | None = None

    def told(self) -> dict[str, Any]:
        """Return it as a document."""
        return dict(vars(self))

    @staticmethod
    def of(told: dict[str, Any]) -> Fault:
        """Return it from a document."""
        return Fault(**(told | {name: tuple(told[name]) for name in ("tickets", "lots")}))
