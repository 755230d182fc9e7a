"""Check characters. Published values: ISO/IEC 7064 and Damm, as the documentation of python-stdnum prints them."""

from __future__ import annotations

import string

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum import damm
from stdnum.iso7064 import mod_37_36, mod_97_10

from ledger.book.tickets import split_number
from ledger.plant.numbering import body_of, check_character, check_holds, following, with_check
from tests.plant.example import smallest

SIGNS = string.digits + string.ascii_uppercase
BODIES = st.text(SIGNS + "-/ ", min_size=1, max_size=20).filter(lambda text: any(sign in SIGNS for sign in text))


def test_the_published_value_of_iso_7064_mod_37_36() -> None:
    assert check_character("A12425GABC1234002") == "M"


def test_the_library_gives_the_other_published_values() -> None:
    """ISO 7064 MOD 97-10: 794 → 44; Damm: 572 → 4. Not used here: they say that the library is the one meant."""
    assert mod_97_10.calc_check_digits("794") == "44"
    assert damm.calc_check_digit("572") == "4"


def by_hand(body: str) -> str:
    """The pure system's definition, computed here: ((P + value) mod 36, 36 for 0) × 2 mod 37, and what makes it 1."""
    product = 36
    for sign in body:
        product = ((product + SIGNS.index(sign)) % 36 or 36) * 2 % 37
    return SIGNS[(1 - product) % 36]


@given(st.text(SIGNS, min_size=1, max_size=30))
def test_it_is_what_the_definition_gives(body: str) -> None:
    assert check_character(body) == by_hand(body)


@given(BODIES)
def test_a_number_with_its_check_holds_and_gives_its_body_back(body: str) -> None:
    number = with_check(body)
    assert check_holds(number)
    assert body_of(number) == body


@given(BODIES, st.data())
def test_one_wrong_sign_never_holds(body: str, data: st.DataObject) -> None:
    number = with_check(body)
    place = data.draw(st.sampled_from([i for i, sign in enumerate(number) if sign in SIGNS]))
    wrong = data.draw(st.sampled_from([sign for sign in SIGNS if sign != number[place]]))
    assert not check_holds(number[:place] + wrong + number[place + 1 :])


def test_swaps_of_neighbours_are_caught_but_for_few() -> None:
    assert check_holds("COIL-0123-W")
    swaps = ["OCIL-0123-W", "CIOL-0123-W", "COLI-0123-W", "COIL-1023-W", "COIL-0213-W", "COIL-0132-W"]
    assert [swap for swap in swaps if check_holds(swap)] == []


@pytest.mark.parametrize("number", ["COIL-0123", "COIL-0123-", "-W", "--W", "COIL-0123W", "COIL-0123-w", "", "½-1"])
def test_what_has_no_check_character_does_not_hold(number: str) -> None:
    assert not check_holds(number)
    assert body_of(number) == number


def test_nothing_to_check_is_refused() -> None:
    with pytest.raises(ValueError, match="nothing to check"):
        check_character("-/-")


@pytest.mark.parametrize(
    ("number", "checked", "next_one"),
    [
        ("M-000123", False, "M-000124"),
        ("M-999", False, "M-1000"),
        ("A2/07-9", False, "A2/07-10"),
        ("GRAIN", False, None),
        ("M-000123", True, with_check("M-000124")),
        (with_check("M-000123"), True, with_check("M-000124")),
        (with_check("M-000199"), True, with_check("M-000200")),
    ],
)
def test_the_next_number_is_as_wide_as_the_last(number: str, checked: bool, next_one: str | None) -> None:
    assert following(number, checked=checked) == next_one


@pytest.mark.parametrize("counter", range(120, 160))
def test_a_ticket_number_with_its_check_still_has_its_prefix_and_counter(counter: int) -> None:
    number = with_check(f"M-{counter:06d}")
    assert split_number(number, checked=True) == ("M-", counter)
    assert split_number(f"M-{counter:06d}", checked=True) == ("M-", counter)


def test_a_plant_prints_no_check_characters_unless_it_says_so() -> None:
    assert smallest().plant.check_character is False


@given(st.text("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ", min_size=1, max_size=60))
def test_every_check_character_is_that_of_the_reference_library(signs: str) -> None:
    """ISO/IEC 7064, MOD 37,36: python-stdnum as reference library."""
    assert check_character(signs) == mod_37_36.calc_check_digit(signs)
