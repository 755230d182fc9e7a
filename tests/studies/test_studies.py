"""The studies as tests: `pytest -m study`. Each writes its section of docs/evaluation.md."""

from __future__ import annotations

import pytest

from tests.studies import entry_rate, monte_carlo, mutations, power, running_tests


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
