"""z of faultless books, for docs/evaluation.md: `python -m tests.studies.faultless`.

Each book is drawn from known truth (tests/balance/faultless.py), entered as tickets, and reconciled by the program as a
user would; nothing of it is worked a second way. z of every area and month should be standard normal: one figure a
book, so that a test takes independent ones. z of dust should have variance 1; it is a little skewed, since recoverable
share and loss are multiplied, which first order leaves out.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import sqrt
from typing import Any

import numpy as np
from scipy import stats

from ledger.balance.months.statement import reconcile
from tests.balance.faultless import AREAS, ESTIMATE, MONTHS, PLANT, SURVEY, FaultlessBook
from tests.book.plants import Book
from tests.studies.evaluation_page import circumstances, note, table, write_section
from tests.studies.running_tests import Share

COMMAND, SEED, BOOKS = "python -m tests.studies.faultless", 1_000_000, 2_000
ACT, RATE = 3.0, 0.002_699_796
#: All tests of U together reject faultless books with this probability; σ of dust is right to within this share.
LEVEL, OFF = 0.05, 0.05

Key = tuple[str, str, str]


@dataclass(frozen=True)
class Sample:
    """z of one figure over independent books."""

    z: Any

    @property
    def p(self) -> float:
        """p of the Kolmogorov–Smirnov test against the standard normal."""
        return float(stats.kstest(self.z, "norm").pvalue)

    @property
    def skewness(self) -> float:
        """Third moment ÷ the cube of the standard deviation; 0 of a normal."""
        return float(stats.skew(self.z))

    @property
    def sd(self) -> float:
        """Root of the mean square."""
        return sqrt(float(np.mean(self.z**2)))


@dataclass(frozen=True)
class Found:
    """All figures, by sort (U or H), area and month; how often area-months were beyond the action level."""

    samples: dict[Key, Sample]
    action: Share
    interval: tuple[float, float]

    def of(self, sort: str) -> list[Sample]:
        """Return the samples of U, or of H."""
        return [sample for key, sample in self.samples.items() if key[0] == sort]

    @property
    def mark(self) -> float:
        """The p that no test of U may fall below (Bonferroni)."""
        return LEVEL / len(self.of("U"))

    @property
    def smallest(self) -> float:
        """The smallest p of U."""
        return min(sample.p for sample in self.of("U"))

    @property
    def dust_rejected(self) -> int:
        """How many of dust the test rejects, at the same level for all of them."""
        return sum(sample.p < LEVEL / len(self.of("H")) for sample in self.of("H"))

    @property
    def dust_off(self) -> float:
        """How far the root mean square of a dust z is from 1 at most."""
        return max(abs(sample.sd - 1) for sample in self.of("H"))


def z_of(seed: int) -> Iterator[tuple[Key, float]]:
    """Yield z of every figure of one faultless book, as the month-end statement has it."""
    book = Book(FaultlessBook(seed).documents, PLANT)
    for month in MONTHS:
        for area in reconcile(book.connection, month)["areas"]:
            yield ("U", area["area"], month), area["z"]
            if area["dust"]["cleaned_out"]:
                yield ("H", area["area"], month), area["dust"]["z"]
    book.connection.close()


def study(books: int, seed: int) -> Found:
    """Draw so many books, and test what they give."""
    gathered: dict[Key, list[float]] = {}
    for i in range(books):
        for key, z in z_of(seed + i):
            gathered.setdefault(key, []).append(z)
        if i % 200 == 199:
            note(f"{i + 1} books")
    samples = {key: Sample(np.array(z, float)) for key, z in gathered.items()}
    beyond = np.array([np.abs(s.z) > ACT for key, s in samples.items() if key[0] == "U"])
    action = Share(int(beyond.sum()), beyond.size)
    exact = stats.binomtest(action.count, action.of).proportion_ci(0.95, "exact")
    return Found(samples, action, (float(exact.low), float(exact.high)))


def run() -> Found:
    """Study, and write the section."""
    found = study(BOOKS, SEED)
    names = {"U": "unexplained", "H": "dust at the clean-out"}
    rows = [
        (f"{names[sort]}, {area} {month}", f"{len(s.z):,}", f"{float(s.z.mean()):+.3f}", f"{s.sd:.3f}",
         f"{s.skewness:+.2f}", f"{s.p:.4f}")
        for (sort, area, month), s in found.samples.items()
    ]  # fmt: skip
    low, high = found.interval
    write_section("faultless books", f"""
## z of faultless books

{BOOKS:,} books of an invented plant ({", ".join(AREAS)}; two months, some sixty tickets), each drawn anew from known
truth: scales and their shared errors, assays and the laboratory's bias, losses with the stated spread and drift, the
recoverable share with its own, dust surveyed to {100 * SURVEY:.0f} %, and sweeps estimated to {1000 * ESTIMATE:.0f} ‰,
half of them assayed later. Every ticket was entered and every month reconciled by the program. In gold; p is of the
Kolmogorov–Smirnov test against the standard normal, over independent books. Of U none of {len(found.of("U"))} may fall
below {found.mark:.4f}, which is 5 % for all of them; the smallest is {found.smallest:.4f}. z of dust is to have a root
mean square within {OFF:.0%} of 1: the farthest is {found.dust_off:.1%} off. It is not normal: at that level the test
rejects {found.dust_rejected} of {len(found.of("H"))}. It is skewed towards more dust than was accrued: the recoverable
share and the loss, each uncertain by about a tenth, are multiplied, and first order leaves out the product of their
errors.

{table(("figure", "books", "mean of z", "root mean square", "skewness", "p"), rows)}

Beyond the action level of 3 σ: {found.action.count} of {found.action.of:,} area-months, {found.action.share:.3%} (95 %
interval {low:.3%} to {high:.3%}); of a normal residual 0.270 %.

{circumstances(COMMAND, SEED)}
""")  # fmt: skip
    return found


if __name__ == "__main__":
    result = run()
    print(f"smallest p {result.smallest:.4f}, beyond the action level {result.action.share:.3%}")
