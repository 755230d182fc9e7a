"""Pictures of estimates, refiners, check weights, the variance, the flow and what is open."""

from __future__ import annotations

from ledger.faces.pack.pictures.ages import Open, ages
from ledger.faces.pack.pictures.canvas import Missing
from ledger.faces.pack.pictures.check_weights import Checked, Reading, check_weights
from ledger.faces.pack.pictures.flow import Carried, flow
from ledger.faces.pack.pictures.refiners import Lot, Settlements, refiners
from ledger.faces.pack.pictures.streams import Stream, streams
from ledger.faces.pack.pictures.variance import Source, variance
from tests.faces.pack.pictures.drawings import GRAMS, drawn, figures, known, texts

STREAMS = [
    Stream("MELT difference, SLAG", "20.000000000", "19.000000000", [0.9, 1.0], 0.95, 0.91, 0.99, "below",
           "1.000000000", "2026-09-01"),
    Stream("FINISH dust, SWEEPS", "5.000000000", "5.100000000", [1.02], 1.02, None, None, "too few",
           "0.000000000", None),
]  # fmt: skip


def test_a_stream_that_settles_to_one_side_is_named_with_its_size() -> None:
    picture = drawn(streams(GRAMS, STREAMS))
    assert "1 of 2 streams settle to one side, most of all MELT difference, SLAG: 0.950" in picture.says
    assert figures(picture) == ["20.000", "19.000", "0.950", "5.000", "5.100", "1.020"]


def test_streams_without_a_bias_are_said_to_have_none() -> None:
    assert "None of 1 stream shows a bias" in drawn(streams(GRAMS, STREAMS[1:])).says
    assert isinstance(streams(GRAMS, []), Missing)


def lot(n: int, recorded: str, difference: str) -> Lot:
    agreed = f"{float(recorded) - float(difference):.9f}"
    return Lot(f"2026-0{n}-12", f"RB-{n}", f"HC-{n}", "measured", recorded, agreed, difference)


LOTS = [lot(1, "100.000000000", "0.200000000"), lot(2, "50.000000000", "0.050000000"),
        lot(3, "10.000000000", "-0.010000000")]  # fmt: skip


def test_the_refiner_s_mean_is_by_mass_and_the_signs_are_counted() -> None:
    picture = drawn(refiners(GRAMS, Settlements("EDDLE", LOTS, 2, 1, 1.0)))
    assert "less than recorded on 2 lots and to more on 1, 1.50 ‰" in picture.says  # 0.24 of 160 g
    assert [row["per_mille"] for row in picture.figures.rows] == [2.0, 1.0, -1.0]
    assert "mean 1.50 ‰" in texts(picture)


def test_a_refiner_whose_lots_all_stood_on_estimates_is_a_sentence() -> None:
    made = refiners(GRAMS, Settlements("EDDLE", [], 0, 0, None))
    assert isinstance(made, Missing)
    assert "EDDLE" in made.why


CHECKED = [
    Checked("S-VAULT", "1,000 g", [Reading("2025-10-31T07:00", 9.0, False), Reading("2025-11-02T07:00", 0.5, False),
                                   Reading("2026-10-01T07:05", -4.25, True)], -0.5),
    Checked("FIRE", "gold 585‰", [Reading("2025-01-01T07:00", 8.0, False)], None),
]  # fmt: skip


def test_check_weights_of_the_days_asked_for_are_drawn_and_those_beyond_counted() -> None:
    picture = drawn(check_weights(GRAMS, "2025-11-01", "2026-10-31", CHECKED))
    assert "1 of 2 checks lies beyond ±3 σ; the furthest out is S-VAULT on 2026-10-01, off by -4.2 σ" in picture.says
    assert figures(picture) == ["-4.2", "-0.5"]
    assert [(row["checks"], row["beyond"]) for row in picture.figures.rows] == [(2, 1)]


def test_without_a_check_the_page_says_that_nothing_shows_the_scales_to_read_true() -> None:
    made = check_weights(GRAMS, "2025-11-01", "2026-10-31", CHECKED[1:])
    assert isinstance(made, Missing)


def test_the_variance_is_drawn_by_its_largest_sources_and_the_rest_together() -> None:
    shares = [0.5, 0.2, *[0.03] * 10]
    sources = [Source(f"sort {i}", 1, share**0.5, share, "mend") for i, share in enumerate(shares)]
    picture = drawn(variance(GRAMS, "MELT", "MELT", sources))
    rows = picture.figures.rows
    assert len(rows) == 10
    assert rows[-1]["source"] == "3 further sorts"
    assert abs(sum(float(row["share"] or 0) for row in rows) - 1) < 1e-9
    assert rows[-1]["sigma"] == "0.300000000"  # √(3 × 0.03)
    assert set(figures(picture)) == {"50.00", "0.707", "20.00", "0.447", "3.00", "0.173", "9.00", "0.300"}


def test_a_balance_of_nothing_has_no_variance() -> None:
    assert isinstance(variance(GRAMS, "WET", "WET", []), Missing)


CARRIED = [Carried("received", "VAULT", "300.000000000"), Carried("VAULT", "MELT", "250.500000000"),
           Carried("MELT", "VAULT", "20.000000000"), Carried("VAULT", "ROLL", "-1.000000000")]  # fmt: skip


def test_the_flow_s_bars_are_what_each_place_gave_and_took_in_all_with_what_was_undone() -> None:
    picture = drawn(flow(GRAMS, "2026-10", CARRIED))
    assert "the widest is from received to VAULT, with 300.000 g" in picture.says
    assert figures(picture) == ["300.000", "249.500", "20.000", "320.000", "250.500"]
    assert set(figures(picture)) <= known(picture, GRAMS)
    assert {row["mass"] for row in picture.figures.rows} == {c.mass for c in CARRIED}


def test_a_month_in_which_nothing_moved_is_a_sentence() -> None:
    assert isinstance(flow(GRAMS, "2026-10", CARRIED[3:]), Missing)


ITEMS = [Open("estimates", "SW-0001", 12, "1.500000000"), Open("estimates", "SW-0002", 30, "0.500000000"),
         Open("estimates", "SW-0003", 31, "2.000000000"), Open("differences", "ROLL", 400, "-3.000000000"),
         Open("differences", "MELT", 366, "4.000000000")]  # fmt: skip


def test_open_items_stand_in_their_band_of_age_and_are_never_netted() -> None:
    picture = drawn(ages(GRAMS, "2026-10-31", ITEMS))
    assert [text for text in texts(picture) if "(" in text] == ["2.000 (2)", "2.000 (1)", "7.000 (2)"]
    assert [(row["age"], row["items"], row["oldest"], row["days"]) for row in picture.figures.rows] == [
        ("to 30 days", 2, "SW-0002", 30), ("31 to 90", 1, "SW-0003", 31), ("older", 2, "ROLL", 400),
    ]  # fmt: skip
    assert "5 items of gold stood open, 2 of them for more than 90 days with 7.000 g" in picture.says


def test_nothing_open_is_said() -> None:
    assert isinstance(ages(GRAMS, "2026-10-31", []), Missing)
