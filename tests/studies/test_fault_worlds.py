"""The simulated months that the study of causes is about: honest ones are, and what is planted reaches the book so."""

from __future__ import annotations

import json
import tomllib
from functools import cache
from random import Random
from statistics import fmean, pstdev
from typing import Any

import pytest

from tests.studies.fault_worlds import named, poorer
from tests.studies.fault_worlds.base import Base, grams
from tests.studies.fault_worlds.keyed import other_digits, points, swaps
from tests.studies.fault_worlds.planting import PLANNERS, Case, measured, planted
from tests.studies.fault_worlds.struck import Differences
from tests.studies.fault_worlds.truth import LARGE, SMALL, Fault
from tests.studies.fault_worlds.world import plant_text, simulated

SEED = 77


@cache
def base() -> Base:
    return Base.of(SEED)


@cache
def case_of(family: str) -> Case:
    found = planted(base(), [family], LARGE, Random(f"test/{family}"))
    assert found is not None
    return found


def test_one_seed_makes_the_same_month() -> None:
    assert simulated(SEED).tickets() == [paper.document for paper in base().papers]


def test_a_month_has_some_five_hundred_tickets_in_thirteen_areas() -> None:
    tickets = [paper for paper in base().papers if paper.at.month == 1]
    assert 450 <= len(tickets) <= 700
    assert len({str(paper.document["area"]) for paper in tickets if paper.kind == "count"}) == 13


def test_honest_differences_are_as_large_as_their_sigma_says() -> None:
    z = [
        one.values[i] / one.sigmas[i]
        for one in base().differences.all
        if one.kind in ("reweighing", "transfer", "count", "work") and not one.lot.startswith(("DC", "SW", "SL"))
        for i in one.coordinates
    ]
    assert len(z) > 700
    assert abs(fmean(z)) < 0.15  # they share scales: not 1/√n
    assert 0.9 < pstdev(z) < 1.1
    assert max(map(abs, z)) < 4.9  # 1e-6 of a normal


def test_transposed_digit_and_point_are_what_their_names_say() -> None:
    assert list(swaps("120.45 g")) == ["210.45 g", "102.45 g", "120.54 g"]
    assert "170.45 g" not in swaps("120.45 g")
    assert all(sum(a != b for a, b in zip(one, "120.45 g", strict=True)) == 1 for one in other_digits("120.45 g"))
    assert list(points("120.45 g")) == ["12.045 g", "1204.5 g"]


@pytest.mark.parametrize("family", ["transposed", "digit", "decimal", "unit", "tare", "mass"])
def test_a_mass_keyed_wrong_shows_as_large_as_planned(family: str) -> None:
    fault = case_of(family).faults[0]
    (number,) = fault.tickets
    wrong = next(t for t in case_of(family).tickets if t["ticket"] == number)
    right = base().by_number[number].document
    assert wrong != right
    assert {name: v for name, v in wrong.items() if name not in ("in", "out", "lots")} == {
        name: v for name, v in right.items() if name not in ("in", "out", "lots")
    }
    after = Differences(case_of(family).connection, ["2026-01"])
    before = {(one.number, *one.key): one for one in base().differences.all}
    shown = max(
        before[one.number, *one.key].multiples(one.values) for one in after.all if (one.number, *one.key) in before
    )
    assert fault.multiple is not None
    assert shown == pytest.approx(fault.multiple, rel=0.25)


@pytest.mark.parametrize("family", sorted(set(PLANNERS) - {"settlement", "salted"}))
def test_every_family_is_planted(family: str) -> None:
    fault = case_of(family).faults[0]
    assert fault.family == family
    assert fault.multiple is None or fault.multiple >= LARGE.low * 0.99
    numbers = {ticket["ticket"] for ticket in case_of(family).tickets}
    assert set(fault.tickets) <= numbers or family == "missing_ticket"
    assert fault.lots or fault.what


def test_metal_taken_is_missing_where_the_lot_is_weighed_next() -> None:
    cases = (planted(base(), ["unticketed"], LARGE, Random(f"taken/{k}")) for k in range(20))
    found = next(case for case in cases if case is not None and case.faults[0].mode == "lot")
    (lot,), size = found.faults[0].lots, found.faults[0].size

    def missing(differences: Differences) -> float:
        kinds = ("reweighing", "count")
        return sum(one.values[0] for one in differences.all if one.lot == lot and one.kind in kinds) / 1e9

    after = Differences(found.connection, ["2026-01"])
    assert missing(after) - missing(base().differences) == pytest.approx(size, rel=0.25, abs=0.11)  # 0.1 g divisions


