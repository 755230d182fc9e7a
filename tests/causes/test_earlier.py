"""How many lots of own assays show a refiner's bias, against the mean of so many independent differences."""

from __future__ import annotations

import re

import numpy as np
import pytest

from ledger.causes.earlier import by_lots


@pytest.mark.parametrize(("bias", "sigma"), [(0.0005, 0.0015), (0.002, 0.001), (0.01, 0.004), (0.0007, 0.0007)])
def test_the_lots_named_are_the_fewest_whose_mean_is_three_sigma_from_nothing(bias: float, sigma: float) -> None:
    """JCGM 100:2008, 4.2.3: the standard deviation of a mean of n is s/√n; here of drawn means, 200,000 of each."""
    wanted = int(re.findall(r": (\d+) lots?", by_lots(bias, sigma, 40))[0])
    random = np.random.default_rng(20261125)

    def of_means(n: int) -> float:
        return float(random.normal(0.0, sigma, (200_000, n)).mean(axis=1).std())

    assert bias >= 2.98 * of_means(wanted)
    assert wanted == 1 or bias < 3.02 * of_means(wanted - 1)
