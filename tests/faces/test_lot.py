"""lemel lot: one lot with its determination, kin and tickets."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

from ledger.faces.printing import cells
from tests.faces.conftest import MONTH, Lemel


def test_determination_kin_and_place(lemel: Lemel, month: Path) -> None:
    lot = lemel("lot", "PL-1005", "--book", month, "--json").json
    assert lot["determination"]["fineness"]["gold"] == "20003/40000"  # docs/worked-month.md: 500.075 ‰
    assert (lot["determination"]["basis"], lot["determination"]["ticket"]) == ("measured", "HC-0009")
    assert [kin["lot"] for kin in lot["made_from"]] == ["GB-0901", "AG-0902", "CU-0903", "DC-1004"]
    assert [kin["lot"] for kin in lot["made_into"]] == ["CB-1008", "SQ-1009"]
    assert lot["stands"] == []


def test_what_was_planned_stands_beside_what_was_weighed(lemel: Lemel, month: Path) -> None:
    (planned,) = lemel("lot", "PL-1005", "--book", month, "--json").json["planned"]
    assert (planned["ticket"], planned["planned"], planned["fineness"]) == ("HC-0008", "12K", {"gold": "1/2"})
    assert planned["weighed"]["gross"] == "408.200000000"
    page = " ".join(lemel("lot", "PL-1005", "--book", month).out.split())
    assert "gold 500.000 ‰ planned, 500.299 as weighed out, 500.075 as now known: 0.075 ‰ above" in page


def test_nothing_is_said_to_be_planned_where_nothing_was(lemel: Lemel, month: Path) -> None:
    assert lemel("lot", "ET-1011", "--book", month, "--json").json["planned"] == []
    assert "planned" not in lemel("lot", "ET-1011", "--book", month).out


def test_the_changes_of_its_tickets_sum_to_what_stands(lemel: Lemel, month: Path) -> None:
    lot = lemel("lot", "ET-1011", "--book", month, "--json").json
    sums: dict[str, Fraction] = {}
    for event in lot["tickets"]:
        sums[event["area"]] = sums.get(event["area"], Fraction(0)) + Fraction(event["fine"]["gold"])
    assert sums == {"ROLL": 0, "VAULT": Fraction(lot["stands"][0]["fine"]["gold"])}


def test_a_reversal_is_told_on_both_tickets(lemel: Lemel, month: Path) -> None:
    page = lemel("lot", "ET-1011", "--book", month).out
    assert "move: out, undone" in page
    assert "reverse of HC-0023" in page


def test_where_it_was_not_found(lemel: Lemel, empty: Path, tmp_path: Path) -> None:
    until = (MONTH / "tickets.jsonl").read_text(encoding="utf-8").splitlines(keepends=True)
    file = tmp_path / "until.jsonl"
    file.write_text("".join(line for line in until if line[11:18] <= "HC-0015"), encoding="utf-8")
    assert lemel("enter", file, "--book", empty).status == 0
    page = lemel("lot", "SQ-1009", "--book", empty).out
    assert "in BOND by count HC-0015: 22.400 g gross, 0.448 g gold" in page


def test_eighty_columns(lemel: Lemel, month: Path) -> None:
    for lot in ("ET-1011", "GB-0901", "SQ-1009", "CB-1008"):
        assert all(cells(line) <= 80 for line in lemel("lot", lot, "--book", month).out.splitlines())


def test_a_mistyped_number_names_those_like_it(lemel: Lemel, month: Path) -> None:
    done = lemel("lot", "et-10", "--book", month)
    assert (done.status, "did you mean ET-1011?" in done.err) == (2, True)


def test_the_same_bytes_twice(lemel: Lemel, month: Path) -> None:
    assert lemel("lot", "CB-1008", "--book", month, "--json") == lemel("lot", "CB-1008", "--book", month, "--json")
