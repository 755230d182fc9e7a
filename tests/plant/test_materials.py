"""[[alloy]], [[clad]], [[class]], [[bin]]."""

from __future__ import annotations

from fractions import Fraction

import pytest

from ledger.plant.setup import Setup
from ledger.refusals import Impossible
from tests.plant.example import SMALLEST, document, fields, full


def test_an_alloy_has_the_fineness_of_every_booked_metal() -> None:
    alloy = full().alloys["12Y"]
    assert alloy.fineness == {"gold": Fraction(1, 2), "silver": Fraction(1, 10)}
    assert (alloy.density, alloy.colour) == (Fraction(1333, 100), "yellow")
    assert full().alloys["BR"].fineness == {"gold": 0, "silver": Fraction(45, 100)}


def test_an_alloy_of_more_than_pure_is_refused() -> None:
    two = SMALLEST.replace('["gold"]', '["gold", "silver"]')
    assert fields(two + '[[alloy]]\ncode = "A"\ngold = "18K"\nsilver = "251‰"') == ["alloy[1]"]
    assert Setup.from_document(
        {
            "plant": {"name": "Invented", "metals": ["gold", "silver"]},
            "alloy": [{"code": "A", "gold": "18K", "silver": "250‰"}],
        }
    )


def test_clad_stock_is_the_marks_share_of_its_layer() -> None:
    # 16 CFR 23.3(c)(2): the fraction is the plating's share of the weight of the metal in the article: 1/20 12K = 25 ‰
    assert full().clad_fineness("GF") == {"gold": Fraction(25, 1000), "silver": Fraction(5, 1000)}
    assert full().clads["GF"].faces == "round"


def test_clad_stock_takes_its_layers_fineness_not_its_marks() -> None:
    setup = Setup.from_document(
        document(alloy=[{"code": "A", "gold": "585‰"}], clad=[{"code": "C", "mark": "1/10 14K", "layer": "A"}])
    )
    assert setup.clad_fineness("C") == {"gold": Fraction(585, 10_000)}


def test_without_a_layer_the_mark_speaks_of_gold_alone() -> None:
    setup = Setup.from_document(
        {"plant": {"name": "I", "metals": ["silver", "gold"]}, "clad": [{"code": "C", "mark": "1/20 12kt"}]}
    )
    assert setup.clad_fineness("C") == {"silver": 0, "gold": Fraction(1, 40)}
    assert setup.marked_metal == "gold"


def test_where_no_gold_is_booked_a_mark_speaks_of_the_first_metal() -> None:
    setup = Setup.from_document(
        {"plant": {"name": "I", "metals": ["silver"]}, "clad": [{"code": "C", "mark": "1/10 925‰"}]}
    )
    assert setup.clad_fineness("C") == {"silver": Fraction(925, 10_000)}


def test_clad_stock_without_a_mark_or_not_in_the_setup_has_no_fineness() -> None:
    setup = Setup.from_document(document(clad=[{"code": "C"}]))
    with pytest.raises(Impossible, match="has no mark"):
        setup.clad_fineness("C")
    with pytest.raises(Impossible, match="no clad stock"):
        setup.clad_fineness("D")


@pytest.mark.parametrize("faces", ["1", "2", '"round"'])
def test_faces_may_be_one_two_or_round(faces: str) -> None:
    text = SMALLEST + f'[[clad]]\ncode = "C"\nfaces = {faces}'
    with pytest.raises(AssertionError, match="not refused"):
        fields(text)


@pytest.mark.parametrize("faces", ["0", "3", '"1"', "true", "1.0", '"square"', "[1]"])
def test_other_faces_are_refused(faces: str) -> None:
    assert fields(SMALLEST + f'[[clad]]\ncode = "C"\nfaces = {faces}') == ["clad[1].faces"]


def test_classes_and_bins_as_stated() -> None:
    setup = full()
    assert (setup.classes["ENDS"].alloy, setup.classes["ENDS"].dirty) == ("12Y", True)
    assert (setup.classes["SKEL"].clad, setup.classes["SKEL"].dirty) == ("GF", False)
    assert (setup.bins["B1"].area, setup.bins["B1"].class_) == ("MELT", "ENDS")
