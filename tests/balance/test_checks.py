"""Check weights and standards: charts worked by hand.

S1: division 0.01 g, repeatability half of it (assumed), so σ = √(0.005² + 0.01²/12) g = 0.005 773 5 g.
"""

from __future__ import annotations

from fractions import Fraction
from math import sqrt

import pytest

from ledger.balance.daily.checks import Chart, charts
from ledger.book.setups import Setups
from ledger.refusals import WrongUsage
from tests.book.plants import PLANT, Book, g, reversal, ticket

SIGMA = sqrt(0.005**2 + 0.01**2 / 12)


def check(n: int, reading: str, scale: str = "S1", standard: str = "200.0 g", **fields: object) -> dict[str, object]:
    return ticket(n, "checkweigh", scale=scale, standard=standard, reading=f"{reading} g", **fields)


def made(*documents: dict[str, object], code: str | None = None, text: str = PLANT) -> list[Chart]:
    connection = Book(documents, text).connection
    return charts(connection, Setups.read(connection), code)


def test_points_marks_and_mean() -> None:
    """0.02 g is 3.46 σ, 0.015 g 2.60 σ, 0.01 g 1.73 σ; mean of +0.01, +0.015, −0.02 is 0.005/3."""
    (chart,) = made(check(1, "200.01"), check(2, "200.015"), check(3, "199.98"))
    assert [chart.mark(p) for p in chart.points] == ["", "warn", "act"]
    assert [p.off for p in chart.points] == [g("0.01"), g("0.015"), -g("0.02")]
    assert chart.points[0].sd == pytest.approx(SIGMA * 1e9)
    assert chart.mean == pytest.approx(0.005 / 3 * 1e9)
    assert chart.mean_limit == pytest.approx(3 * SIGMA / sqrt(3) * 1e9)
    assert not chart.drifting


def test_a_mean_off_together_is_a_shared_error_before_any_point_is_beyond() -> None:
    """+0.01 g four times: no point beyond 2 σ, but the limit of the mean is 3 σ/√4 = 0.008 66 g."""
    (chart,) = made(*(check(n, "200.01") for n in range(1, 5)))
    assert {chart.mark(p) for p in chart.points} == {""}
    assert chart.drifting
    (three,) = made(*(check(n, "200.01") for n in range(1, 4)))  # limit 0.010 g
    assert not three.drifting


def test_one_reading_is_no_drift() -> None:
    (chart,) = made(check(1, "200.30"))
    assert chart.mark(chart.points[0]) == "act"
    assert not chart.drifting


def test_the_set_up_allows_for_a_shared_error() -> None:
    """Sensitivity 0.005 % of 200 g is 0.01 g: four times 0.02 g off is 2 of them, four times 0.04 g is 4."""
    (allowed,), (beyond,) = (made(*(check(n, reading) for n in range(1, 5))) for reading in ("200.02", "200.04"))
    assert allowed.shared_sd == pytest.approx(g("0.01"))
    assert (allowed.drifting, allowed.beyond_shared) == (True, False)
    assert (beyond.drifting, beyond.beyond_shared) == (True, True)


def test_only_what_comes_after_a_calibration_tells_of_the_scale_as_it_is() -> None:
    """The reading upon which it was calibrated found it as it was before."""
    (chart,) = made(check(1, "200.05"), check(30, "200.05", calibrated=True), check(31, "200.00"))
    assert [p.current for p in chart.points] == [False, False, True]
    assert chart.mean == 0.0
    assert (str(chart.calibration.day), str(chart.calibration.due)) == ("2026-10-02", "2026-11-11")


def test_what_was_before_the_set_up_s_own_calibration_is_past_too() -> None:
    text = PLANT.replace("calibrated = 2026-09-01", "calibrated = 2026-10-03")
    (chart,) = made(check(47, "200.05"), check(48, "200.01"), text=text)
    assert [p.current for p in chart.points] == [False, True]


def test_each_weight_has_its_chart_scales_in_the_set_up_s_order() -> None:
    found = made(check(1, "20.0001", "LAB", "20.0 g"), check(2, "500.0"  , standard="500.0 g"), check(3, "200.0"))
    assert [(c.code, c.certified) for c in found] == [("S1", g("200")), ("S1", g("500")), ("LAB", g("20"))]


def test_a_standard_through_an_assay_by_metal() -> None:
    """Fire, repeatability 0.3 ‰ (assumed). Samples 499.8, 500.2 and 500.6: mean of 500.0 and 500.6 is 500.3 ‰.

    σ of it: 0.3 ‰ × √((1/2 + 1/1)/2²) = 0.183 7 ‰, so that +0.3 ‰ is 1.6 σ, and +0.4 ‰ of silver 2.2 σ.
    """
    results = {"gold": [["499.8", "500.2"], ["500.6"]], "silver": [["200.3‰", "200.5‰"], ["200.4‰"]]}
    standard = {"gold": "500‰", "silver": "200‰"}
    gold, silver = made(ticket(1, "checkweigh", method="FIRE", standard=standard, results=results))
    assert (gold.code, gold.metal, gold.certified) == ("FIRE", "gold", Fraction(1, 2))
    assert gold.points[0].off == Fraction(3, 10_000)
    assert gold.points[0].sd == pytest.approx(0.3e-3 * sqrt(1.5 / 4))
    assert (gold.mark(gold.points[0]), silver.mark(silver.points[0])) == ("", "warn")
    assert gold.shared_sd == pytest.approx(0.1e-3)


def test_a_bare_standard_is_of_the_first_metal() -> None:
    (chart,) = made(ticket(1, "checkweigh", method="FIRE", standard="12K", results={"gold": [["500.1"]]}))
    assert (chart.metal, chart.certified) == ("gold", Fraction(1, 2))


def test_a_reversed_check_is_no_point() -> None:
    (chart,) = made(check(1, "200.50"), reversal(2, 1), check(3, "200.0"))
    assert [p.ticket for p in chart.points] == ["T-0003"]


def test_one_instrument_only_and_an_unknown_one_is_named() -> None:
    both = (check(1, "200.0"), check(2, "20.0", "LAB", "20.0 g"))
    assert [c.code for c in made(*both, code="LAB")] == ["LAB"]
    with pytest.raises(WrongUsage, match="S1, LAB, FIRE"):
        made(*both, code="S9")
