"""The variance budget of a balance: which sources make its σ, largest first, in words, and what would mend them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from ledger.balance.measurement.forms import Tape

#: What a sort of source is called, and what would make it smaller; {} is the scale, method, party or operation.
_WORDS: Final[dict[str, tuple[str, str]]] = {
    "reading": ("readings on {}", "weigh on a finer scale, or twice"),
    "sensitivity": ("the error that all weighings on {} share", "calibrate {} more closely, or check it more often"),
    "tare": ("the registered tare of {}", "tare {} anew, on a finer scale"),
    "moisture": ("moistures", "dry the samples, or weigh dry"),
    "measured": ("determinations by {}", "take more samples, or assay the largest lots again"),
    "nominal": ("nominal finenesses", "assay the lots that stand at a mark or alloy"),
    "estimated": ("estimates", "assay what stands on an estimate, or settle it"),
    "bias": ("the bias of {}", "check {} against a standard, or have a second laboratory assay"),
    "settlement": ("contents agreed with {}", "take part in the sampling, or have an umpire assay"),
    "recoverable": ("the recoverable share of {}", "learn the share of {} from what clean-outs bring"),
    "spread": ("the spread of loss from ticket to ticket in {}", "smaller lots, or a steadier operation"),
    "drift": ("the drift of loss from month to month in {}", "learn the rate of {} from its months"),
}


@dataclass(frozen=True, slots=True)
class Item:
    """One line of a budget: sources of one sort and one instrument, the standard deviation they make, their share.

    ``share``: of the whole variance, 0 … 1; sources are independent, so that shares add up to 1. ``sigma`` in ng.
    """

    kind: str
    of: str
    sources: int
    sigma: float
    share: float

    @property
    def words(self) -> str:
        """What it is."""
        return _WORDS[self.kind][0].format(self.of or "an unnamed method")

    @property
    def mend(self) -> str:
        """What would make it smaller."""
        return _WORDS[self.kind][1].format(self.of or "the method")


def budget(tape: Tape, row: Mapping[int, float]) -> list[Item]:
    """Return the budget of a row in sources, largest first; empty where there is no error at all."""
    sums: dict[tuple[str, str], list[float]] = {}
    for reference, coefficient in row.items():
        source = tape.source(reference)
        both = sums.setdefault((source.kind, source.of), [0, 0.0])
        both[0] += 1
        both[1] += coefficient * coefficient * source.variance
    whole = sum(variance for _, variance in sums.values())
    items = [
        Item(kind, of, int(n), variance**0.5, variance / whole)
        for (kind, of), (n, variance) in sums.items()
        if variance
    ]
    return sorted(items, key=lambda item: (-item.share, item.kind, item.of))
