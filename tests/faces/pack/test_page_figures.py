"""Every figure of the page is the figure of the --json answers."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from ledger.faces.pack.making import Pack
from ledger.faces.pack.sections.statement import BALANCE, BESIDE, JUDGEMENT, ORIGINS, PLANT
from tests.faces.conftest import Lemel
from tests.faces.pack.pages import Read, figures_of, pack_of, page_of


def _flat(area: dict[str, Any]) -> dict[str, Any]:
    return {**area, **area["difference_from"], "coarse": "coarse" if area["coarse"] else None}


def _shown(figures: dict[str, Any], key: str) -> list[dict[str, Any]]:
    (found,) = (s for section in figures["sections"] for s in section["schedules"] if s["key"] == key)
    rows: list[dict[str, Any]] = found["rows"]
    return rows


@pytest.mark.parametrize("metal", ["gold", "silver", "gross"])
def test_the_statement_on_the_page_is_reconciles(lemel: Lemel, month: Path, gold: Pack, metal: str) -> None:
    document = lemel("reconcile", "2026-10", "--metal", metal, "--book", month, "--json").json
    shown = {"balance": BALANCE, "judgement": JUDGEMENT}
    if metal == "gold":
        shown |= {"origins": ORIGINS, "beside": BESIDE}
    read = Read(page_of(gold))
    for name, columns in shown.items():
        wanted = [[_flat(area)[c.key] for c in columns] for area in document["areas"]]
        kept = [i for i in range(len(columns)) if i == 0 or any(row[i] is not None for row in wanted)]
        assert read.rows(f"{name}-{metal}") == [[row[i] for i in kept] for row in wanted]


def test_the_plant_in_every_metal_is_reconciles(lemel: Lemel, month: Path, gold: Pack) -> None:
    rows = Read(page_of(gold)).rows("plant")
    for metal, row in zip(("gold", "silver", "gross"), rows, strict=True):
        total = lemel("reconcile", "2026-10", "--metal", metal, "--book", month, "--json").json["plant_total"]
        assert row == [metal, *(total[column.key] for column in PLANT[1:])]


def test_moves_and_dust_are_reconciles(lemel: Lemel, month: Path, gold: Pack) -> None:
    document = lemel("reconcile", "2026-10", "--book", month, "--json").json
    figures = figures_of(gold)
    assert _shown(figures, "moves") == document["moves"]
    assert _shown(figures, "receipts") == document["receipts"]
    assert _shown(figures, "assays") == document["assays"]
    assert _shown(figures, "tickets") == document["tickets"]
    assert [row["mass"] for row in _shown(figures, "shipped")] == [
        document[key] for key in ("give_away", "under_delivered", "retained")
    ]
    dust = {row["area"]: row for row in _shown(figures, "dust")}
    for area in document["areas"]:
        for key, value in area["dust"].items() if area["area"] in dust else ():
            assert dust[area["area"]][key] == ({True: "yes", False: None}[value] if key == "cleaned_out" else value)


def test_causes_are_those_of_the_command(lemel: Lemel, month: Path, gold: Pack) -> None:
    causes = lemel("causes", "2026-10", "--book", month, "--json").json["causes"]
    rows = _shown(figures_of(gold), "causes")
    assert [(r["rank"], r["cause"], r["share"], r["size"], r["money"], r["check"]) for r in rows] == [
        (c["rank"], c["cause"], c["share"], c["size"], c["money"], c["check"]) for c in causes
    ]


def test_the_position_is_that_of_the_command(lemel: Lemel, month: Path, gold: Pack) -> None:
    rows = _shown(figures_of(gold), "position")
    for metal in ("gold", "silver", "gross"):
        document = lemel("position", "--at", "2026-10-31", "--metal", metal, "--book", month, "--json").json
        sides = {row["side"]: row[metal] for row in rows if row["what"] == "together"}
        assert sides == {"held": document["held"], "answered for": document["answered"]}
        places = {row["account"]: row[metal] for row in rows if row["what"] == "in the areas"}
        for place in document["places"]:
            assert places[place["area"]] == place["mass"]


def test_sums_are_worked_out_from_the_rows_and_are_the_plants(gold: Pack) -> None:
    statement = gold.material.statement
    read = Read(page_of(gold))
    sums = [e.attributes["data-sum"].strip('"') for e in read.of("td") if "data-sum" in e.attributes]
    assert len(sums) > 20
    for key in ("opening", "closing", "difference", "sweeps", "gross_loss", "allowed", "unexplained"):
        total = statement["plant_total"][key]
        assert sum(Decimal(area[key]) for area in statement["areas"]) == Decimal(total)
        assert total in sums


def test_a_unit_changes_what_is_printed_and_not_what_programs_read(month: Path, gold: Pack) -> None:
    troy = pack_of(month, unit="ozt")
    assert Read(page_of(troy)).rows("balance-gold") == Read(page_of(gold)).rows("balance-gold")
    assert "1 ozt = 31.103476800 g" in "".join(Read(page_of(troy)).words())
    # 1316.737… g of closing gold in the vault, by 31.1034768 g the troy ounce (NIST Handbook 44, Appendix C)
    assert ">42.3341<" in page_of(troy)
    assert ">1,316.737<" in page_of(gold)
