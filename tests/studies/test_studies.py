"""The studies as tests: `pytest -m study`. Each writes its section of docs/evaluation.md."""

from __future__ import annotations

import pytest

from tests.studies import (
    entry_rate,
    faultless,
    monte_carlo,
    mutations,
    power,
    reconcile_time,
    running_tests,
    skimming,
    trace_speed,
)


@pytest.mark.study
def test_entry_rate() -> None:
    few, many, _ = entry_rate.run()
    assert many.ratio <= entry_rate.MARK
    assert many.entered.peak <= entry_rate.FLAT * few.entered.peak


@pytest.mark.study
def test_mutations() -> None:
    found = mutations.run()
    assert found.tries == found.accepted + found.refused >= 10_000
    assert found.accepted >= 500
    assert found.slowest <= mutations.LONGEST
    assert sum(found.sampled.values()) >= 200


@pytest.mark.study
def test_monte_carlo() -> None:
    assert monte_carlo.run() <= monte_carlo.MARK


@pytest.mark.study
def test_faultless() -> None:
    found = faultless.run()
    assert all(len(sample.z) >= 2_000 for sample in found.samples.values())
    assert found.smallest >= found.mark
    assert found.dust_off <= faultless.OFF
    assert found.interval[0] <= faultless.RATE <= found.interval[1]


@pytest.mark.study
def test_running_tests() -> None:
    found = running_tests.run()
    for (rate, _), share in found.joint.items():
        assert share.of >= 20_000
        assert share.holds(rate)
    assert found.action.holds(0.002_699_796)


@pytest.mark.study
def test_power() -> None:
    found = power.run()
    assert all(rate <= power.RATE for rate in found.rates.values())
    for pattern in found.patterns:
        assert min(pattern.ratios(power.LEMEL)) >= power.MARK


@pytest.mark.study
def test_skimming() -> None:
    found = skimming.run()
    assert found.false[1] <= skimming.MARK
    for runs in (*found.taken.values(), *found.honest.values()):
        assert len(runs) >= 400
    for (_, share, months), runs in found.taken.items():
        could = [one.found for one in runs if one.comparable]
        assert share < 0.002 or months < 3 or sum(could) >= 0.9 * len(could)


@pytest.mark.study
def test_trace_speed() -> None:
    lots, found = trace_speed.run()
    assert lots == 10_000
    assert max(timed.cpu for timed in found) <= trace_speed.MARK


def test_reconcile_time_is_flat() -> None:
    """Four months against one; ten years are for the command, which takes half an hour."""
    one, many = reconcile_time.measure(3, 10_000)
    assert many.kept.cpu / many.of_month <= reconcile_time.FLAT * one.kept.cpu / one.of_month
