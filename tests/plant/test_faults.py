"""Faults in words: every kind says what is wrong and how to mend it, never in the words of a library."""

from __future__ import annotations

import pytest

from ledger.plant.faults import nearest
from tests.plant.example import SMALLEST, faults

KINDS = [
    ('[[area]]\nname = "x"', "area", "code is not given", "add code"),
    ('[[area]]\ncode = "A"\ncolour = 1', 'area "A"', "nobody knows the key 'colour'", "known are code, name, outside"),
    ('[[area]]\ncode = "A"\ngros = true', 'area "A"', "nobody knows the key 'gros'", "did you mean gross?"),
    (
        '[[area]]\ncode = "A"\ngross = "no"',
        'area "A"',
        "'no' is neither true nor false",
        "gross = true or gross = false",
    ),
    ('[[area]]\ncode = "A"\nkeeper = 7', 'area "A"', "7 is not a text in quotes", "printable characters"),
    (
        '[[operation]]\ncode = "o"\ncomposition = "x"',
        'operation "o"',
        "'x' is not one of the values of composition",
        "'carries'",
    ),
    (
        '[[operation]]\ncode = "o"\ncomposition = "carries"\nloss = "1%"',
        'operation "o"',
        "'1%' is not by metal",
        'loss = {gold = "…"}',
    ),
    ('[[scale]]\ncode = "S"\ndivision = "0.01 oz"', 'scale "S"', "the unit oz is ambiguous", "ozt (troy)"),
]


@pytest.mark.parametrize(("text", "entry", "what", "mend"), KINDS)
def test_each_kind_of_fault_in_words(text: str, entry: str, what: str, mend: str) -> None:
    (fault,) = faults(SMALLEST + text)
    assert fault.what.startswith(entry)
    assert what in fault.what
    assert mend in fault.mend
    assert "Input should" not in fault.what


def test_the_key_that_was_probably_meant_or_all_that_are_known() -> None:
    assert nearest("colur", ["code", "colour"]) == "did you mean colour?"
    assert nearest("x", ["code", "colour"]) == "known are code, colour"
