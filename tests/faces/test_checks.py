"""lemel checks: all instruments, one of them, none."""

from __future__ import annotations

from pathlib import Path

import pytest

from ledger.faces.printing import cells
from tests.book.plants import ticket
from tests.faces.books import filed
from tests.faces.conftest import Lemel


@pytest.fixture
def drifted(tmp_path: Path) -> Path:
    """S1 0.04 g high four times (10 g × its σ allowed); FIRE once on a standard."""
    weigh = {"scale": "S1", "standard": "200.0 g", "reading": "200.04 g"}
    return filed(
        tmp_path, *(ticket(n, "checkweigh", **weigh) for n in range(1, 5)),
        ticket(5, "checkweigh", method="FIRE", standard={"gold": "585‰"}, results={"gold": [["585.1", "585.3"]]}),
    )  # fmt: skip


def test_a_line_for_each_instrument(lemel: Lemel, drifted: Path) -> None:
    done = lemel("checks", "--book", drifted)
    assert done.status == 0
    assert all(cells(line) <= 80 for line in done.out.splitlines())
    text = " ".join(done.out.split())
    assert "FIRE gold 585.000 ‰ 1 2026-10-01 0.200 ‰" in text
    assert "S1: off by more than 3 times that. Calibrate it" in text


def test_one_instrument_check_by_check(lemel: Lemel, drifted: Path) -> None:
    done = lemel("checks", "S1", "--book", drifted, "--unit", "mg")
    assert all(cells(line) <= 80 for line in done.out.splitlines())
    assert [line.split()[-1] for line in done.out.splitlines() if line.startswith("T-000")] == ["!!"] * 4
    assert "40.0" in done.out
    assert "FIRE" not in done.out


def test_the_document(lemel: Lemel, drifted: Path) -> None:
    """Four times +0.04 g: the limit of the mean is 3 × 0.005774/√4 g, the shared σ 0.005 % of 200 g."""
    scale, method = lemel("checks", "--book", drifted, "--json").json["charts"]
    assert (scale["scale"], scale["certified"], scale["points"][0]["off"]) == ("S1", "200.000000000", "0.040000000")
    assert (scale["mean_off"], scale["shared_sigma"]) == (pytest.approx(0.04), pytest.approx(0.01))
    assert scale["mean_limit"] == pytest.approx(0.0086603, abs=1e-6)
    assert (scale["beyond_act"], scale["drifting"], scale["beyond_shared"]) == (4, True, True)
    assert (method["method"], method["metal"], method["points"][0]["off"]) == ("FIRE", "gold", "1/5000")


def test_the_same_bytes_twice(lemel: Lemel, drifted: Path) -> None:
    assert lemel("checks", "--book", drifted, "--json").out == lemel("checks", "--book", drifted, "--json").out


def test_nothing_checked_yet(lemel: Lemel, empty: Path) -> None:
    assert "no check weight and no standard recorded" in lemel("checks", "--book", empty).out
    assert lemel("checks", "--book", empty, "--json").json["charts"] == []


def test_an_unknown_instrument_is_named_with_the_known_ones(lemel: Lemel, drifted: Path) -> None:
    done = lemel("checks", "S9", "--book", drifted)
    assert (done.status, done.out) == (2, "")
    assert "S1, LAB, FIRE" in done.err
