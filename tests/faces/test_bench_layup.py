"""lemel bench layup: weighed, planned and measured sandwiches against their mark."""

from __future__ import annotations

from pathlib import Path

import pytest

from ledger.faces.printing import cells
from tests.faces.conftest import Lemel

WEIGHED = ("--layer", "505.20 g, 12K, 13.07 g/cm³", "--base", "9494.80 g, 8.53 g/cm³")


def test_a_weighed_sandwich_and_what_it_gives_away(lemel: Lemel) -> None:
    asked = ("bench", "layup", "1/20 12K", *WEIGHED, "--shipped", "120 kg", "--price", "2488.278144 USD/ozt")
    document = lemel(*asked, "--json").json
    # By hand: 5.052 % × 500 ‰ = 25.26 ‰, 0.26 ‰ over; of 120 kg 31.2 g; at 80 a gram 2496.
    assert (document["meets"], document["above"], document["fineness"]) == (True, "0.260000", "25.260000")
    assert document["given_away"] == {"shipped": "120000.000000000", "fine": "31.200000000",
                                      "price": "2488.278144 USD/ozt", "value": "2496.00"}  # fmt: skip
    assert "2496.00 USD" in lemel(*asked).out


def test_the_page_names_its_text_gives_no_advice_and_cautions(lemel: Lemel) -> None:
    done = lemel("bench", "layup", "1/20 12K", *WEIGHED, "--gauge", "0.50 mm", "--gauge", "24 AWG", "--faces", "2")
    assert all(cells(line) <= 80 for line in done.out.splitlines())
    page = " ".join(done.out.split())
    for words in ("16 CFR 23.3", "gold filled", "no legal advice", "Joints, catches, screws, pin stems", "Cadmium",
                  "beryllium", "local codes", "on each of two faces = 8.39 µm"):  # fmt: skip
        assert words in page


def test_a_planned_sandwich_is_weighed_out_to_the_scale(lemel: Lemel) -> None:
    asked = ("bench", "layup", "1/20 12K", "--mass", "10.003 kg", "--layer", "12K", "--division", "0.1 g")
    document = lemel(*asked, "--json").json
    assert document["planned"]
    assert [part["mass"] for part in document["parts"]] == ["500.200000000", "0.000000000", "9502.800000000"]
    assert document["meets"]


def test_clad_stock_of_the_book_brings_its_alloys_and_the_price(lemel: Lemel, month: Path) -> None:
    asked = ("bench", "layup", "CL20", "--layer", "99.40 g", "--base", "1880 g", "--bond", "20 g", "--shipped", "10 kg",
             "--book", month)  # fmt: skip
    document = lemel(*asked, "--json").json
    assert (document["mark"], document["meets"]) == ("1/20 12K", False)
    assert document["parts"][1]["fineness"] == {"gold": "0.000000", "silver": "450.000000"}
    assert document["given_away"]["price"].startswith("2500 USD/ozt of 2026-10-30")
    assert document["given_away"]["fine"].startswith("-")
    assert "under-delivered in a month" in " ".join(lemel(*asked).out.split())


def test_a_bond_counts_only_when_it_is_said_to(lemel: Lemel) -> None:
    asked = ("bench", "layup", "1/20 12K", "--layer", "49 g, 14K", "--base", "946 g", "--bond", "5 g, 6K", "--json")
    assert not lemel(*asked).json["meets"]
    assert lemel(*asked, "--bond-counts").json["meets"]


def test_thicknesses_become_a_weight_ratio(lemel: Lemel) -> None:
    asked = ("--layer", "0.5 mm, 14K, 13.07 g/cm³", "--base", "14.556 mm, 8.53 g/cm³", "--gauge", "0.5 mm")
    document = lemel("bench", "layup", "1/20 14K", *asked, "--json").json
    assert document["layer_share"] == "5.000089"
    assert document["gauges"][0]["layer"] == "0.016605"
    assert document["mass"] is None


def test_a_density_that_nobody_measured_is_said_to_be_mixed(lemel: Lemel) -> None:
    asked = ("bench", "layup", "1/20 14K", "--layer", "50 g, gold=583‰, silver=104‰, copper=313‰", "--base",
             "950 g, 8.53 g/cm³")  # fmt: skip
    document = lemel(*asked, "--json").json
    assert [part["density_mixed"] for part in document["parts"]] == [True, False, False]
    assert "by the rule of mixtures" in " ".join(lemel(*asked).out.split())


@pytest.mark.parametrize(
    ("arguments", "option"),
    [(("20 12K", *WEIGHED), "MARK"), (("1/20 12K", *WEIGHED, "--faces", "3"), "--faces"),
     (("1/20 12K", *WEIGHED, "--gauge", "5"), "--gauge"), (("1/20 12K", "--layer", "5 oz"), "--layer"),
     (("1/20 12K", *WEIGHED, "--shipped", "1 kg", "--price", "2650"), "--price")],
)  # fmt: skip
def test_a_wrong_option_is_named(lemel: Lemel, arguments: tuple[str, ...], option: str) -> None:
    done = lemel("bench", "layup", *arguments)
    assert (done.status, done.out) == (2, "")
    assert done.err.startswith(f"{option}: ")


def test_a_sandwich_without_a_base_is_refused(lemel: Lemel) -> None:
    done = lemel("bench", "layup", "1/20 12K", "--layer", "50 g, 12K")
    assert (done.status, done.out) == (3, "")
    assert "not all stated alike" in done.err


def test_the_only_book_of_the_folder_is_taken_and_none_is_missed(
    lemel: Lemel, month: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = ("bench", "layup", "1/20 12K", "--mass", "10 kg", "--layer", "12K", "--shipped", "400 kg", "--json")
    monkeypatch.chdir(tmp_path)
    assert lemel(*asked).json["given_away"]["price"] is None
    monkeypatch.chdir(month.parent)
    assert lemel(*asked).json["given_away"]["price"] is not None


def test_nothing_is_printed_before_a_refusal(lemel: Lemel) -> None:
    refused = lemel("bench", "layup", "1/20 12K", "--mass", "10 kg", "--layer", "12K", "--gauge", "0.5 mm")
    assert (refused.status, refused.out) == (3, "") or (refused.status, refused.out) == (2, "")
    assert "density" in refused.err
