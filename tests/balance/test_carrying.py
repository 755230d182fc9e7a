"""Months begun from what the ones before them left: the figures of one whole pass over the book, σ to 1e-9 relative."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ledger.balance.months.chain import Chain
from ledger.balance.months.verifying import verify
from ledger.book.entering import enter
from ledger.book.intake import read_file
from ledger.book.opening import new_book
from ledger.book.store import reading, writing
from ledger.plant.toml_file import read_setup
from tests.balance import closing_plant, invented_months
from tests.balance.carried_months import agree, stretched, whole
from tests.balance.invented_months import Months
from tests.balance.plant_model import PLANT
from tests.balance.test_derivatives import BOOKS, TEXT
from tests.book import months as random_months
from tests.book.plants import PLANT as SMALL
from tests.book.plants import Book, again, bought, lot, number, reversal, ticket


@pytest.mark.parametrize("seed", range(6))
def test_random_books_of_five_months(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(invented_months, "MONTHS", ("2026-07", "2026-08", "2026-09", "2026-10", "2026-11"))
    assert agree(Book(Months(seed, 18).documents, PLANT).connection) > 50


@pytest.mark.parametrize("times", [3.0, 11.0])
@pytest.mark.parametrize("name", BOOKS)
def test_every_sort_of_ticket_across_month_ends(name: str, times: float) -> None:
    agree(Book(stretched(BOOKS[name], times), TEXT).connection)


def test_the_sample_year(tmp_path: Path) -> None:
    sample, book = Path(__file__).parents[2] / "sample_books" / "year", tmp_path / "year.lemel"
    new_book(book, read_setup(sample / "plant.toml"), "test")
    with writing(book) as connection:
        enter(connection, read_file(sample / "tickets.jsonl"), "test")
    with reading(book) as connection:
        assert agree(connection, ["2026-02", "2026-09"]) > 70


@given(st.data())
@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
def test_whatever_a_plant_writes(data: st.DataObject) -> None:
    plant = data.draw(random_months.months())
    if plant.documents:
        agree(Book(stretched(plant.documents, 4.0), SMALL.replace("America/New_York", "UTC")).connection)


def test_closed_months_and_corrections_that_come_late() -> None:
    """A melt of October reversed and corrected after October's close: both count in November."""
    made = closing_plant.begun(
        closing_plant.melted(2), closing_plant.melted(3, out="997.50"), ticket(5, "count", area="MELT", lots=[
            lot("A", "3000.00"), lot("B-2", "998.00"), lot("B-3", "997.50"),
        ]),
    )  # fmt: skip
    closing_plant.closed(made, missing={number(4): "invented"})
    wrong = closing_plant.melted(3, out="997.50")
    made.enter(
        closing_plant.in_november(reversal(6, 3)),
        again(wrong, 7, out=[lot("B-7", "998.50")]),
        closing_plant.in_november(ticket(8, "move", from_="MELT", to="ROLL", lots=[lot("B-7", "998.40", all=True)]), 3),
        closing_plant.in_november(ticket(9, "count", area="MELT", lots=[lot("A", "2999.90"), lot("B-2", "998.00")]), 5),
    )
    made.enter(ticket(10, "count", area="ROLL", lots=[lot("B-7", "998.41")], at="2026-12-03T08:00"))
    assert agree(made.connection) > 5
    assert verify(made.connection) == []


def test_a_lot_that_comes_back_after_its_month_has_a_determination_of_its_own() -> None:
    """Shipped in October, returned in December: known by fire assay, so ± what that is worth, and its bias."""
    gold = {"fineness": {"gold": "500‰", "silver": "0‰"}, "method": "FIRE"}
    made = Book([
        bought(1, "VAULT", lot("A", "100.00", **gold)),
        ticket(2, "ship", from_="VAULT", party="CUS", terms="sold", lots=[lot("A", all=True)]),
        ticket(3, "receive", party="CUS", terms="returned", to="VAULT", lots=[lot("A", "100.00")],
               at="2026-12-02T08:00"),
        ticket(4, "assay", lot="A", method="FIRE", results={"gold": [["499‰"]], "silver": [["0‰"]]},
               at="2026-12-03T08:00"),
    ])  # fmt: skip
    month = Chain(made.connection).ledger("2026-12", "gold").own
    row = month.row("VAULT")
    kinds = sorted((s.kind, s.ticket) for r in row if row[r] and (s := month.tape.source(r)).of == "FIRE")
    assert kinds == [("measured", number(1)), ("measured", number(4))]  # the bias is in both, and falls out
    once = whole(made.connection, "2026-12", "gold").month("2026-12").sigma("VAULT").total
    assert month.sigma("VAULT").total == pytest.approx(once, rel=1e-9)
