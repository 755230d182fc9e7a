"""lemel reconcile: the statement on paper says what the document says, whole and in eighty columns."""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, Decimal
from pathlib import Path

import pytest

from ledger.faces.printing import cells
from tests.faces.conftest import Lemel

COLUMNS = ("opening", "received", "issued", "closing", "difference", "sweeps", "gross_loss")
SHOWN = [(), ("--metal", "gross"), ("--metal", "silver", "--unit", "ozt"), ("--unit", "grain")]


def test_the_page_has_every_figure_of_the_balance(lemel: Lemel, month: Path) -> None:
    page = lemel("reconcile", "2026-10", "--book", month)
    assert page.status == 0
    lines = [line.split() for line in page.out.partition("Judgement")[0].splitlines()]
    rows = {line[0]: line[1:] for line in lines if line}
    for area in lemel("reconcile", "2026-10", "--book", month, "--json").json["areas"]:
        figures = [area[key] for key in COLUMNS]
        printed = [Decimal(cell.replace(",", "")) for cell in rows[area["area"]]]
        assert printed == [Decimal(f).quantize(Decimal("0.001"), ROUND_HALF_EVEN) for f in figures]


@pytest.mark.parametrize("options", SHOWN)
def test_eighty_columns_whatever_the_metal_and_unit(lemel: Lemel, month: Path, options: tuple[str, ...]) -> None:
    page = lemel("reconcile", "2026-10", "--book", month, *options).out
    assert [line for line in page.splitlines() if cells(line) > 80] == []


def test_says_the_sign_the_unit_the_metal_and_the_caution(lemel: Lemel, month: Path) -> None:
    page = lemel("reconcile", "2026-10", "--book", month, "--metal", "silver", "--unit", "dwt").out
    assert "silver, in dwt" in page.splitlines()[0]
    assert "A difference is + where metal is missing." in page
    assert "no finding about any person" in page
    assert "inform counsel and insurer" in " ".join(page.split())


def test_verdicts_and_reasons_stand_on_the_page(lemel: Lemel, month: Path) -> None:
    page = " ".join(lemel("reconcile", "2026-10", "--book", month).out.split())
    for area in lemel("reconcile", "2026-10", "--book", month, "--json").json["areas"]:
        for reason in area["reasons"]:
            assert reason in page


def test_one_area(lemel: Lemel, month: Path) -> None:
    document = lemel("reconcile", "2026-10", "--area", "ROLL", "--book", month, "--json").json
    assert [area["area"] for area in document["areas"]] == ["ROLL"]
    page = lemel("reconcile", "2026-10", "--area", "ROLL", "--book", month).out
    assert "area ROLL" in page
    assert "\nplant" not in page


def test_fail_if_flagged_is_for_short_and_over_alone(lemel: Lemel, month: Path) -> None:
    flagged = ("reconcile", "2026-10", "--book", month, "--fail-if-flagged")
    assert lemel(*flagged).status == 5
    assert lemel(*flagged, "--area", "ROLL", "--json").status == 5
    assert lemel(*flagged, "--area", "MELT").status == 0
    assert lemel("reconcile", "2026-10", "--book", month).status == 0


def test_unit_never_alters_the_document(lemel: Lemel, month: Path) -> None:
    reconcile = ("reconcile", "2026-10", "--book", month, "--json")
    assert lemel(*reconcile).out == lemel(*reconcile).out == lemel(*reconcile, "--unit", "ozt").out


@pytest.mark.parametrize("period", ["2026-13", "october", "", "2026-10-01"])
def test_a_period_that_is_none_is_wrong_usage(lemel: Lemel, month: Path, period: str) -> None:
    done = lemel("reconcile", period, "--book", month)
    assert (done.status, done.err.startswith("PERIOD: ")) == (2, True)
