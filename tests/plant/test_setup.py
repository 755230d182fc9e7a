"""The set-up as a whole: round trips, look-ups, and all faults at once."""

from __future__ import annotations

import copy
import json
import subprocess
import sys
import time
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.plant.reading import TABLES
from ledger.plant.setup import Setup
from ledger.refusals import SetupRefused
from tests.plant.example import document, full, smallest

NAMES = st.text(
    st.characters(min_codepoint=33, max_codepoint=0x24F, exclude_categories=("C", "Z")), min_size=1, max_size=64
)
DECIMALS = st.decimals(min_value="0", max_value="99", places=3).map(lambda number: f"{number:f}")
SHARES = DECIMALS.map(lambda number: f"{number}%")
MASSES = st.decimals(min_value="0.000001", max_value="900", places=6).map(lambda number: f"{number:f} g")
BY_METAL = st.dictionaries(st.sampled_from(["gold", "silver", "gross"]), SHARES)


def optional(**keys: st.SearchStrategy[Any]) -> st.SearchStrategy[dict[str, Any]]:
    return st.fixed_dictionaries({}, optional=keys)


@st.composite
def documents(draw: st.DrawFn) -> dict[str, Any]:
    def entries(required: dict[str, st.SearchStrategy[Any]], **keys: st.SearchStrategy[Any]) -> list[dict[str, Any]]:
        codes = draw(st.lists(NAMES, unique=True, max_size=3))
        return [{"code": code, **draw(st.fixed_dictionaries(required, optional=keys))} for code in codes]

    people = entries({}, name=NAMES, may=st.lists(st.sampled_from(["weigh", "set", "close"]), unique=True))
    alloys = entries(
        {"gold": st.just("12K"), "silver": st.just("100‰")}, density=DECIMALS.filter(lambda text: float(text) > 0)
    )
    found = {
        "plant": {
            "name": draw(NAMES),
            "metals": ["gold", "silver"],
            **draw(optional(unit=st.just("ozt"), currency=st.just("CHF"))),
        },
        "area": entries({}, name=NAMES, tolerance=SHARES | MASSES, trivial=MASSES, gross=st.booleans()),
        "operation": entries(
            {"composition": st.sampled_from(["carries", "combines", "surface", "content"])},
            loss=BY_METAL,
            spread=BY_METAL,
            drift=BY_METAL,
            recoverable=SHARES,
            fume=SHARES,
        ),
        "scale": entries(
            {"division": MASSES}, repeatability=MASSES, calibrate_every=st.integers(1, 999).map(lambda n: f"{n} d")
        ),
        "alloy": alloys,
        "person": people,
    }
    return {table: value for table, value in found.items() if value}


@given(documents())
def test_a_setup_comes_back_from_its_document_as_it_went(document: dict[str, Any]) -> None:
    setup = Setup.from_document(document)
    assert setup.to_document() == document
    stored = json.loads(json.dumps(setup.to_document()))
    assert Setup.from_document(stored) == setup


def test_the_setup_that_uses_every_key_comes_back_from_json() -> None:
    setup = full()
    again = Setup.from_document(json.loads(json.dumps(setup.to_document())))
    assert again == setup
    assert again.to_document() == setup.to_document()


def test_the_full_example_leaves_out_no_table_and_no_key() -> None:
    written = full().to_document()
    for table, model in TABLES.items():
        keys = {info.alias or name for name, info in model.model_fields.items()}
        keys -= {"platinum", "palladium", "rhodium"}
        stated = {key for entry in written[table] for key in entry}
        if table == "rate":
            keys = {"operation", "alloy", "class", "loss", "recoverable"}
        assert stated == keys, table


def test_every_text_is_kept_as_it_was_read() -> None:
    written = full().to_document()
    assert written["alloy"][0]["density"] == "13.33"
    assert written["fixing"][0]["date"] == "2026-10-01"
    assert written["area"][0]["tolerance"] == "3 g"
    assert written["plant"]["warn"] == "2.5"
    assert written["plant"]["act"] == 3


def test_setups_that_say_the_same_are_equal_however_written_and_others_are_not() -> None:
    one = Setup.from_document(document(area=[{"code": "A", "tolerance": "0.2%"}]))
    assert one == Setup.from_document(document(area=[{"code": "A", "tolerance": "2‰"}]))
    assert one != Setup.from_document(document(area=[{"code": "A", "tolerance": "0.3%"}]))
    assert one != Setup.from_document(document(area=[{"code": "B", "tolerance": "0.2%"}]))


