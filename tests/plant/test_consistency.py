"""What tables say against one another."""

from __future__ import annotations

from typing import Any

import pytest

from ledger.plant.setup import Setup
from ledger.refusals import SetupRefused
from tests.plant.example import full

TWO = {"plant": {"name": "Invented", "metals": ["gold", "silver"]}}
ALLOY = {"code": "A", "gold": "12K", "silver": "0"}
OP = {"code": "o", "composition": "carries"}
FIXING = {"metal": "gold", "date": "2026-10-01", "per": "ozt", "amount": 1}


def fields(**tables: Any) -> list[str]:
    try:
        Setup.from_document({**TWO, **tables})
    except SetupRefused as refusal:
        return [fault.field if fault.mend else f"{fault.field} without a mend" for fault in refusal.faults]
    return []


@pytest.mark.parametrize(
    ("table", "key"),
    [
        ("area", "keeper"),
        ("area", "holder"),
        ("clad", "layer"),
        ("clad", "bond"),
        ("class", "alloy"),
        ("class", "clad"),
        ("bin", "area"),
        ("bin", "class"),
    ],
)
def test_a_code_that_is_nowhere_is_refused(table: str, key: str) -> None:
    assert fields(**{table: [{"code": "x", key: "nowhere"}]}) == [f"{table}[1].{key}"]


@pytest.mark.parametrize(("key", "value"), [("operation", "nowhere"), ("alloy", "nowhere"), ("class", "nowhere")])
def test_a_rate_of_a_code_that_is_nowhere_is_refused(key: str, value: str) -> None:
    material = {} if key in ("alloy", "class") else {"alloy": "A"}
    rate = {"operation": "o", **material, key: value}
    assert fields(operation=[OP], alloy=[ALLOY], rate=[rate]) == [f"rate[1].{key}"]


def test_a_reference_is_to_its_own_table() -> None:
    assert fields(party=[{"code": "X", "role": "refiner"}], area=[{"code": "a", "keeper": "X"}]) == ["area[1].keeper"]


def test_a_reference_to_an_entry_with_a_fault_of_its_own_is_not_dangling() -> None:
    assert fields(party=[{"code": "X"}], area=[{"code": "a", "holder": "X"}]) == ["party[1].role"]


def test_a_code_is_entered_once_in_its_table_and_may_stand_in_another() -> None:
    assert fields(area=[{"code": "x"}, {"code": "y"}, {"code": "x"}]) == ["area[3]"]
    assert fields(area=[{"code": "x"}], person=[{"code": "x"}]) == []


def test_a_rate_is_entered_once_for_an_operation_and_material() -> None:
    for_alloy, for_class = {"operation": "o", "alloy": "A"}, {"operation": "o", "class": "A"}
    known = {"operation": [OP, {**OP, "code": "p"}], "alloy": [ALLOY], "class": [{"code": "A"}]}
    assert fields(**known, rate=[for_alloy, for_class, {**for_alloy, "operation": "p"}]) == []
    assert fields(**known, rate=[for_alloy, for_class, for_alloy]) == ["rate[3]"]


def test_a_price_is_entered_once_for_a_metal_and_day() -> None:
    assert fields(fixing=[FIXING, {**FIXING, "metal": "silver"}, {**FIXING, "date": "2026-10-02"}]) == []
    assert fields(fixing=[FIXING, {**FIXING, "amount": 2}]) == ["fixing[2]"]


def test_a_rate_is_for_one_alloy_or_one_class() -> None:
    known = {"operation": [OP], "alloy": [ALLOY], "class": [{"code": "c"}]}
    assert fields(**known, rate=[{"operation": "o"}]) == ["rate[1]"]
    assert fields(**known, rate=[{"operation": "o", "alloy": "A", "class": "c"}]) == ["rate[1]"]


def test_a_class_is_of_an_alloy_or_of_clad_stock() -> None:
    both = [{"code": "c", "alloy": "A", "clad": "C"}]
    assert fields(alloy=[ALLOY], clad=[{"code": "C"}], **{"class": both}) == ["class[1]"]


@pytest.mark.parametrize("key", ["loss", "each", "spread", "drift"])
def test_rates_are_by_booked_metal_or_gross(key: str) -> None:
    value = "1 g" if key == "each" else "1%"
    stated = dict.fromkeys(("gold", "silver", "gross", "copper", "platinum"), value)
    assert fields(operation=[{**OP, key: stated}]) == [f"operation[1].{key}.copper", f"operation[1].{key}.platinum"]
    rate = {"operation": "o", "alloy": "A", key: {"palladium": value}}
    assert fields(operation=[OP], alloy=[ALLOY], rate=[rate]) == [f"rate[1].{key}.palladium"]


def test_an_alloy_gives_every_booked_metal_and_no_other() -> None:
    assert fields(alloy=[{"code": "A", "gold": "12K"}]) == ["alloy[1].silver"]
    assert fields(alloy=[{**ALLOY, "platinum": "0"}]) == ["alloy[1].platinum"]
    assert fields(alloy=[{**ALLOY, "copper": "50%"}]) == ["alloy[1].copper"]


def test_a_price_is_of_a_booked_metal() -> None:
    assert fields(fixing=[{**FIXING, "metal": "platinum"}]) == ["fixing[1].metal"]


def test_where_the_metals_cannot_be_read_no_further_fault_is_made_of_it() -> None:
    bad = {"plant": {"name": "I", "metals": []}, "alloy": [ALLOY], "fixing": [FIXING]}
    with pytest.raises(SetupRefused) as refusal:
        Setup.from_document(bad)
    assert [fault.field for fault in refusal.value.faults] == ["plant.metals"]


def test_the_full_example_is_free_of_contradictions() -> None:
    assert full()
