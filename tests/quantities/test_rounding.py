"""Half to even, once: against Python's own exact rounding of fractions."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.quantities.rounding import half_even

NUMERATORS = st.integers(-(10**40), 10**40)
DENOMINATORS = st.integers(1, 10**20)


@pytest.mark.parametrize(
    ("numerator", "denominator", "rounded"),
    [
        (0, 1, 0),
        (1, 2, 0),
        (3, 2, 2),
        (5, 2, 2),
        (-1, 2, 0),
        (-3, 2, -2),
        (-5, 2, -2),
        (7, 3, 2),
        (8, 3, 3),
        (-8, 3, -3),
    ],
)
def test_ties_go_to_the_even_neighbour(numerator: int, denominator: int, rounded: int) -> None:
    assert half_even(numerator, denominator) == rounded


@given(NUMERATORS, DENOMINATORS)
def test_agrees_with_the_standard_library(numerator: int, denominator: int) -> None:
    # Reference: fractions.Fraction.__round__, documented as half to even.
    assert half_even(numerator, denominator) == round(Fraction(numerator, denominator))


@given(st.integers(-(10**30), 10**30), st.integers(1, 10**9))
def test_every_exact_tie(whole: int, scale: int) -> None:
    rounded = half_even((2 * whole + 1) * scale, 2 * scale)
    assert rounded % 2 == 0
    assert rounded in (whole, whole + 1)


@given(NUMERATORS, DENOMINATORS)
def test_loses_and_gains_treated_alike(numerator: int, denominator: int) -> None:
    assert half_even(-numerator, denominator) == -half_even(numerator, denominator)
