"""A dated change of the set-up."""

# mypy: disable-error-code="comparison-overlap"
# an int and a Fraction of the same value are equal, which mypy does not know inside a tuple
from __future__ import annotations

from datetime import date
from fractions import Fraction
from typing import Any

import pytest

from ledger.plant.calendar import Calendar
from ledger.plant.changes import Difference, apply_change, change_head
from ledger.plant.forms import Tolerance
from ledger.plant.setup import Setup
from ledger.plant.toml_file import parse_change
from ledger.refusals import SetupRefused
from tests.plant.example import document, full, smallest

HEAD = {"from": "2026-11-01T06:00", "by": "C1", "reason": "as agreed"}


def applied(**tables: Any) -> tuple[Setup, list[Difference]]:
    return apply_change(full(), {**HEAD, **tables})


def refused(setup: Setup, change: dict[str, Any]) -> list[str]:
    with pytest.raises(SetupRefused) as refusal:
        apply_change(setup, change)
    return [fault.field if fault.mend else f"{fault.field} without a mend" for fault in refusal.value.faults]


def test_a_known_code_takes_the_keys_given_and_keeps_the_rest() -> None:
    changed, differences = applied(area=[{"code": "MELT", "tolerance": "0.1%"}])
    melt = changed.areas["MELT"]
    assert melt.tolerance == Tolerance(share=Fraction(1, 1000))
    assert (melt.name, melt.keeper, melt.trivial) == ("Melting", "K1", 50_000_000)
    assert differences == [Difference('area["MELT"].tolerance', "3 g", "0.1%")]
    assert [area.code for area in changed.area] == ["MELT", "REF"]


def test_a_key_that_was_not_stated_has_nothing_before() -> None:
    _, differences = applied(area=[{"code": "REF", "keeper": "K1"}])
    assert differences == [Difference('area["REF"].keeper', None, "K1")]


def test_a_new_code_is_added_at_the_end() -> None:
    changed, differences = applied(area=[{"code": "NEW", "gross": False}])
    assert [area.code for area in changed.area] == ["MELT", "REF", "NEW"]
    assert differences == [
        Difference('area["NEW"].code', None, "NEW"),
        Difference('area["NEW"].gross', None, "false"),
    ]


def test_a_table_by_metal_takes_the_metals_given() -> None:
    changed, differences = applied(operation=[{"code": "roll", "loss": {"gold": "0.3%", "silver": "0.4%"}}])
    assert changed.to_document()["operation"][0]["loss"] == {"gold": "0.3%", "gross": "0.2%", "silver": "0.4%"}
    assert differences == [
        Difference('operation["roll"].loss.gold', "0.10%", "0.3%"),
        Difference('operation["roll"].loss.silver', None, "0.4%"),
    ]


def test_rights_are_given_anew_as_a_whole() -> None:
    changed, differences = applied(person=[{"code": "K1", "may": ["witness"]}])
    assert changed.persons["K1"].may == {"witness"}
    assert differences == [Difference('person["K1"].may', "weigh, count", "witness")]


def test_rates_go_by_operation_and_material_and_prices_by_metal_and_day() -> None:
    changed, differences = applied(
        rate=[{"operation": "roll", "alloy": "12Y", "fume": "1%"}, {"operation": "melt", "alloy": "12Y"}],
        fixing=[
            {"metal": "gold", "date": "2026-10-01", "amount": "4000"},
            {"metal": "gold", "date": "2026-11-01", "per": "g", "amount": 140},
        ],
    )
    assert [(rate.operation, rate.alloy, rate.class_) for rate in changed.rate] == [
        ("roll", "12Y", None),
        ("roll", None, "ENDS"),
        ("melt", "12Y", None),
    ]
    price = changed.price("gold", date(2026, 11, 2))
    assert price is not None
    assert (price.amount, len(changed.fixing)) == (140, 2)
    assert differences[0] == Difference('rate["roll 12Y"].fume', None, "1%")
    assert Difference('fixing["gold 2026-10-01"].amount', "4012.55", "4000") in differences


def test_levels_of_the_plant_can_change() -> None:
    changed, differences = applied(plant={"act": 4})
    assert (changed.plant.act, changed.plant.name) == (4, "Invented Clad Works")
    assert differences == [Difference("plant.act", "3", "4")]


def test_a_change_that_says_what_is_already_so_makes_no_difference() -> None:
    plant = {"metals": ["gold", "silver"], "timezone": "America/New_York", "cut_off": "06:00"}
    changed, differences = applied(plant=plant, area=[{"code": "MELT", "name": "Melting"}])
    assert (changed == full(), differences) == (True, [])


