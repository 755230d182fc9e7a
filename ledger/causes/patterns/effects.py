"""How large the levels named are, together: Huber's regression, and the sandwich for its variance."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

import numpy as np

from ledger.balance.rates.robust import BOUND
from ledger.causes.patterns.mantel_haenszel import OddsRatio, Table, odds_ratio
from ledger.causes.patterns.scores import Floats, Sheet, bounded, regression

_REACH: Final = NormalDist().inv_cdf(0.975)


@dataclass(frozen=True, slots=True)
class Effect:
    """What a comparison's tickets lose more than the others, as a share of their input, with its 95 % interval."""

    share: float
    low: float
    high: float

    def turned(self) -> Effect:
        """Return it the other way about."""
        return Effect(-self.share, -self.high, -self.low)


def residuals(sheet: Sheet, columns: Floats) -> Floats:
    """Return what is left of the tickets' independent residuals when strata and columns are fitted."""
    design = np.column_stack([sheet.basis, columns])
    return sheet.independent - design @ regression(sheet.independent, design)


def misfit(sheet: Sheet, columns: Floats) -> float:
    """Return Huber's loss of what is left when strata and columns are fitted: what the best columns make least."""
    off = np.abs(residuals(sheet, columns))
    return float(np.where(off <= BOUND, off * off / 2, BOUND * (off - BOUND / 2)).sum())


def effects(sheet: Sheet, columns: Floats) -> list[Effect]:
    """Return the sizes of columns, fitted together."""
    if not columns.shape[1]:
        return []
    design = np.column_stack([sheet.basis, columns])
    coefficients = regression(sheet.independent, design)
    rest = sheet.independent - design @ coefficients
    inside = (np.abs(rest) <= BOUND).astype(float)
    bread = np.linalg.pinv((design * inside[:, None]).T @ design)
    free = max(len(rest) - design.shape[1], 1)
    meat = (design * (bounded(rest) ** 2)[:, None]).T @ design * len(rest) / free
    sds = np.sqrt(np.maximum(np.diag(bread @ meat @ bread), 0.0))
    first = sheet.basis.shape[1]
    return [
        Effect(float(b), float(b - _REACH * sd), float(b + _REACH * sd))
        for b, sd in zip(coefficients[first:], sds[first:], strict=True)
    ]


def odds(sheet: Sheet, wide: Floats, held: Floats) -> OddsRatio | None:
    """Return the odds of lying wide of the tickets held by a level, over those of the others of their strata."""
    tables = []
    for stratum in range(len(sheet.names)):
        own = sheet.strata == stratum
        w, h = wide[own], held[own]
        tables.append(Table(*(float(x) for x in (w @ h, (1 - w) @ h, w @ (1 - h), (1 - w) @ (1 - h)))))
    return odds_ratio(tables)