def test_a_setup_is_not_changed_through_its_document() -> None:
    given_document = document(area=[{"code": "A"}])
    setup = Setup.from_document(given_document)
    before = copy.deepcopy(setup.to_document())
    given_document["area"].append({"code": "B"})
    setup.to_document()["area"][0]["code"] = "C"
    assert setup.to_document() == before


def test_look_ups_by_code_keep_the_order_of_the_file() -> None:
    setup = full()
    assert list(setup.areas) == ["MELT", "REF"]
    assert setup.operations["roll"] is setup.operation[0]
    by_code: list[Mapping[str, object]] = [setup.scales, setup.methods, setup.alloys, setup.clads]
    by_code += [setup.classes, setup.bins, setup.containers]
    assert [list(codes) for codes in by_code] == [
        ["S1"],
        ["M1"],
        ["12Y", "BR"],
        ["GF"],
        ["ENDS", "SKEL"],
        ["B1"],
        ["PAN"],
    ]
    assert (list(setup.parties), list(setup.persons)) == (["R1"], ["K1", "C1"])
    assert setup.areas is setup.areas


def test_the_smallest_setup_has_nothing_in_its_tables() -> None:
    setup = smallest()
    assert all(getattr(setup, "class_" if table == "class" else table) == () for table in TABLES)


def refused_fields(document: Any) -> set[str]:
    with pytest.raises(SetupRefused) as refusal:
        Setup.from_document(document)
    assert all(fault.mend and fault.code == "setup" for fault in refusal.value.faults)
    return {fault.field for fault in refusal.value.faults}


def test_every_fault_is_found_in_one_go() -> None:
    bad = {
        "plant": {"name": "", "metals": ["gold"], "colour": "red"},
        "areas": [],
        "area": [{"code": "A", "tolerance": "0.2", "keeper": "X"}, {"code": "A", "gross": "yes"}, {}, 3],
        "operation": [{"code": "o", "loss": {"gold": "1", "gross": "1%"}}],
        "scale": {"code": "S"},
        "bin": [{"code": "B", "area": "A", "class": "?"}],
    }
    assert refused_fields(bad) == {
        "plant.name",
        "plant.colour",
        "areas",
        "area[1].tolerance",
        "area[1].keeper",
        "area[2]",
        "area[2].gross",
        "area[3].code",
        "area[4]",
        "operation[1].composition",
        "operation[1].loss.gold",
        "scale",
        "bin[1].class",
    }


@pytest.mark.parametrize("plant", [None, [], "x", {}])
def test_without_a_plant_there_is_no_setup(plant: Any) -> None:
    expected = {"plant.name", "plant.metals"} if plant == {} else {"plant"}
    assert refused_fields({"plant": plant}) == expected
    assert refused_fields({}) == {"plant"}


def test_a_float_is_never_a_value() -> None:
    assert refused_fields(document(alloy=[{"code": "A", "gold": "12K", "density": 13.33}])) == {"alloy[1].density"}
    assert Setup.from_document(document(alloy=[{"code": "A", "gold": "12K", "density": Decimal("13.33")}]))


def test_a_message_names_the_entry_by_its_code_and_the_key_that_was_meant() -> None:
    with pytest.raises(SetupRefused) as refusal:
        Setup.from_document(document(area=[{"code": "BUFF", "tolerence": "3 g"}]))
    (fault,) = refusal.value.faults
    assert 'area "BUFF"' in fault.what
    assert fault.mend == "did you mean tolerance?"


def test_reading_a_stored_setup_is_quick() -> None:
    entries = [{"code": f"c{n}", "division": "0.01 g"} for n in range(30)]
    areas = [{"code": f"a{n}", "tolerance": "0.2%"} for n in range(30)]
    stored = document(scale=entries, area=areas)
    Setup.from_document(stored)
    start = time.perf_counter()
    for _ in range(5):
        Setup.from_document(stored)
    assert (time.perf_counter() - start) / 5 < 0.02


def test_the_plant_room_loads_pydantic_and_the_standard_library_only() -> None:
    code = (
        "import sys, pydantic, pydantic_core; before = set(sys.modules)\n"
        "import ledger.plant.toml_file, ledger.plant.calendar, ledger.plant.assumed, ledger.plant.changes\n"
        "new = {name.split('.')[0] for name in set(sys.modules) - before if not name.startswith('_')}\n"
        "known = {'ledger', 'pydantic', 'annotated_types', 'typing_extensions', *sys.stdlib_module_names}\n"
        "print(sorted(new - known))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"
