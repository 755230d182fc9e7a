"""z of faultless books: 60 of them, drawn from known truth and reconciled by the program; in short form.

The long form, 2,000 books, is tests/studies/faultless.py. Intervals at 99.9 % of what a standard normal gives.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from tests.studies.faultless import Key, z_of

BOOKS, SEED = 60, 7


@pytest.fixture(scope="module")
def z() -> dict[Key, list[float]]:
    found: dict[Key, list[float]] = {}
    for i in range(BOOKS):
        for key, value in z_of(SEED + i):
            found.setdefault(key, []).append(value)
    return found


@pytest.mark.parametrize("sort", ["U", "H"])
def test_z_is_standard_normal(sort: str, z: dict[Key, list[float]]) -> None:
    """σ that was a fifth too small or too large would fail: 360 and 180 figures give it to 12 and 18 % at 99.9 %."""
    each = np.array([value for key, values in z.items() if key[0] == sort for value in values], float)
    assert len(each) == BOOKS * {"U": 6, "H": 3}[sort]
    low, high = (stats.chi2.ppf(p, len(each)) / len(each) for p in (0.0005, 0.9995))
    assert low < float(np.mean(each**2)) < high
    assert stats.kstest(each, "norm").pvalue > 0.001
    assert abs(float(each.mean())) < 3.3 / len(each) ** 0.5


def test_every_figure_is_there(z: dict[Key, list[float]]) -> None:
    assert {key for key in z if key[0] == "H"} == {("H", "ROLL", "2026-10"), ("H", "ROLL", "2026-11"),
                                                    ("H", "MELT", "2026-11")}  # fmt: skip
    assert all(len(values) == BOOKS for values in z.values())