def test_the_setup_before_is_left_as_it_was() -> None:
    setup = full()
    apply_change(setup, {**HEAD, "operation": [{"code": "roll", "loss": {"gold": "0.3%"}}]})
    assert setup == full()
    assert setup.to_document() == full().to_document()


def test_changes_of_changes_add_up() -> None:
    once, _ = applied(area=[{"code": "NEW"}])
    twice, differences = apply_change(once, {**HEAD, "area": [{"code": "NEW", "name": "n"}]})
    assert twice.areas["NEW"].name == "n"
    assert differences == [Difference('area["NEW"].name', None, "n")]


@pytest.mark.parametrize(
    "plant", [{"metals": ["gold"]}, {"metals": ["silver", "gold"]}, {"timezone": "UTC"}, {"cut_off": "07:00"}]
)
def test_metals_and_clock_of_a_plant_cannot_change(plant: dict[str, Any]) -> None:
    assert refused(full(), {**HEAD, "plant": plant}) == [f"plant.{next(iter(plant))}"]


def test_a_fault_of_the_change_is_named_by_code_and_all_come_at_once() -> None:
    change = {
        **HEAD,
        "area": [{"code": "REF", "tolerance": "3"}, {"code": "N", "colour": "red"}, {"name": "no code"}],
        "bin": [{"code": "B1", "area": "nowhere"}],
        "zone": [],
    }
    assert refused(full(), change) == [
        "zone",
        'area["REF"].tolerance',
        'area["N"].colour',
        'area[""].code',
        'bin["B1"].area',
    ]


@pytest.mark.parametrize(
    ("tables", "field"),
    [
        ({"area": {"code": "MELT"}}, "area"),
        ({"area": ["MELT"]}, "area"),
        ({"plant": []}, "plant"),
        ({"area": [{"code": "MELT"}, {"code": "MELT"}]}, "area[2]"),
    ],
)
def test_tables_of_the_wrong_form_are_refused(tables: dict[str, Any], field: str) -> None:
    assert refused(full(), {**HEAD, **tables}) == [field]


def test_a_change_says_when_who_and_why() -> None:
    assert refused(full(), {}) == ["from", "by", "reason"]
    assert refused(full(), {"from": 3, "by": ["C1"], "reason": " "}) == ["from", "by", "reason"]


@pytest.mark.parametrize("from_", ["2026-11", "2026-02-29", "2026-11-01T01:30", "2026-03-08T02:30", "1899-01-01T00:00"])
def test_a_change_takes_effect_at_a_time_that_there_is(from_: str) -> None:
    assert refused(full(), {**HEAD, "from": from_}) == ["from"]


def test_a_change_from_a_day_takes_effect_when_that_day_begins() -> None:
    calendar = Calendar(full())
    assert change_head(full(), {**HEAD, "from": "2026-11-03"}).instant == calendar.instant("2026-11-03T06:00")
    head = change_head(full(), HEAD)
    assert (head.from_, head.by, head.reason) == ("2026-11-01T06:00", "C1", "as agreed")
    assert head.instant == calendar.instant("2026-11-01T06:00")


def test_a_change_is_decided_by_somebody_who_may() -> None:
    assert refused(full(), {**HEAD, "by": "K1"}) == ["by"]
    assert refused(full(), {**HEAD, "by": "nobody"}) == ["by"]
    nobody_may = Setup.from_document(document(person=[{"code": "P"}]))
    assert change_head(nobody_may, {**HEAD, "by": "P"}).by == "P"
    assert refused(nobody_may, {**HEAD, "by": "C1"}) == ["by"]
    assert change_head(smallest(), {**HEAD, "by": "anybody"}).by == "anybody"


def test_the_head_alone_is_refused_with_all_its_faults() -> None:
    with pytest.raises(SetupRefused) as refusal:
        change_head(full(), {"by": "K1"})
    assert [fault.field for fault in refusal.value.faults] == ["from", "by", "reason"]


def test_a_change_file_from_toml() -> None:
    text = 'from = 2026-11-01T06:00:00\nby = "C1"\nreason = "x"\n[[alloy]]\ncode = "12Y"\ndensity = 13.40\n'
    _, differences = apply_change(full(), parse_change(text))
    assert differences == [Difference('alloy["12Y"].density', "13.33", "13.40")]
