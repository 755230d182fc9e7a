"""What would make the smallest loss found smaller: each scale, assay method and tare better by half, or counts twice.

A measure changes the covariance of the balances. What is taken at once is found by a balance's own σ, and in
proportion to it; for a trickle the optimum before and after is compared, at the same probability of a false alarm.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ledger.balance.measurement.forms import Form, Tape
from ledger.causes.unseen_running import Floats
from ledger.causes.unseen_sizes import Balances, optimum_size

#: Sorts of sources that a measure halves the standard deviation of, and how it is said; {} is the scale or method.
HALVED: Final[Mapping[str, str]] = {
    "reading": "repeatability of {} halved (a finer scale, or four weighings for one)",
    "sensitivity": "sensitivity error of {} halved (calibrated more closely, or checked more often)",
    "tare": "tare of {} weighed anew, twice as well",
    "measured": "repeatability of assays by {} halved (four times the samples and determinations)",
    "bias": "bias of {} halved (standards, or a second laboratory)",
}
TWICE: Final = "counted twice as often"

#: Sorts of sources that all weighings, assays or losses of a period share evenly.
_EVEN: Final = frozenset(("sensitivity", "bias", "drift", "recoverable", "tare"))

#: A measure that lowers what is found by less than this is none.
_WORTH: Final = 0.005


@dataclass(frozen=True, slots=True)
class Measure:
    """One measure: the sort of source it is about, and of which instrument; by which factor each size is then lower."""

    kind: str
    of: str
    single: float
    trickle: float

    @property
    def words(self) -> str:
        """What is to be done."""
        return TWICE if self.kind == "count" else HALVED[self.kind].format(self.of or "an unnamed method")


Sort = tuple[str, str]


def by_sort(tape: Tape, rows: Sequence[Form]) -> dict[Sort, Floats]:
    """Return what each sort of source (its kind, and of what) adds to the covariance of rows, ng²."""
    found: dict[Sort, Floats] = {}
    for reference, column in _columns(rows).items():
        source = tape.source(reference)
        into = found.setdefault((source.kind, source.of), np.zeros((len(rows), len(rows))))
        for i, a in column.items():
            for j, b in column.items():
                into[i, j] += a * b * source.variance
    return found


def _columns(rows: Sequence[Form]) -> dict[int, dict[int, float]]:
    columns: dict[int, dict[int, float]] = {}
    for i, row in enumerate(rows):
        for reference, coefficient in row.items():
            columns.setdefault(reference, {})[i] = coefficient
    return columns


def measures(balances: Balances, tape: Tape, rows: Sequence[Form]) -> list[Measure]:
    """Return the measures that lower what is found of a removal at once, or of a trickle over the longest horizon.

    The best first.
    """
    after = {
        (kind, of): replace(balances, covariance=balances.covariance - 0.75 * part)
        for (kind, of), part in by_sort(tape, rows).items()
        if kind in HALVED
    }
    after["count", ""] = counted_twice(balances, tape, rows)
    before = _trickle(balances, balances)
    found = [
        Measure(*sort, better.sigma / balances.sigma, _trickle(better, balances) / before if before else 1.0)
        for sort, better in after.items()
    ]
    worth = [m for m in found if min(m.single, m.trickle) < 1 - _WORTH]
    return sorted(worth, key=lambda m: (min(m.single, m.trickle), m.kind, m.of))


def _trickle(after: Balances, before: Balances) -> float:
    """Return the optimum's size of a trickle over the longest horizon, at the false alarms of the balances before."""
    horizon = before.horizons[-1]
    balances_in_one = len(after.months) // len(before.months)
    return optimum_size(after, "trickle", balances_in_one * horizon, before.false_alarms[horizon])


def counted_twice(balances: Balances, tape: Tape, rows: Sequence[Form]) -> Balances:
    """Return the balances were each period counted in its middle, too, its tickets falling half before and half after.

    A source that two successive balances have with opposite signs is the count between them, and one as good stands in
    the middle of each; what all of a period's weighings share (`_EVEN`) is in both halves; any other came in with one
    ticket, before or after with equal chance.
    """
    n = len(rows)
    halves, counted = np.zeros((2 * n, 2 * n)), np.zeros(n + 1)
    for reference, column in _columns(rows).items():
        source, places = tape.source(reference), sorted(column)
        first = places[0]
        if len(places) == 2 and places[1] == first + 1 and column[first] * column[first + 1] < 0:
            _outer(halves, {2 * first + 1: column[first], 2 * first + 2: column[first + 1]}, source.variance)
            counted[first + 1] -= column[first] * column[first + 1] * source.variance
            continue
        _outer(halves, {2 * i + half: c / 2 for i, c in column.items() for half in (0, 1)}, source.variance)
        for i, c in column.items() if source.kind not in _EVEN else ():
            _outer(halves, {2 * i: c / 2, 2 * i + 1: -c / 2}, source.variance)
    usual = float(counted[1:-1].mean()) if n > 1 else 0.0
    for i in range(n):
        _outer(halves, {2 * i: 1.0, 2 * i + 1: -1.0}, usual)
    months = tuple(m / 2 for m in balances.months for _ in (0, 1))
    tolerance = tuple(t for t in balances.tolerance for _ in (0, 1))
    return replace(balances, covariance=halves, months=months, tolerance=tolerance)


def _outer(into: Floats, column: Mapping[int, float], variance: float) -> None:
    for i, a in column.items():
        for j, b in column.items():
            into[i, j] += a * b * variance
