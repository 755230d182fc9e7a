"""Published values of the running tests: Page's cumulative sum, independent residuals, and what no test can better.

The source stands beside each check. "Computed" means worked out from first principles and published nowhere: it guards
against our own mistakes only. "From memory" means that the source was not at hand.
"""

from __future__ import annotations

from math import exp, sqrt
from statistics import NormalDist

import numpy as np
import pytest

from ledger.balance.judging.run_length import OneSided, average_run_length, threshold_for_average, threshold_within
from ledger.balance.judging.running_tests import Balance, Thresholds, run
from ledger.balance.judging.sequential import factor, matched, page, residuals

NORMAL = NormalDist()

# --------------------------------------------------------------------------------------------------- Page, run lengths

#: Two-sided, k = 0.5, h = 4: shift in σ, average run length, and with a head start of h/2 both ways, as printed.
#: Lucas and Crosier, Technometrics 24 (1982), Table 1.
TABLE_1 = [
    (0.0, "168", "149"), (0.25, "74.2", "62.7"), (0.5, "26.6", "20.1"), (0.75, "13.3", "8.97"), (1.0, "8.38", "5.29"),
    (1.5, "4.75", "2.86"), (2.0, "3.34", "2.01"), (3.0, "2.19", "1.32"),
]  # fmt: skip


def as_printed(printed: str) -> object:
    """Within one unit of the last digit printed: the table was computed by Markov chain, not to its last half digit."""
    digits = len(printed.partition(".")[2])
    return pytest.approx(float(printed), abs=10.0**-digits)


@pytest.mark.parametrize(("shift", "plain", "fast"), TABLE_1)
def test_average_run_lengths_of_lucas_and_crosier(shift: float, plain: str, fast: str) -> None:
    assert average_run_length(0.5, 4, shift) == as_printed(plain)
    assert average_run_length(0.5, 4, shift, head_start=2) == as_printed(fast)


def test_average_run_lengths_to_four_digits() -> None:
    # Computed.
    assert average_run_length(0.5, 5) == pytest.approx(465.4435, abs=5e-5)
    assert average_run_length(0.5, 5, 1.0) == pytest.approx(10.3760, abs=5e-5)
    assert threshold_for_average(0.5, 370.4) == pytest.approx(4.7749, abs=5e-5)


def siegmund(k: float, h: float, shift: float) -> float:
    """Siegmund's approximation of one sum's run length (Sequential Analysis, 1985; from memory): a cross-check only."""
    drift, b = shift - k, h + 1.166
    return (exp(-2 * drift * b) + 2 * drift * b - 1) / (2 * drift**2)


@pytest.mark.parametrize(("h", "value"), [(4, 169.05), (5, 469.11)])
def test_siegmunds_approximation_is_near(h: float, value: float) -> None:
    # The values: computed. The approximation is known to be good to some percent.
    assert siegmund(0.5, h, 0) / 2 == pytest.approx(value, abs=5e-3)
    assert average_run_length(0.5, h) == pytest.approx(value, rel=0.01)
    assert OneSided(0.5, h, 1).average() == pytest.approx(siegmund(0.5, h, 1), rel=0.01)


@pytest.mark.parametrize(("k", "h"), [(0.25, 4.7631), (0.5, 3.3745), (1.0, 1.9165)])
def test_thresholds_for_twelve_balances_at_five_percent_in_all(k: float, h: float) -> None:
    # Computed, by numerical recursion; one sum, from zero.
    assert threshold_within(k, 12, 0.05) == pytest.approx(h, abs=5e-5)
    assert OneSided(k, h).within(12) == pytest.approx(0.05, abs=5e-6)


# ------------------------------------------------------------------------------------------------------ Page, by hand


def rounded(values: list[float]) -> list[float]:
    return [round(value, 10) for value in values]


def test_cusum_by_hand_of_lucas_and_crosier() -> None:
    # Lucas and Crosier 1982, Table 5: k 0.5, h 5; the last value of each signals.
    x = [0.8, 1.9, 1.4, 2.0, 1.1, 0.7, 2.6]
    plain = page(x, 0.5, 5)
    assert rounded([p.missing for p in plain]) == [0.3, 1.7, 2.6, 4.1, 4.7, 4.9, 7.0]
    assert [p.signal for p in plain] == [0, 0, 0, 0, 0, 0, 1]
    fast = page(x, 0.5, 5, head_start=2.5)
    assert rounded([p.missing for p in fast[:3]]) == [2.8, 4.2, 5.1]
    assert [p.signal for p in fast[:3]] == [0, 0, 1]


