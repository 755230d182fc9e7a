"""Causes on books small enough to see through: what each looks like, and what cannot be told apart."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path
from typing import Any

import pytest

import ledger.causes.families as families
from ledger.causes.answer import causes
from ledger.causes.priors import RATES, rates
from ledger.refusals import WrongUsage
from tests.book.plants import Book, bought, g, lot, ticket

S1 = {"scale": "S1"}


def counted(n: int, area: str, *lots: dict[str, Any]) -> dict[str, Any]:
    return ticket(n, "count", area=area, lots=list(lots), by="W")


def received(*masses: str) -> list[dict[str, Any]]:
    """Lots of gold grain taken in, a receipt each."""
    return [
        bought(i + 1, "VAULT", lot(f"A{i}", mass, gold="999.0", method="FIRE", form="grain", **S1))
        for i, mass in enumerate(masses)
    ]  # fmt: skip


def answer(book: Book, area: str | None = "VAULT") -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = causes(book.connection, "2026-10", area)["causes"]
    return found


def test_swapped_digits_are_named_with_what_was_meant() -> None:
    """shared checks, own arithmetic: 1,284.6 keyed 1,248.6: difference 36.0, divisible by 9, candidate found."""
    masses = ["512.40", "1248.60", "733.05", "905.77"]
    true = ["512.40", "1284.60", "733.05", "905.77"]
    book = Book([*received(*masses), counted(50, "VAULT", *(lot(f"A{i}", m, **S1) for i, m in enumerate(true)))])
    found = answer(book)
    swapped = [c for c in found if c["family"] == "transposed"]
    assert {c["tickets"][0] for c in swapped} == {"T-0002", "T-0050"}  # either paper can be the one that is wrong
    assert swapped[0]["rank"] == 1
    assert swapped[1]["rank"] in swapped[0]["inseparable_from"]
    assert "1248.60 g stands there for 1284.60 g" in next(c["cause"] for c in swapped if c["tickets"] == ["T-0002"])
    assert sum(c["share"] for c in swapped) > 0.5


def test_metal_that_left_and_a_receipt_weighed_too_high_cannot_be_told_apart() -> None:
    """A stream that touches one place only: its error and a leak there have one pattern (Bagajewicz 2000)."""
    masses = ["512.40", "1284.60", "733.05", "905.77"]
    less = ["512.40", "1277.23", "733.05", "905.77"]
    book = Book([*received(*masses), counted(50, "VAULT", *(lot(f"A{i}", m, **S1) for i, m in enumerate(less)))])
    found = answer(book)
    taken = next(c for c in found if c["family"] == "unticketed")
    wrong = next(c for c in found if c["family"] == "mass")
    assert wrong["rank"] in taken["inseparable_from"]
    assert taken["rank"] in wrong["inseparable_from"]
    assert taken["lots"] == ["A1"]
    assert g("7") < g(taken["size"]) < g("7.6")


def test_a_lot_in_one_area_on_paper_and_in_another_on_its_sheet_is_a_wrong_move() -> None:
    book = Book([
        *received("512.40", "310.00"),
        ticket(10, "move", from_="VAULT", to="MELT", lots=[lot("A1", "310.00", all=True, received_mass="310.00 g",
                                                                received_scale="S1", **S1)]),
        counted(50, "MELT", ) | {"nil": True, "lots": []},
        counted(51, "ROLL", lot("A1", "310.00", **S1)),
    ])  # fmt: skip
    first = answer(book, "MELT")[0]
    assert (first["family"], first["tickets"][0]) == ("wrong_area", "T-0010")
    assert {"MELT", "ROLL"} <= set(first["areas"])
    assert all(abs(g(both["without_it"])) < g("0.001") for both in first["balances"].values())


def test_a_lot_that_is_gone_is_one_thing_with_several_explanations() -> None:
    book = Book([*received("512.40", "310.00"), counted(50, "VAULT", lot("A0", "512.40", **S1))])
    found = answer(book)
    named = [c for c in found if c["share"] >= 0.01 and c["family"] != "chance"]
    assert {"missing_ticket", "uncounted"} <= {c["family"] for c in named}
    assert all(c["lots"] == ["A1"] for c in named)
    assert sum(c["share"] for c in named) == pytest.approx(1, abs=0.03)
    assert not {"mass", "digit"} & {c["family"] for c in named}


def test_a_faultless_month_is_chance() -> None:
    masses = ["512.40", "1284.60", "733.05"]
    again = ["512.41", "1284.59", "733.05"]
    book = Book([*received(*masses), counted(50, "VAULT", *(lot(f"A{i}", m, **S1) for i, m in enumerate(again)))])
    found = answer(book)
    assert found[0]["family"] == "chance"
    assert found[0]["share"] > 0.95


def test_what_the_plant_settled_makes_that_cause_likelier() -> None:
    masses = ["512.40", "1248.60"]
    plain = Book(received(*masses))
    assert rates(plain.connection) == {family: rate.rate for family, rate in RATES.items()}
    settled = Book([*received(*masses), ticket(20, "reverse", of="T-0002", reason="transposed: 1284.60 g was meant")])
    assert rates(settled.connection)["transposed"] > RATES["transposed"].rate
    assert rates(settled.connection)["digit"] < RATES["digit"].rate


def test_every_family_is_a_module_of_its_own_and_has_a_rate() -> None:
    folder = Path(families.__path__[0])
    names = {path.stem for path in folder.glob("*.py")} - {"__init__"}
    assert names == set(RATES)
    assert {module.__name__.rsplit(".", 1)[1] for module in families.all_families()} == names
    for name in names:
        module = import_module(f"ledger.causes.families.{name}")
        assert callable(module.propose)
        assert module.__doc__


def test_a_period_without_tickets_and_an_area_that_is_none_are_refused() -> None:
    book = Book(received("512.40"))
    with pytest.raises(WrongUsage, match="holds nothing"):
        causes(book.connection, "2031-01", None)
    with pytest.raises(WrongUsage, match="no area"):
        causes(book.connection, "2026-10", "NOWHERE")
