"""Published values of the statistics by which normal loss is learned.

The source stands beside each check. "From memory" means that the source was not at hand; the figure was agreed when
recomputed.
"""

from __future__ import annotations

from math import inf, sqrt

import pytest

from ledger.balance.rates.distributions import chi_square, one_sided_tolerance_factor, tolerance_factor
from ledger.balance.rates.robust import common_variance, huber_location, mad, theil_sen, variance_of_location
from ledger.balance.rates.shrinkage import shrinkage

#: Yield of dyestuff, six batches of five samples. Davies; the Dyestuff data of lme4 (data and results from memory).
DYESTUFF = [
    [1545, 1440, 1440, 1520, 1580], [1540, 1555, 1490, 1560, 1495], [1595, 1550, 1605, 1510, 1560],
    [1445, 1440, 1595, 1465, 1545], [1595, 1630, 1515, 1635, 1625], [1520, 1455, 1450, 1480, 1445],
]  # fmt: skip

#: Copper in wholemeal flour, parts per million. The chem data of Venables and Ripley (data and results from memory).
COPPER = [2.9, 3.1, 3.4, 3.4, 3.7, 3.7, 2.8, 2.5, 2.4, 2.4, 2.7, 2.2, 5.28, 3.37, 3.03, 3.03, 28.95, 3.77, 3.4, 2.2,
          3.5, 3.6, 3.7, 3.7]  # fmt: skip


def test_one_way_random_effects_of_the_dyestuff() -> None:
    """Within 2451.25, between 1764.05, as the analysis of variance has them: no value bounded."""
    within = common_variance([(batch, [0.0] * 5) for batch in DYESTUFF], inf)
    assert within.variance == pytest.approx(2451.25, abs=5e-3)
    assert within.degrees == 24
    of_means = [variance_of_location([within.variance] * 5, inf)] * 6
    between = common_variance([(within.centres, of_means)], inf)
    assert between.variance == pytest.approx(1764.05, abs=5e-3)
    assert between.degrees == 5


def test_hubers_location_of_the_copper_values() -> None:
    assert huber_location(COPPER) == pytest.approx(3.2067, abs=5e-5)
    assert mad(COPPER) == pytest.approx(0.5263, abs=5e-5)
    assert sum(COPPER) / 24 > 4.2  # what one wild value does to the mean


def test_theil_sen_slope_and_its_interval() -> None:
    """Sen, J. Am. Stat. Assoc. 63 (1968), the example; in scipy's tests, at a confidence of 93 %."""
    line = theil_sen([1, 2, 3, 4, 10, 12, 18], [9, 15, 19, 20, 45, 55, 78], 0.93)
    assert line is not None
    assert (line.slope, line.low, line.high) == pytest.approx((4, 26 / 7, 35 / 8))


def test_james_stein_shrinkage_of_eighteen_batters() -> None:
    """Efron and Morris: hits in 45 times at bat; deviations from the mean are kept to .212."""
    hits = [18, 17, 16, 15, 14, 14, 13, 12, 11, 11, *[10] * 5, 9, 8, 7]
    averages = [h / 45 for h in hits]
    mean = sum(averages) / 18
    shrunk = shrinkage(averages, [mean * (1 - mean) / 45] * 18)
    assert shrunk is not None
    assert shrunk.kept == pytest.approx([0.212] * 18, abs=5e-4)


def test_tolerance_factors() -> None:
    """N = 43, 90 % of the population at 99 % confidence. NIST/SEMATECH e-Handbook, 7.2.6.3."""
    assert tolerance_factor(1 / 43, 42, 0.90, 0.99) == pytest.approx(2.2173, abs=5e-5)
    assert one_sided_tolerance_factor(1 / 43, 42, 0.90, 0.99) == pytest.approx(1.8752, abs=5e-5)


@pytest.mark.parametrize(("found", "factor"), [(0, "2.9957"), (1, "4.7439"), (2, "6.2958"), (3, "7.7537")])
def test_quantiles_of_chi_square(found: int, factor: str) -> None:
    """The Poisson factors of auditors at 95 % are halves of χ² quantiles."""
    assert chi_square(0.95, 2 * (found + 1)) / 2 == pytest.approx(float(factor), abs=5e-5)


def test_bounding_costs_four_per_cent() -> None:
    """Huber 1964: at k = 1.5 the estimate has 96.4 % of the mean's efficiency for normal values (from memory)."""
    assert 1 / variance_of_location([1.0]) == pytest.approx(0.964, abs=5e-4)
    assert sqrt(variance_of_location([1.0] * 4, inf)) == 0.5
