"""The common odds ratio of several two-by-two tables.

N. Mantel and W. Haenszel, Statistical aspects of the analysis of data from retrospective studies of disease, J. Natl.
Cancer Inst. 22 (1959). Its variance: J. Robins, N. Breslow and S. Greenland, Biometrics 42 (1986). From memory.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import exp, log, sqrt
from statistics import NormalDist
from typing import NamedTuple

_REACH = NormalDist().inv_cdf(0.975)


class Table(NamedTuple):
    """Counts in one stratum: with the condition and without, each having the outcome and not."""

    with_yes: float
    with_no: float
    without_yes: float
    without_no: float

    @property
    def total(self) -> float:
        """All of them."""
        return self.with_yes + self.with_no + self.without_yes + self.without_no


@dataclass(frozen=True, slots=True)
class OddsRatio:
    """The odds of the outcome with the condition over those without, and its 95 % interval."""

    ratio: float
    low: float
    high: float

    def turned(self) -> OddsRatio:
        """Return the odds without the condition over those with it."""
        return OddsRatio(1 / self.ratio, 1 / self.high, 1 / self.low)


def odds_ratio(tables: Iterable[Table]) -> OddsRatio | None:
    """Return the common odds ratio of the strata; None where it is 0, infinite, or unknown."""
    r = s = pr = ps_qr = qs = 0.0
    for t in tables:
        if not t.total:
            continue
        for_, against = t.with_yes * t.without_no / t.total, t.with_no * t.without_yes / t.total
        same, other = (t.with_yes + t.without_no) / t.total, (t.with_no + t.without_yes) / t.total
        r, s = r + for_, s + against
        pr, ps_qr, qs = pr + same * for_, ps_qr + same * against + other * for_, qs + other * against
    if not r or not s:
        return None
    reach = _REACH * sqrt(pr / (2 * r * r) + ps_qr / (2 * r * s) + qs / (2 * s * s))
    return OddsRatio(r / s, exp(log(r / s) - reach), exp(log(r / s) + reach))
