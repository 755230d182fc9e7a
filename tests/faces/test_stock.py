"""lemel stock: lots on hand, figures whole, estimates apart, and what was on hand at an earlier moment.

The masses are those of docs/worked-month.md, worked by hand.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from ledger.faces.printing import cells
from tests.faces.conftest import Lemel


def lots(document: dict[str, object]) -> dict[str, dict[str, object]]:
    return {lot["lot"]: {**lot, "area": area["area"]} for area in document["areas"] for lot in area["lots"]}  # type: ignore[attr-defined]


def test_figures_by_lot(lemel: Lemel, month: Path) -> None:
    document = lemel("stock", "--book", month, "--json").json
    trim = lots(document)["ET-1011"]
    assert (trim["area"], trim["gross"], trim["basis"]) == ("VAULT", "165.880000000", "calculated")
    assert trim["fine"] == "4.204243058"
    assert document["total"]["fine"] == "1522.989580258"


def test_the_page_shows_every_lot_in_eighty_columns(lemel: Lemel, month: Path) -> None:
    done = lemel("stock", "--book", month)
    assert all(cells(line) <= 80 for line in done.out.splitlines())
    for lot in lots(lemel("stock", "--book", month, "--json").json):
        assert lot in done.out


def test_an_estimate_stands_in_its_own_column_until_it_is_assayed(lemel: Lemel, month: Path) -> None:
    before = lemel("stock", "--book", month, "--json", "--at", "2026-10-12").json
    slag = lots(before)["SL-1006"]
    assert (slag["fine"], slag["estimated"]) == ("0.420000000", True)
    assert before["total"]["estimated"] == "0.420000000"
    assert "estimated" in lemel("stock", "--book", month, "--at", "2026-10-12").out
    after = lots(lemel("stock", "--book", month, "--json").json)["SL-1006"]
    assert (after["fine"], after["estimated"]) == ("0.465500000", False)


def test_a_lot_not_found_is_no_stock_and_listed_apart(lemel: Lemel, month: Path) -> None:
    document = lemel("stock", "--book", month, "--json", "--at", "2026-10-12T09:00").json
    assert "SQ-1009" not in lots(document)
    assert [(n["lot"], n["area"], n["count"]) for n in document["not_found"]] == [("SQ-1009", "BOND", "HC-0015")]
    assert lemel("stock", "--book", month, "--json").json["not_found"] == []


def test_a_day_means_its_end_and_a_time_that_moment(lemel: Lemel, month: Path) -> None:
    at = ("stock", "--book", month, "--json", "--at")
    assert lots(lemel(*at, "2026-10-13T07:29").json).get("SQ-1009") is None
    assert lots(lemel(*at, "2026-10-13").json)["SQ-1009"]["area"] == "VAULT"


def test_the_last_moment_is_now(lemel: Lemel, month: Path) -> None:
    now, then = (lemel("stock", "--book", month, "--json", *at).json for at in ((), ("--at", "2026-12-31")))
    assert now["areas"] == then["areas"]


def test_unit_changes_the_page_and_never_the_document(lemel: Lemel, month: Path) -> None:
    assert "in ozt" in lemel("stock", "--book", month, "--unit", "ozt").out
    grams, ounces = (lemel("stock", "--book", month, "--json", *u).out for u in ((), ("--unit", "ozt")))
    assert grams == ounces


def test_gross_has_no_columns_of_fineness(lemel: Lemel, month: Path) -> None:
    head = lemel("stock", "--book", month, "--metal", "gross").out.splitlines()[3]
    assert head.split() == ["lot", "what", "gross", "basis"]


def test_one_area(lemel: Lemel, month: Path) -> None:
    document = lemel("stock", "--book", month, "--area", "ROLL", "--json").json
    assert [area["area"] for area in document["areas"]] == ["ROLL"]


def test_an_empty_book_says_so_and_still_prints_json(lemel: Lemel, empty: Path) -> None:
    assert "nothing on hand" in lemel("stock", "--book", empty).out
    assert lemel("stock", "--book", empty, "--json").json["areas"] == []


def test_the_same_bytes_twice(lemel: Lemel, month: Path) -> None:
    assert lemel("stock", "--book", month, "--json").out == lemel("stock", "--book", month, "--json").out


@pytest.mark.parametrize(
    ("option", "value", "mend"),
    [("--area", "ATTIC", "VAULT"), ("--metal", "lead", "gross"), ("--unit", "oz", "ozt or ozav"),
     ("--at", "yesterday", "2026-10-05T14:30"), ("--at", "2026-13-01", "2026-10-05T14:30")],
)  # fmt: skip
def test_a_wrong_option_is_named_with_its_mend(lemel: Lemel, month: Path, option: str, value: str, mend: str) -> None:
    done = lemel("stock", "--book", month, option, value)
    assert (done.status, done.out) == (2, "")
    assert done.err.startswith(f"{option}: ")
    assert mend in done.err
