"""From the book to the count: steps that add up as the handbook's month-end does."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from ledger.faces.pack.pictures.waterfall import waterfall
from tests.faces.pack.pictures.drawings import GRAMS, figures, known, texts

AREA: dict[str, Any] = {
    "area": "MELT", "opening": "2.861000000", "received": "3276.292000000", "issued": "3274.185000000",
    "sweeps": "1.437000000", "closing": "3.552000000", "gross_loss": "2.853000000", "allowed": "2.524000000",
    "prior_period": "0.100000000", "unexplained": "0.229000000", "sigma": 0.05, "z": 4.58, "verdict": "short",
}  # fmt: skip


def stands_at(picture_rows: Any) -> dict[str, Fraction]:
    return {row["step"]: Fraction(row["stands_at"]) for row in picture_rows if row["stands_at"] is not None}


def test_the_steps_lead_from_the_opening_to_the_count_and_from_what_is_missing_to_the_unexplained() -> None:
    at = stands_at(waterfall(GRAMS, AREA, "MELT").figures.rows)
    assert at["there by the book"] == Fraction("6.405")  # 2.861 + 3276.292 − 3274.185 + 1.437
    assert at["there by the book"] - at["counted"] == Fraction(AREA["gross_loss"])
    assert at["of earlier periods"] == at["unexplained"] == Fraction(AREA["unexplained"])


def test_the_band_is_the_action_level_times_sigma() -> None:
    band = waterfall(GRAMS, AREA, "MELT").figures.rows[-1]
    assert (band["step"], band["mass"]) == ("band of ±3 σ", "0.150000000")


@pytest.mark.parametrize(
    ("changes", "said"),
    [({}, "0.229 g of gold unexplained in MELT: 4.6 σ, beyond the band of ±3 σ, which is 0.150 g"),
     ({"unexplained": "-0.100000000", "z": -2.0}, "-0.100 g of gold unexplained in MELT: -2.0 σ, inside"),
     ({"z": None, "sigma": 0.0}, "against a band of ±3 σ of 0.000 g")],
)  # fmt: skip
def test_it_says_what_is_left_and_against_what(changes: dict[str, Any], said: str) -> None:
    picture = waterfall(GRAMS, AREA | changes, "MELT")
    assert said in picture.says
    assert picture.says in picture.alternative


def test_losses_and_gains_of_the_plant_are_not_netted() -> None:
    plant = AREA | {"area": "plant", "unexplained_losses": "5.000000000", "unexplained_gains": "-4.771000000"}
    assert "losses of 5.000 g stand against gains of -4.771 g" in waterfall(GRAMS, plant, "the plant").says


def test_what_was_not_counted_is_not_called_counted() -> None:
    picture = waterfall(GRAMS, AREA, "MELT", counted=False)
    assert "counted" not in texts(picture)
    assert "as recorded" in texts(picture)
    assert "may still change" in picture.says


def test_every_figure_drawn_is_one_of_the_schedule() -> None:
    picture = waterfall(GRAMS, AREA, "MELT")
    assert len(figures(picture)) == len(picture.figures.rows)
    assert set(figures(picture)) <= known(picture, GRAMS)
