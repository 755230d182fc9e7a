"""Fitting words and figures on paper."""

from __future__ import annotations

import subprocess
import sys
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.faces.pack.pictures.canvas import fitted, spread_out, step_text, width_of

ROOT = Path(__file__).resolve().parents[4]


def test_loading_the_pictures_loads_no_drawing_library() -> None:
    code = (
        "import sys, ledger.faces.pack.pictures.from_material; "
        "print(sorted({'matplotlib', 'numpy'} & set(sys.modules)))"
    )
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert loaded.stdout == "[]\n"


@given(st.text(max_size=64), st.floats(0.2, 3))
def test_a_fitted_name_is_no_wider_and_says_where_it_was_cut(name: str, width: float) -> None:
    shown = fitted(name, width)
    assert shown == name or (width_of(shown) <= width and shown.endswith("…") and name.startswith(shown[:-1]))


@given(st.lists(st.floats(-2, 12), min_size=1, max_size=8))
def test_labels_keep_their_order_and_their_distance_within_the_ends(wanted: list[float]) -> None:
    placed = spread_out(wanted, 1.0, 0.0, 10.0)
    by_wish = [place for _, place in sorted(zip(wanted, placed, strict=True))]
    assert all(b - a >= 1.0 - 1e-9 for a, b in pairwise(by_wish))
    assert min(placed) >= -1e-9
    assert max(placed) <= 10.0 + 1e-9


def test_labels_that_have_room_stay_where_they_belong() -> None:
    assert spread_out([2.0, 8.0], 1.0, 0.0, 10.0) == [2.0, 8.0]
    assert spread_out([5.0, 5.0], 1.0, 0.0, 5.5) == [4.5, 5.5]


@pytest.mark.parametrize(("value", "text"), [(0.0, "0"), (-0.0, "0"), (2500.0, "2,500"), (0.25, "0.25"), (-1.5, "-1.5"),
                                             (1e-17, "0"), (10.0, "10")])  # fmt: skip
def test_a_round_number_has_no_digits_it_does_not_need(value: float, text: str) -> None:
    assert step_text(value) == text
