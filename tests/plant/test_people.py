"""[[party]] and [[person]]."""

# mypy: disable-error-code="comparison-overlap"
# an int and a Fraction of the same value are equal, which mypy does not know inside a tuple
from __future__ import annotations

from fractions import Fraction

import pytest

from tests.plant.example import SMALLEST, faults, fields, full, smallest


def test_a_party_as_stated() -> None:
    party = full().parties["R1"]
    assert (party.role, party.title, party.owed) == ("refiner", "ours until settled", "declared")
    assert (party.limit, party.loss_allowance) == (5_000_000_000_000, Fraction(5, 1000))


def test_a_party_is_owed_its_own_determination_unless_it_says_otherwise() -> None:
    (party,) = smallest('[[party]]\ncode = "X"\nrole = "lender"').party
    assert (party.owed, party.limit, party.loss_allowance, party.title) == ("own", None, 0, None)


def test_a_partys_role_is_required_and_one_of_four() -> None:
    assert fields(SMALLEST + '[[party]]\ncode = "X"') == ["party[1].role"]
    (fault,) = faults(SMALLEST + '[[party]]\ncode = "X"\nrole = "friend"')
    assert fault.field == "party[1].role"
    assert "refiner" in fault.mend


def test_people_and_what_they_may() -> None:
    setup = full()
    assert setup.persons["K1"].may == {"weigh", "count"}
    assert smallest('[[person]]\ncode = "P"').persons["P"].may == frozenset()


@pytest.mark.parametrize("may", ['"weigh"', '["fly"]', "[1]", '[["weigh"]]'])
def test_rights_that_are_none_are_refused(may: str) -> None:
    (fault,) = faults(SMALLEST + f'[[person]]\ncode = "P"\nmay = {may}')
    assert fault.field == "person[1].may"
    assert "witness" in fault.mend
