"""Other texts that could have been meant: the exact slips of keying."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from ledger.causes.keyed import texts_with_neighbours_swapped, texts_with_one_digit, times_text
from ledger.quantities.mass import parse_mass

MASSES = st.decimals(min_value="0.01", max_value="99999", places=2).map(lambda x: f"{x} g")


def test_1284_6_keyed_1248_6_is_among_the_swapped_and_its_difference_is_divisible_by_nine() -> None:
    """shared checks, own arithmetic: difference 36.0, divisible by 9, candidate found."""
    assert "1284.6 g" in texts_with_neighbours_swapped("1248.6 g")
    assert (parse_mass("1284.6 g") - parse_mass("1248.6 g")) // 10**9 == 36


@given(MASSES)
def test_swapping_neighbours_back_gives_the_text(text: str) -> None:
    for other in texts_with_neighbours_swapped(text):
        assert text in texts_with_neighbours_swapped(other)
        assert (parse_mass(text, zero=True) - parse_mass(other, zero=True)) % (9 * 10**7) == 0


@given(MASSES)
def test_one_digit_makes_nine_other_texts_of_each(text: str) -> None:
    others = list(texts_with_one_digit(text))
    assert len(others) == 9 * sum(c.isdigit() for c in text) == len(set(others))


def test_a_misplaced_point() -> None:
    assert parse_mass(str(times_text("11.5 g", Fraction(1, 10)))) == parse_mass("1.15 g")
    assert times_text("about 3 g", Fraction(10)) is None
