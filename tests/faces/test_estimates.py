"""lemel estimates: streams, the interval, refiners and their signs."""

from __future__ import annotations

from pathlib import Path

import pytest

from ledger.faces.printing import cells
from tests.book.plants import bought, lot, ticket
from tests.faces.books import filed
from tests.faces.conftest import Lemel


@pytest.fixture
def twelve(tmp_path: Path) -> Path:
    """Two sweeps assayed, one still an estimate; twelve bars of 50 g settled 0.03 % low."""
    bars = [f"R{i}" for i in range(12)]
    line = {"gold": "500", "silver": "10", "method": "FIRE"}
    agreed = {"gold": "49.985 g", "silver": "1.0 g"}
    estimate = {"content": {"gold": "10.0 g", "silver": "1.0 g"}, "basis": "estimated"}
    sweeps = [lot(name, "100.00", **estimate) for name in ("A", "B", "C")]
    return filed(
        tmp_path,
        ticket(1, "open", area="FINISH", dust={"gold": "90.0 g", "silver": "30.0 g"}),
        ticket(2, "sweep", area="FINISH", lots=sweeps),
        ticket(3, "assay", lot="A", method="FIRE", content={"gold": "9.0 g"}),
        ticket(4, "assay", lot="B", method="FIRE", content={"gold": "8.0 g"}),
        bought(5, "PLATER", *(lot(name, "100.00", **line) for name in bars)),
        *(
            ticket(6 + i, "settle", area="PLATER", party="REF",
                   lots=[lot(name, received="100.0 g", agreed=agreed, payable=agreed)])
            for i, name in enumerate(bars)
        ),
    )  # fmt: skip


def test_figures(lemel: Lemel, twelve: Path) -> None:
    """Ratios 0.9 and 0.8: mean 0.85, s = 0.0707; ± 12.706 × 0.0707/√2 = ± 0.635."""
    document = lemel("estimates", "--book", twelve, "--json").json
    (stream,) = document["streams"]
    assert (stream["account"], stream["area"], stream["estimated"]) == ("dust", "FINISH", "20.000000000")
    assert stream["ratio"] == pytest.approx({"mean": 0.85, "sd": 0.070711, "low": 0.2147, "high": 1.4853}, abs=1e-4)
    assert stream["open"]["lots"] == ["C"]
    (refiner,) = document["refiners"]
    assert refiner["difference"] == "0.180000000"
    assert refiner["sign_test"] == {"below": 12, "above": 0, "equal": 0, "p_below": 1 / 4096, "p_either": 1 / 2048}


def test_the_page(lemel: Lemel, twelve: Path) -> None:
    done = lemel("estimates", "--book", twelve)
    assert done.status == 0
    assert all(cells(line) <= 80 for line in done.out.splitlines())
    text = " ".join(done.out.split())
    for words in ("FINISH dust", "0.850", "0.215 to 1.485", "12 below our figure", "p = 0.00024", "no finding about"):
        assert words in text


def test_a_metal_without_an_assay_has_no_pairs_and_gross_is_no_estimate(lemel: Lemel, twelve: Path) -> None:
    (silver,) = lemel("estimates", "--book", twelve, "--json", "--metal", "silver").json["streams"]
    assert (silver["pairs"], silver["open"]["lots"]) == ([], ["C"])
    done = lemel("estimates", "--book", twelve, "--metal", "gross")
    assert (done.status, done.out) == (2, "")
    assert "gold, silver" in done.err


def test_an_empty_book_says_so(lemel: Lemel, empty: Path) -> None:
    assert "no estimate has been tested" in lemel("estimates", "--book", empty).out
    document = lemel("estimates", "--book", empty, "--json").json
    assert (document["streams"], document["refiners"]) == ([], [])


def test_the_same_bytes_twice(lemel: Lemel, twelve: Path) -> None:
    assert lemel("estimates", "--book", twelve, "--json").out == lemel("estimates", "--book", twelve, "--json").out
