"""Pictures of what went before: the cumulative, z, running tests, the map of areas and periods."""

from __future__ import annotations

from typing import Any

from ledger.faces.pack.pictures.area_months import Balance, Balances, area_months
from ledger.faces.pack.pictures.canvas import Missing
from ledger.faces.pack.pictures.cumulative import Stand, cumulative
from ledger.faces.pack.pictures.running_tests import running_tests
from ledger.faces.pack.pictures.z_scores import Scores, z_scores
from tests.faces.pack.pictures.drawings import GRAMS, drawn, figures, known, texts

PERIODS = ["2026-08", "2026-09", "2026-10"]
STANDS = [Stand("2026-08", "-0.200000000", 0.1, ()), Stand("2026-09", "0.300000000", 0.2, ("MELT", "ROLL")),
          Stand("2026-10", "0.950000000", 0.3, ())]  # fmt: skip


def test_the_cumulative_ends_beside_its_band() -> None:
    picture = cumulative(GRAMS, "plant", "the plant", STANDS)
    assert figures(picture) == ["0.950", "0.900", "-0.900"]
    assert [row["band"] for row in picture.figures.rows] == ["0.300000000", "0.600000000", "0.900000000"]
    assert "0.950 g of gold, outside its ±3 σ of 0.900 g" in picture.says


def test_clean_outs_are_marked_and_named() -> None:
    picture = cumulative(GRAMS, "plant", "the plant", STANDS)
    assert texts(picture).count("▲") == 1
    assert [row["cleaned_out"] for row in picture.figures.rows] == [None, "MELT, ROLL", None]


def test_one_period_alone_has_its_band_too() -> None:
    picture = cumulative(GRAMS, "plant", "the plant", STANDS[-1:])
    assert figures(picture) == ["0.950", "0.900", "-0.900"]


def test_z_by_area_says_who_is_furthest_out() -> None:
    areas = [Scores("MELT", [0.5, None, -1.0]), Scores("ROLL", [0.1, 2.5, 538.64]), Scores("WET", [None] * 3)]
    picture = drawn(z_scores(GRAMS, PERIODS, areas))
    assert "1 of 2 areas judged lies beyond ±3 σ; ROLL is furthest out, at z = 538.6" in picture.says
    assert figures(picture) == ["-1.0", "538.6"]
    assert [row["z_2026-10"] for row in picture.figures.rows] == [-1.0, 538.64, None]


def test_without_a_judged_area_there_is_no_picture_but_a_sentence() -> None:
    made = z_scores(GRAMS, PERIODS, [Scores("MELT", [1.0, 1.0, None])])
    assert isinstance(made, Missing)
    assert made.why.endswith(".")


def month(period: str, missing: float, over: float) -> dict[str, Any]:
    return {"period": period, "residual": 1.0, "missing": missing, "over": over, "trickle": None}


TREND: dict[str, Any] = {
    "until": "2026-10", "thresholds": {"page": 7.182501, "month": 3.7, "trickle": 3.0},
    "areas": [
        {"area": "MELT", "verdict": "signalled", "months": [month("2026-09", 4.0, 0.0), month("2026-10", 8.25, 0.5)],
         "signals": [{"period": "2026-10", "test": "page", "way": "missing"}]},
        {"area": "ROLL", "verdict": "quiet", "months": [month("2025-09", 9.9, 0.0), month("2026-10", 0.0, 1.125)],
         "signals": []},
        {"area": "NEW", "verdict": "quiet", "months": [], "signals": []},
    ],
}  # fmt: skip


def test_the_running_tests_are_drawn_with_their_line_and_both_sums() -> None:
    picture = drawn(running_tests(GRAMS, TREND, PERIODS))
    assert "signal in MELT; the highest sum stands at 8.25 (MELT, missing) against a line of 7.18" in picture.says
    assert figures(picture) == ["8.25", "0.00", "0.50", "1.12"]
    assert "Dashed: the line at 7.18 σ; up the sum of what is missing, down of what is over." in texts(picture)
    assert [(row["area"], row["period"], row["signal"]) for row in picture.figures.rows] == [
        ("MELT", "2026-09", None), ("MELT", "2026-10", "page, missing"), ("ROLL", "2026-10", None),
    ]  # fmt: skip


def test_running_tests_that_have_not_begun_are_a_sentence() -> None:
    assert isinstance(running_tests(GRAMS, TREND | {"areas": TREND["areas"][2:]}, PERIODS), Missing)


BALANCES = [
    Balances("MELT", [Balance("0.100000000", 0.4, True), Balance("1008.896387200", 345.0, True),
                      Balance("0.000400000", None, False)]),
    Balances("ROLL", [Balance("-0.215000000", -2.4, True), Balance("0.073000000", 1.0, True),
                      Balance("-28.139000000", -95.0, True)]),
]  # fmt: skip


def test_every_cell_of_the_map_carries_its_figure() -> None:
    picture = drawn(area_months(GRAMS, PERIODS, BALANCES))
    assert [text for text in texts(picture) if "." in text][1:] == [
        "0.100", "1,008.896", "(0.000)", "-0.215", "0.073", "-28.139",
    ]  # fmt: skip
    assert "2 of 5 judged balances of 3 periods lie beyond ±3 σ" in picture.says
    assert "MELT in 2026-09, with 1,008.896 g" in picture.says
    assert set(figures(picture)) <= known(picture, GRAMS)


def test_of_figures_too_long_for_a_year_the_latest_periods_are_drawn_and_all_are_in_the_schedule() -> None:
    many = [f"2026-{n:02d}" for n in range(1, 13)]
    picture = drawn(area_months(GRAMS, many, [Balances("MELT", [Balance("1234567.123456789", 1.0, True)] * 12)]))
    shown = [period for period in many if period in texts(picture)]
    assert shown == many[12 - len(shown) :]
    assert 6 <= len(shown) < 12
    assert len(picture.figures.columns) == 13
