"""[[scale]], [[method]], [[container]]."""

# mypy: disable-error-code="comparison-overlap"
# an int and a Fraction of the same value are equal, which mypy does not know inside a tuple
from __future__ import annotations

from datetime import date
from fractions import Fraction

import pytest

from ledger.plant.measuring import WORTH_BY_KIND
from ledger.plant.setup import Setup
from tests.plant.example import document, full


def setup_with(**tables: object) -> Setup:
    return Setup.from_document(document(**tables))


def test_a_scale_as_stated() -> None:
    scale = full().scales["S1"]
    assert (scale.division_ng, scale.repeatability_ng) == (10_000_000, 8_000_000)
    assert scale.sensitivity == Fraction(4, 100_000)
    assert (scale.calibrated, scale.calibrate_every) == (date(2026, 1, 31), 365)


def test_a_scale_with_everything_left_out() -> None:
    (scale,) = setup_with(scale=[{"code": "S", "division": "0.1 g"}]).scale
    assert (scale.repeatability_ng, scale.sensitivity) == (50_000_000, Fraction(5, 100_000))
    assert (scale.calibrated, scale.calibrate_every) == (None, None)


def test_a_repeatability_of_nothing_is_stated() -> None:
    (scale,) = setup_with(scale=[{"code": "S", "division": "0.1 g", "repeatability": "0 g"}]).scale
    assert scale.repeatability_ng == 0
    # rounding alone: a uniform distribution over one division has the standard deviation d/√12
    assert scale.weighing_sd_ng == pytest.approx(100_000_000 / 12**0.5)


def test_repeatability_and_rounding_add_in_quadrature() -> None:
    assert full().scales["S1"].weighing_sd_ng == pytest.approx((8_000_000**2 + 10_000_000**2 / 12) ** 0.5)


def test_a_method_as_stated() -> None:
    method = full().methods["M1"]
    assert (method.kind, method.laboratory) == ("fire", "own")
    assert (method.repeatability, method.sampling, method.bias) == tuple(Fraction(n, 10_000) for n in (3, 4, 5))


@pytest.mark.parametrize("kind", ["fire", "icp", "xrf", "touch", "density", "strip"])
def test_a_method_that_says_its_kind_is_worth_what_that_kind_is(kind: str) -> None:
    (method,) = setup_with(method=[{"code": "M", "kind": kind}]).method
    assert (method.repeatability, method.sampling, method.bias) == WORTH_BY_KIND[kind]


def test_a_method_that_says_part_keeps_the_rest_by_kind() -> None:
    (method,) = setup_with(method=[{"code": "M", "kind": "fire", "bias": "0%"}]).method
    assert (method.repeatability, method.sampling, method.bias) == (*WORTH_BY_KIND["fire"][:2], 0)


def test_a_method_of_unknown_kind_is_worth_no_more_than_the_poorest() -> None:
    (method,) = setup_with(method=[{"code": "M"}]).method
    for worth in WORTH_BY_KIND.values():
        assert (method.repeatability, method.sampling, method.bias) >= worth


def test_fire_assay_is_the_best_and_the_touchstone_the_poorest() -> None:
    """Common practice, no source."""
    order = [WORTH_BY_KIND[kind].repeatability for kind in ("fire", "icp", "strip", "xrf", "density", "touch")]
    assert order == sorted(set(order))


def test_a_container_as_stated_and_one_without_its_tare() -> None:
    pan = full().containers["PAN"]
    assert (pan.tare, pan.tared) == (125_300_000_000, date(2026, 9, 1))
    assert setup_with(container=[{"code": "P"}]).containers["P"].tare is None
