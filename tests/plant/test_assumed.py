"""What is assumed is listed, with its value; what is stated is not."""

from __future__ import annotations

from fractions import Fraction

import pytest

from ledger.plant.assumed import ESTIMATE_SD, MOISTURE_SD, NOMINAL_FINENESS_SD, assumed_values, exact
from ledger.plant.setup import Setup
from tests.plant.example import document, full, smallest


def listed(setup: Setup) -> dict[str, str]:
    return {assumed.key: assumed.value_text for assumed in assumed_values(setup)}


ALWAYS = {
    "fineness without method or basis": "nominal, ± 1.7 ‰",
    "basis = estimated, without sd": "± 20 % of the content",
    "moisture": "± 0.5 points",
}


def test_the_constants_are_those_of_the_interface() -> None:
    assert Fraction("1.7") / 1000 == NOMINAL_FINENESS_SD
    assert Fraction(1, 5) == ESTIMATE_SD
    assert Fraction("0.5") / 100 == MOISTURE_SD


def test_a_plant_that_states_everything_leaves_little_to_assume() -> None:
    assert listed(full()) == {
        'operation["roll"].spread.gross': "0.1 %",
        'operation["roll"].drift.gross': "0.025 %",
        **ALWAYS,
        "agreed content": "± 0.5 %, shared ± 0.1 %",
        "line without scale": "on S1, the poorest",
    }


def test_the_smallest_plant_assumes_its_clock() -> None:
    assert listed(smallest()) == {"plant.timezone": "UTC", **ALWAYS}


def test_every_value_left_out_is_listed_with_why() -> None:
    setup = Setup.from_document(
        {
            "plant": {"name": "I", "metals": ["gold", "silver"], "timezone": "UTC"},
            "period": [{"code": "P", "ends": "2027-01-23"}],
            "operation": [{"code": "o", "composition": "carries", "loss": {"gold": "0.10%"}, "recoverable": "60%"}],
            "scale": [{"code": "S", "division": "0.01 g"}],
            "method": [{"code": "M", "kind": "fire", "sampling": "0.2‰"}, {"code": "N"}],
            "clad": [{"code": "C", "mark": "1/20 12K"}, {"code": "D"}],
            "fixing": [{"metal": "gold", "date": "2026-10-01", "per": "g", "amount": 1}],
        }
    )
    assert listed(setup) == {
        "plant.currency": "USD",
        'period["P"].starts': "2027-01-01",
        'operation["o"].spread.gold': "0.05 %",
        'operation["o"].drift.gold': "0.0125 %",
        'operation["o"].recoverable_spread': "6 %",
        'scale["S"].repeatability': "0.005 g",
        'scale["S"].sensitivity': "0.005 %",
        'method["M"].repeatability': "0.3 ‰",
        'method["M"].bias': "0.1 ‰",
        'method["N"].repeatability': "8 ‰",
        'method["N"].sampling': "2 ‰",
        'method["N"].bias': "8 ‰",
        'clad["C"], silver': "0 ‰",
        **ALWAYS,
        "line without scale": "on S, the poorest",
    }
    for assumed in assumed_values(setup):
        if assumed.key.startswith(("operation", "scale", "method")):
            assert "common practice, no source" in assumed.why


def test_a_rate_lists_what_follows_from_its_own_loss_and_nothing_that_another_layer_states() -> None:
    operation = {"code": "o", "composition": "carries", "loss": {"gold": "1%"}, "drift": {"gold": "0.1%"}}
    rates = [
        {"operation": "o", "alloy": "A", "spread": {"gold": "0.3%"}, "recoverable": "50%", "recoverable_spread": "1%"},
        {"operation": "o", "class": "C", "loss": {"gold": "2%"}, "recoverable": "70%"},
        {"operation": "o", "class": "D", "loss": {"gold": "4%"}, "recoverable": "70%"},
    ]
    classes = [{"code": "C", "alloy": "A"}, {"code": "D"}]
    alloys = [{"code": "A", "gold": "12K"}]
    setup = Setup.from_document(document(operation=[operation], rate=rates, alloy=alloys, **{"class": classes}))
    of_rates = {key: value for key, value in listed(setup).items() if key.startswith(("rate", "operation"))}
    assert of_rates == {
        'operation["o"].spread.gold': "0.5 %",
        'rate["o D"].spread.gold': "2 %",
        'rate["o D"].recoverable_spread': "7 %",
    }


def test_a_loss_rate_is_in_no_list_of_assumptions() -> None:
    setup = smallest('[[operation]]\ncode = "o"\ncomposition = "carries"')
    assert not [assumed for assumed in assumed_values(setup) if "loss" in assumed.key]


@pytest.mark.parametrize(
    ("value", "text"), [("1/2", "0.5"), ("3", "3"), ("1/8", "0.125"), ("0", "0"), ("1/3", "0." + "3" * 40)]
)
def test_a_decimal_keeps_all_its_digits_and_no_more(value: str, text: str) -> None:
    assert exact(Fraction(value)) == text