def test_a_small_fault_is_between_three_and_five_sigma() -> None:
    found = planted(base(), ["mass"], SMALL, Random("small"))
    assert found is not None
    assert found.faults[0].multiple is not None
    assert 2.97 <= found.faults[0].multiple <= 5.05


def test_several_faults_are_about_different_lots() -> None:
    families = ["digit", "determination", "uncounted"]
    found = next(c for k in range(9) if (c := planted(base(), families, LARGE, Random(f"several/{k}"))) is not None)
    assert [fault.family for fault in found.faults] == families
    lots = [lot for fault in found.faults for lot in fault.lots]
    assert len(lots) == len(set(lots))


def test_without_a_fault_nothing_is_measured() -> None:
    assert measured(base(), base().world, base().connection) == (0.0, "")


def test_thin_records_leave_readings_out() -> None:
    thin = Base.of(SEED, thin=poorer.COUNTS)
    assert not any(r.name == "received_mass" for r in thin.readings())
    ins = [line for p in thin.in_period if p.kind == "work" for line in p.document.get("in", ()) if line.get("all")]
    assert ins
    assert not any("mass" in line or "gross" in line for line in ins if "metallic" not in line)
    assert len(thin.differences.all) < len(base().differences.all) / 2


def test_a_mistaken_set_up_is_wrong_by_the_factors_said() -> None:
    right, wrong = tomllib.loads(plant_text()), tomllib.loads(poorer.mistaken(3))
    for one, other in zip(right["scale"], wrong["scale"], strict=True):
        ratio = grams(other["repeatability"]) / grams(one["repeatability"])
        assert min(abs(ratio - 1.5), abs(ratio - 1 / 1.5)) < 1e-3
    for one, other in zip(right["operation"], wrong["operation"], strict=True):
        for metal, rate in one["loss"].items():
            if float(rate.rstrip("%")):
                ratio = float(other["loss"][metal].rstrip("%")) / float(rate.rstrip("%"))
                assert min(abs(ratio - 1.2), abs(ratio - 0.8)) < 1e-3


_DIGIT = Fault("digit", "work", "PRESS", ("HC-000007",), ("BL-0001",))


def cause(rank: int, family: str, share: float, *, apart: tuple[int, ...] = (), **about: Any) -> named.Cause:
    empty: named.Cause = {"tickets": [], "lots": [], "what": {}, "areas": []}
    return empty | {"rank": rank, "family": family, "share": share, "inseparable_from": list(apart)} | about


def test_a_cause_tells_a_fault_by_family_and_place() -> None:
    said: Any = {"tickets": ["HC-000007"], "lots": ["BL-0001"]}
    assert named.tells(cause(1, "digit", 0.9, **said), _DIGIT)
    assert not named.tells(cause(1, "mass", 0.9, **said), _DIGIT)
    assert not named.tells(cause(1, "digit", 0.9, tickets=["HC-000008"], lots=["BL-0001"]), _DIGIT)
    scale = Fault("scale", "out", "PRESS", (), (), {"scale": "S-PRESS"})
    assert named.tells(cause(1, "scale", 0.9, what={"scale": "S-PRESS"}), scale)
    assert not named.tells(cause(1, "scale", 0.9, what={"scale": "S-DRAW"}), scale)


def test_right_is_first_or_in_the_first_group() -> None:
    said: Any = {"tickets": ["HC-000007"], "lots": ["BL-0001"]}
    first, second = cause(1, "mass", 0.5, apart=(2,), **said), cause(2, "digit", 0.4, apart=(1,), **said)
    assert named.right([first, second], [_DIGIT])
    assert not named.right([cause(1, "mass", 0.5, **said), cause(2, "digit", 0.4, **said)], [_DIGIT])
    assert not named.right([cause(1, "chance", 0.6), second | {"inseparable_from": []}], [_DIGIT])
    assert not named.right([], [_DIGIT])


def test_named_is_a_group_of_more_than_half_and_never_chance() -> None:
    first, second = cause(1, "mass", 0.3, apart=(2,)), cause(2, "digit", 0.3, apart=(1,))
    assert named.named([first, second]) == [[first, second]]
    assert named.named([cause(1, "chance", 0.9), cause(2, "digit", 0.3)]) == []


def test_truth_is_a_document() -> None:
    assert json.loads(json.dumps(_DIGIT.told()))["family"] == "digit"
