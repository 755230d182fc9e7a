"""The running tests' false alarms: `python -m tests.studies.running_tests`.

Faultless books, area-year after area-year: how often the finished tests signal, the three together, against the rate
that was asked for; and the action level's own rate for one area-month. With `--table` it works out anew by how much
each test's third may be larger (the table in ledger/balance/judging/running_tests.py).
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from ledger.balance.judging import running_tests
from ledger.balance.judging.running_tests import LOOK_BACK, REFERENCE, YEAR, Thresholds, thresholds
from tests.studies.evaluation_page import circumstances, table, write_section

COMMAND = "python -m tests.studies.running_tests"
SEED, TABLE_SEED = 20_261, 1954
TABLE_RATES = (0.001, 0.002, 0.005, 0.0125, 0.025, 0.05, 0.1, 0.2)
RATES = (0.0125, 0.00625, 0.05)
CHAINS, YEARS = 40_000, 10
Z95 = 1.959964
ACT = 3.0

Flags = NDArray[np.bool_]
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Signals:
    """Signals by chain and month: +1 missing, −1 over, 0 none; of the trickle by chain and year."""

    page: NDArray[np.int8]
    month: NDArray[np.int8]
    trickle: NDArray[np.int8]

    def any_in_year(self, ways: tuple[int, ...] = (1, -1)) -> Flags:
        """Return, by chain and year, whether any test signals one of the ways."""
        months = (np.isin(self.page, ways) | np.isin(self.month, ways)).reshape(len(self.page), -1, YEAR)
        return np.asarray(months.any(axis=2) | np.isin(self.trickle, ways))


def signals(z: Floats, limits: Thresholds, weights: Floats | None = None) -> Signals:
    """Run the tests over independent residuals, chains × months; the look-back is left out of what is returned.

    ``weights``: L⁻¹ of one lost in each month of a year; equal where months are independent.
    """
    w = np.ones(YEAR) if weights is None else weights
    month = np.where(np.abs(z) > limits.month, np.sign(z), 0).astype(np.int8)
    kept = np.where(month == 0, z, 0.0)[:, LOOK_BACK:].reshape(len(z), -1, YEAR)
    strength = np.sqrt(((month == 0)[:, LOOK_BACK:].reshape(kept.shape) * w**2).sum(axis=2))
    trickle = (kept * w).sum(axis=2) / np.where(strength, strength, 1.0)
    far = np.where(np.abs(trickle) > limits.trickle, np.sign(trickle), 0).astype(np.int8)
    return Signals(page_signals(z, month != 0, limits.page)[:, LOOK_BACK:], month[:, LOOK_BACK:], far)


def page_signals(z: Floats, aside: Flags, h: float) -> NDArray[np.int8]:
    """Return the signals of both sums, each starting anew after its own; residuals set aside change nothing."""
    missing, over = np.zeros(len(z)), np.zeros(len(z))
    found = np.zeros(z.shape, np.int8)
    for t in range(z.shape[1]):
        missing = np.where(aside[:, t], missing, np.maximum(0.0, missing + z[:, t] - REFERENCE))
        over = np.where(aside[:, t], over, np.maximum(0.0, over - z[:, t] - REFERENCE))
        found[:, t] = (missing > h).astype(np.int8) - (over > h)
        missing[missing > h], over[over > h] = 0.0, 0.0
    return found


@dataclass(frozen=True)
class Share:
    """How many of so many, and the 95 % interval of the share (normal approximation; the counts are in hundreds)."""

    count: int
    of: int

    @property
    def share(self) -> float:
        """The share."""
        return self.count / self.of

    @property
    def interval(self) -> tuple[float, float]:
        """The interval."""
        reach = Z95 * sqrt(self.share * (1 - self.share) / self.of)
        return self.share - reach, self.share + reach

    def holds(self, rate: float) -> bool:
        """Return whether a rate lies in the interval."""
        low, high = self.interval
        return low <= rate <= high

    def __str__(self) -> str:
        low, high = self.interval
        return f"{self.share:.3%} ({low:.3%} to {high:.3%})"


@dataclass(frozen=True)
class Measured:
    """False alarms at each rate asked for, by the way the months hang together, and of the action level."""

    joint: dict[tuple[float, str], Share]
    first_year: dict[float, Share]
    action: Share


def run() -> Measured:
    """Measure, and write the section."""
    rng = np.random.default_rng(SEED)
    joint, first, action = {}, {}, (0, 0)
    for rate in RATES:
        limits = thresholds(rate)
        for name, weights in (("independent", np.ones(YEAR)), ("sharing their counts", counted_weights())):
            z = rng.standard_normal((CHAINS, LOOK_BACK + YEAR * YEARS))
            years = signals(z, limits, weights).any_in_year()
            joint[rate, name] = Share(int(years.sum()), years.size)
            action = (action[0] + int((np.abs(z) > ACT).sum()), action[1] + z.size)
        new = np.concatenate([np.zeros((CHAINS * 4, LOOK_BACK)), rng.standard_normal((CHAINS * 4, YEAR))], axis=1)
        years = signals(new, limits).any_in_year()
        first[rate] = Share(int(years.sum()), years.size)
    measured = Measured(joint, first, Share(*action))
    write_section("running tests", section(measured))
    return measured


def counted_weights() -> Floats:
    """Return L⁻¹ of one lost in each month of the last year, where a fifth of a month's variance is its closing count.

    The count stands in the next month with the opposite sign.
    """
    months = LOOK_BACK + YEAR
    covariance = np.eye(months) - 0.2 * (np.eye(months, k=1) + np.eye(months, k=-1))
    lost = np.r_[np.zeros(LOOK_BACK), np.ones(YEAR)]
    return np.asarray(np.linalg.solve(np.linalg.cholesky(covariance), lost)[LOOK_BACK:])


def section(m: Measured) -> str:
    """Return the section."""
    rows = [
        (f"{rate:.3%}", name, f"{share.of:,}", str(share), "yes" if share.holds(rate) else "no")
        for (rate, name), share in m.joint.items()
    ]
    firsts = "; ".join(f"{share} at {rate:.3%}" for rate, share in m.first_year.items())
    return f"""\
## False alarms of the running tests

{circumstances(COMMAND, SEED)}

Faultless area-years, one after another with the sums carried on: the share in which Page's sums, the largest month or
the trickle signals, either way, with its 95 % interval. 1.25 % is a plant's one in ten years over eight areas.

{table(("asked for, an area-year", "months", "area-years", "measured", "holds it"), rows)}

In the first year of a book the sums begin at zero, and signals are rarer: {firsts}.

The action level of {ACT:g} σ by itself, in {m.action.of:,} area-months: {m.action} of them; of a normal
residual 0.270 %.
"""


def print_table(chains: int = 100_000, years: int = 20) -> None:
    """Work out the table anew and print it."""
    z = np.random.default_rng(TABLE_SEED).standard_normal((chains, LOOK_BACK + YEAR * years))
    for rate in TABLE_RATES:
        low, high = 1.0, 1.5
        while high - low > 0.002:
            middle = (low + high) / 2
            thresholds.cache_clear()
            running_tests._TOGETHER = ((1e-6, middle),)  # type: ignore[misc]
            too_often = signals(z, thresholds(rate)).any_in_year().mean() > rate
            low, high = (low, middle) if too_often else (middle, high)
        print(f"({rate}, {(low + high) / 2:.3f})", flush=True)


if __name__ == "__main__":
    print_table() if "--table" in sys.argv[1:] else print(section(run()))
