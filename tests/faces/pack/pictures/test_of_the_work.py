"""Loss by shift and machine, and against what was put in."""

from __future__ import annotations

import numpy as np
import pytest

from ledger.faces.pack.pictures.canvas import Missing
from ledger.faces.pack.pictures.funnel import Level, funnel
from ledger.faces.pack.pictures.throughput import Worked, fitted_line, throughput
from tests.faces.pack.pictures.drawings import GRAMS, drawn, figures, known, texts

LEVELS = [
    Level("BUFFING", "shift", "day", 8, 0, "400.000000000", "-0.100000000", 0.1),
    Level("BUFFING", "shift", "late", 4, 1, "100.000000000", "0.900000000", 0.1),
    Level("BUFFING", "machine", "buff 1", 12, 1, "500.000000000", "0.800000000", 0.15),
    Level("ROLLING", "shift", "day", 3, 0, "50.000000000", "0.000000000", 0.01),
]


def test_a_level_is_compared_with_its_own_operation_only() -> None:
    picture = drawn(funnel(GRAMS, "2026-10", LEVELS))
    compared = [(row["operation"], row["level"]) for row in picture.figures.rows]
    assert compared == [("BUFFING", "day"), ("BUFFING", "late")]
    day, late = picture.figures.rows
    assert (day["rate"], day["mean"], day["sigma"]) == (-0.25, 1.6, 0.25)  # ‰ of 400 g; 0.8 of 500 g
    assert (late["rate"], late["z"]) == (9.0, 7.4)  # (9 − 1.6) ‰ ÷ 1 ‰
    assert "2 of 2 shifts and machines lie beyond ±3 σ" in picture.says
    assert {"day", "late"} <= set(texts(picture))


def test_it_says_that_it_is_no_finding_about_a_person() -> None:
    assert any("no finding about any person" in note for note in drawn(funnel(GRAMS, "2026-10", LEVELS)).figures.notes)


def test_where_all_was_worked_in_one_shift_there_is_nothing_to_compare() -> None:
    assert isinstance(funnel(GRAMS, "2026-10", LEVELS[2:]), Missing)


def worked(put_in: float, lost: float, sigma: float = 0.1, apart: bool = False) -> Worked:
    return Worked("ROLL", f"{put_in:.9f}", f"{lost:.9f}", f"{0.001 * put_in:.9f}", sigma, apart)


TICKETS = [worked(10, 0.03, 0.01), worked(20, 0.045, 0.02), worked(40, 0.10, 0.01), worked(80, 0.17, 0.05),
           worked(60, 9.0, 0.1, True)]  # fmt: skip


def test_the_line_is_that_of_weighted_least_squares() -> None:
    """Against numpy.polyfit with weights 1/σ and its unscaled covariance."""
    line = fitted_line(TICKETS)
    assert line is not None
    x, y, sigma = (np.array([float(getattr(t, key)) for t in TICKETS[:4]]) for key in ("put_in", "difference", "sigma"))
    (slope, intercept), covariance = np.polyfit(x, y, 1, w=1 / sigma, cov="unscaled")
    assert (line.slope, line.intercept) == pytest.approx((slope, intercept))
    assert (line.slope_sigma, line.intercept_sigma) == pytest.approx(tuple(np.sqrt(np.diag(covariance))))


def test_a_line_needs_four_tickets_of_different_size() -> None:
    assert fitted_line(TICKETS[:3]) is None
    assert fitted_line([worked(10, 0.01)] * 6) is None
    assert isinstance(throughput(GRAMS, "2026-10", TICKETS[:3]), Missing)


def test_something_lost_with_each_ticket_is_told_from_what_is_allowed() -> None:
    picture = drawn(throughput(GRAMS, "2026-10", [worked(x, 0.5 + 0.001 * x) for x in (10, 20, 30, 40, 50)]))
    (row,) = picture.figures.rows
    assert (row["slope"], row["intercept"], row["allowed_slope"], row["allowed_intercept"]) == (
        1.0, "0.500000000", 1.0, "0.000000000",
    )  # fmt: skip
    assert float(row["z"] or 0) > 3
    assert "1 of 1 operation loses something that does not grow with what is put in" in picture.says


def test_a_ticket_that_stands_out_is_drawn_and_counted_but_not_in_the_line() -> None:
    picture = drawn(throughput(GRAMS, "2026-10", TICKETS))
    assert (picture.figures.rows[0]["tickets"], picture.figures.rows[0]["aside"]) == (5, 1)
    assert set(figures(picture)) <= known(picture, GRAMS)