#: Montgomery, Introduction to Statistical Quality Control, Table 9.1: 30 values, µ 10, σ 1.
MONTGOMERY = [
    9.45, 7.99, 9.29, 11.66, 12.16, 10.18, 8.04, 11.46, 9.20, 10.34, 9.03, 11.47, 10.51, 9.40, 10.08,
    9.37, 10.62, 10.31, 8.52, 10.84, 10.90, 9.33, 12.29, 11.50, 10.60, 11.08, 10.38, 11.62, 11.31, 10.52,
]  # fmt: skip


def test_cusum_of_montgomery_signals_at_29() -> None:
    # Montgomery: k 0.5, h 5; first signal at 29, where C⁺ = 5.28.
    sums = page([x - 10 for x in MONTGOMERY], 0.5, 5)
    first = next(i for i, p in enumerate(sums) if p.signal)
    assert first + 1 == 29
    assert sums[first].missing == pytest.approx(5.28, abs=1e-9)
    # From memory: Montgomery counts N⁺ = 7 values since the sum was last zero: the drift is put after value 22.
    assert sums[first].since == 22


# -------------------------------------------------------------------------------------------- independent residuals

MUF = [1, -0.5, 2, 1.5]


def covariance_of_the_muf() -> list[list[float]]:
    """σ_R = σ_I = 1, shared 0.5: Iᵢ₋₁ + R − Iᵢ, an inventory in two balances with opposite signs."""
    return [[(3 if i == j else -1 if abs(i - j) == 1 else 0) + 0.25 for j in range(4)] for i in range(4)]


def test_standardised_independent_residuals() -> None:
    # Values: computed. Method: Pike and Woods, Picard, Seifert; the cumulative test: Avenhaus and Jaech.
    covariance = covariance_of_the_muf()
    z = residuals(factor(covariance), MUF)
    assert z == pytest.approx([0.5547, -0.1535, 1.0621, 1.0747], abs=5e-5)
    whole = np.linalg.solve(covariance, MUF) @ MUF
    assert sum(r * r for r in z) == pytest.approx(whole)
    assert whole == pytest.approx(2.6143, abs=5e-5)
    sums = [sum(MUF[:n]) / sqrt(sum(sum(row[:n]) for row in covariance[:n])) for n in range(1, 5)]
    assert sums == pytest.approx([0.5547, 0.2236, 0.9285, 1.2649], abs=5e-5)


# ---------------------------------------------------------------------------------------------------- what is possible


def power(strength: float, false_alarm: float) -> float:
    """Neyman and Pearson 1933: no test of a known pattern finds it more surely than Φ(√(mᵀΣ⁻¹m) − z₁₋α)."""
    return NORMAL.cdf(strength - NORMAL.inv_cdf(1 - false_alarm))


def test_the_ceiling_of_power() -> None:
    # Neyman–Pearson; the figures computed.
    strength = NORMAL.inv_cdf(0.95) + NORMAL.inv_cdf(0.95)
    assert strength == pytest.approx(3.2897, abs=5e-5)
    assert power(strength, 0.05) == pytest.approx(0.95)
    assert NORMAL.cdf(strength - 3) == pytest.approx(0.614, abs=5e-4)


def test_the_trickle_filter_is_at_the_ceiling() -> None:
    """Its mean is the strength itself: √(mᵀΣ⁻¹m), here by another library."""
    covariance = covariance_of_the_muf()
    strength = sqrt(sum(np.linalg.solve(covariance, [1] * 4)))
    rows = factor(covariance)
    lost = residuals(rows, [1] * 4)
    found = matched(lost, lost)
    assert found is not None
    assert found == pytest.approx((strength, strength))
    balances = [Balance(str(i), 1, 1, 0, i == 3) for i in range(4)]
    steps = run(balances, covariance, Thresholds(0.05, 9, 9, strength - 0.01))
    assert [[s.test for s in step.signals] for step in steps] == [[], [], [], ["trickle"]]
