"""lemel trend: the running tests on paper and as a document."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from ledger.faces.printing import cells
from ledger.faces.trend_page import REACH, bars
from tests.faces.conftest import MONTH, Lemel

KEYS = ["plant", "metal", "sign", "until", "false_alarm_years", "areas_tested", "area_year_rate", "reference",
        "thresholds", "areas", "tickets", "record", "chain", "seal"]  # fmt: skip


def test_the_document_is_of_every_area_and_prints_the_same_bytes_again(lemel: Lemel, month: Path) -> None:
    done = lemel("trend", "--book", month, "--json")
    assert (done.status, list(done.json)) == (0, KEYS)
    statement = lemel("reconcile", "2026-10", "--book", month, "--json").json
    assert [a["area"] for a in done.json["areas"]] == [a["area"] for a in statement["areas"]]
    assert lemel("trend", "--book", month, "--json", "--unit", "ozt").out == done.out


def test_it_agrees_with_the_statement(lemel: Lemel, month: Path) -> None:
    statement = {a["area"]: a for a in lemel("reconcile", "2026-10", "--book", month, "--json").json["areas"]}
    for area in lemel("trend", "--book", month, "--json").json["areas"]:
        beside = statement[area["area"]]
        assert (area["cumulative"], area["cumulative_sigma"]) == (beside["cumulative"], beside["cumulative_sigma"])
        signalled = any(reason.startswith("the running test has signalled") for reason in beside["reasons"])
        assert (area["verdict"] == "signalled") is signalled
        for balance in area["months"]:
            assert (balance["unexplained"], balance["sigma"]) == (beside["unexplained"], beside["sigma"])


@pytest.mark.parametrize("options", [(), ("ROLL",), ("--metal", "gross"), ("--metal", "silver", "--unit", "ozt")])
def test_the_page_keeps_to_eighty_columns_and_says_its_sign_and_its_caution(
    lemel: Lemel, month: Path, options: tuple[str, ...]
) -> None:
    page = lemel("trend", "--book", month, *options)
    assert page.status == 0
    assert [line for line in page.out.splitlines() if cells(line) > 80] == []
    assert "A difference is + where metal is missing." in page.out
    assert "no finding about any person" in page.out


def test_one_area(lemel: Lemel, month: Path) -> None:
    document = lemel("trend", "ROLL", "--book", month, "--json").json
    assert [a["area"] for a in document["areas"]] == ["ROLL"]
    assert {run["area"] for run in document["tickets"]} == {"ROLL"}
    page = lemel("trend", "ROLL", "--book", month).out
    assert "signalled, missing since 2026-10" in page
    assert "MELT" not in page


def test_a_book_without_tickets_and_an_area_that_is_none(lemel: Lemel, empty: Path) -> None:
    assert lemel("trend", "--book", empty, "--json").json["areas"] == []
    assert lemel("trend", "--book", empty).status == 0
    assert lemel("trend", "NOWHERE", "--book", empty).status == 2


def test_the_drawing_shows_both_sides_zero_and_thresholds() -> None:
    assert bars(0, 0, 5) == " !" + " " * (REACH - 1) + "|" + " " * (REACH - 1) + "! "
    assert bars(0, 2.5, 5) == " !" + " " * (REACH - 1) + "|" + "#" * 6 + " " * 5 + "! "
    assert bars(2.5, 0, 5) == " !" + " " * 5 + "=" * 6 + "|" + " " * (REACH - 1) + "! "
    assert bars(0.01, 0, 5).count("=") == 1
    assert bars(0, 5.0, 5).endswith("#! ")
    assert bars(0, 5.1, 5).endswith("#!*")


def test_it_loads_no_numpy() -> None:
    program = (
        "import sys\nfrom ledger.balance.months import trend\nfrom ledger.balance.judging import run_length\n"
        "run_length.threshold_for_average(.5, 99)\n"
        "assert not {'numpy', 'scipy'} & set(sys.modules)"
    )
    root = MONTH.parents[1]
    subprocess.run([sys.executable, "-c", program], cwd=root, check=True)
