"""How far a period's own scatter says that stated repeatabilities and spreads are wrong.

A stated figure that is too small makes causes of noise, one too large hides them. From the components that one scale's
readings dominate (one operation's spread, one method's determinations) a robust factor of the variance is taken, drawn
towards 1 by how few there are, so that single faults, however large, do not move it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from statistics import median
from typing import Final

from ledger.causes.evidence import Evidence

#: Sorts of source whose size a period's scatter can tell.
_JUDGED: Final = frozenset(("reading", "spread", "measured", "settlement"))
#: A component speaks of a source's sort if that makes up this share of its variance.
_DOMINATES: Final = 0.6
#: Components that the stated figure counts for, the fewest that may correct it, and the farthest they may.
_STATED_COUNTS: Final = {"settlement": 1}  # that one is always assumed
_STATED_COUNTS_ELSE: Final = 12
_FEWEST: Final = 4
_LEAST, _MOST = 0.005, 16.0
#: The share of squares that speaks, and their mean for a standard normal: 1 − 2cφ(c)/0.8 with P(|z| < c) = 0.8.
_INNER: Final = 0.8
_OF_INNER: Final = 0.43772


def factors(
    evidence: Evidence,
    rows: Sequence[Mapping[int, float]],
    variances: Mapping[int, float],
    explained: Mapping[int, float],
) -> dict[tuple[str, str], float]:
    """Return, by sort and instrument, what to multiply the stated variance with."""
    scores: dict[tuple[str, str], list[float]] = {}
    for i, (component, row) in enumerate(zip(evidence.components, rows, strict=True)):
        if component.kind == "missed":
            continue
        parts: dict[tuple[str, str], float] = {}
        for reference, coefficient in row.items():
            source = evidence.tape.source(reference)
            key = (source.kind, source.of)
            parts[key] = parts.get(key, 0.0) + coefficient * coefficient * variances[reference]
        whole = sum(parts.values())
        for key, variance in parts.items():
            if key[0] in _JUDGED and whole and variance >= _DOMINATES * whole:
                scores.setdefault(key, []).append((component.value - explained.get(i, 0.0)) / whole**0.5)
    return {key: _factor(key[0], z) for key, z in scores.items() if len(z) >= _FEWEST}


def _factor(kind: str, z: Sequence[float]) -> float:
    """Return the robust variance of scores, as far as their number outweighs what is stated.

    The smaller four fifths of the squares speak: displays are coarse, so that a median would jump. What is stated is
    never taken for smaller, since a quiet month is no better scale.
    """
    middle = median(z)
    squares = sorted((x - middle) ** 2 for x in z)
    inner = squares[: max(1, round(_INNER * len(squares)))]
    robust = sum(inner) / len(inner) / _OF_INNER
    stated = _STATED_COUNTS.get(kind, _STATED_COUNTS_ELSE)
    drawn = (len(z) * robust + stated) / (len(z) + stated)
    return min(max(drawn, _LEAST if kind in _STATED_COUNTS else 1.0), _MOST)
