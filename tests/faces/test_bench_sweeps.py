"""lemel bench sweeps: one lot from a file, and the drums of a book."""

from __future__ import annotations

from pathlib import Path

import pytest

from ledger.faces.printing import cells
from tests.book.plants import lot, ticket
from tests.faces.books import filed
from tests.faces.conftest import Lemel


@pytest.fixture
def drums(tmp_path: Path) -> Path:
    """Four lots of sweeps estimated at 10 g; two assayed at 9.0 and 9.2 g."""
    estimate = {"content": {"gold": "10.0 g", "silver": "1.0 g"}, "basis": "estimated"}
    return filed(
        tmp_path,
        ticket(1, "open", area="FINISH", dust={"gold": "90.0 g", "silver": "30.0 g"}),
        ticket(2, "sweep", area="FINISH", lots=[lot(name, "100.00", **estimate) for name in "ABCD"]),
        ticket(3, "assay", lot="A", method="FIRE", content={"gold": "9.0 g"}),
        ticket(50, "assay", lot="B", method="FIRE", content={"gold": "9.2 g"}),
    )


def test_a_lot_from_the_template(lemel: Lemel, tmp_path: Path) -> None:
    path = tmp_path / "lot.toml"
    path.write_text(lemel("bench", "sweeps", "--template").out, encoding="utf-8")
    document = lemel("bench", "sweeps", path, "--json").json
    gold = document["metals"][0]
    assert gold["fineness"] == "21.888000"  # 0.96 × 9.675 + 0.04 × 315
    assert document["line"]["content"]["gold"] == f"{gold['content'].rstrip('0')} g"
    text = " ".join(lemel("bench", "sweeps", path).out.split())
    for words in ("water would count as gold", "respirator", "cadmium", "For a ticket's line"):
        assert words in text


def test_the_drums(lemel: Lemel, drums: Path) -> None:
    """Ratios 0.90 and 0.92; C and D, 20 g: 18.2 − 6.3138 × 0.014142 × √(200 + 400/2) = 16.4143."""
    document = lemel("bench", "sweeps", "--book", drums, "--json").json
    assert {row["lot"]: row["days"] for row in document["lots"]} == {"A": 2, "B": 0, "C": 2, "D": 2}
    (stream,) = document["streams"]
    assert (stream["pairs"], stream["ratio"], stream["expected"]) == (2, 0.91, "18.200000000")
    assert float(stream["lower"]) == pytest.approx(16.4143, abs=1e-3)
    assert float(document["lower"]) == pytest.approx(float(stream["lower"]) + float(document["measured_lower"]))
    assert float(document["measured_lower"]) == pytest.approx(18.2 - 1.6449 * document["measured_sigma"], abs=1e-5)


def test_the_page(lemel: Lemel, drums: Path) -> None:
    done = lemel("bench", "sweeps", "--book", drums)
    assert done.status == 0
    assert all(cells(line) <= 80 for line in done.out.splitlines())
    text = " ".join(done.out.split())
    for words in ("FINISH dust", "0.910", "one-sided", "never above what is booked", "measured"):
        assert words in text


def test_gross_is_refused_and_an_empty_book_says_so(lemel: Lemel, drums: Path, empty: Path) -> None:
    assert lemel("bench", "sweeps", "--book", drums, "--metal", "gross").status == 2
    assert "no sweeps" in lemel("bench", "sweeps", "--book", empty).out


def test_a_lot_with_faults_says_file_and_line(lemel: Lemel, tmp_path: Path) -> None:
    path = tmp_path / "lot.toml"
    path.write_text('lot = "S"\nwet = "10.0 oz"\n[[part]]\nassay = { gold = "25‰" }\n', encoding="utf-8")
    done = lemel("bench", "sweeps", path)
    assert (done.status, done.out) == (3, "")
    assert "lot.toml:2" in done.err
