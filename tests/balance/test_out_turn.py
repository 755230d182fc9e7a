"""An out-turn against the book: σ as the statement will have it once the ticket is entered, and lots elsewhere."""

from __future__ import annotations

from typing import Any

import pytest

from ledger.balance.daily.out_turn import AgainstBook, OutTurnLine, against_book
from ledger.balance.measurement.propagation import propagate
from ledger.book.setups import Setups
from ledger.refusals import Impossible
from tests.book.plants import Book, bought, g, lot, ticket

BAR = lot("B", "100.00", gold="500", silver="10", method="FIRE", scale="S1")
SETTLED = {"received": "100.02 g", "metallic": "99.90 g"}
AGREED = {"gold": "49.900 g", "silver": "1.010 g"}


def compared(book: Book, area: str = "PLATER", **line: Any) -> list[AgainstBook]:
    setups = Setups.read(book.connection)
    instant = setups.calendar.instant("2026-10-01T09:00")
    lines = [OutTurnLine("B", line or SETTLED, [g("99.90"), g("49.900"), g("1.010")])]
    return against_book(book.connection, setups, area, "REF", instant, lines)


def test_sigma_is_that_of_the_difference_once_it_is_booked() -> None:
    book = Book([bought(1, "PLATER", BAR)])
    found = compared(book)
    assert [(one.metal, one.difference) for one in found] == [
        ("gross", g("0.10")), ("gold", g("0.100")), ("silver", -g("0.010")),
    ]  # fmt: skip
    book.enter(ticket(9, "settle", area="PLATER", party="REF",
                      lots=[lot("B", **SETTLED, agreed=AGREED, payable=AGREED)]))  # fmt: skip
    after = propagate(book.connection, Setups.read(book.connection), 2**62)
    (residual,) = [r for r in after.residuals if r.kind == "revaluation"]
    assert residual.content.values == [one.difference for one in found]
    for one, form in zip(found, residual.content.forms, strict=True):
        assert one.sigma == pytest.approx(after.tape.sigma(form), rel=1e-12)
        assert one.z == pytest.approx(one.difference / one.sigma)


def test_a_lot_elsewhere_is_refused_saying_where_it_is() -> None:
    book = Book([bought(1, "VAULT", BAR)])
    with pytest.raises(Impossible, match="it stands in VAULT") as refused:
        compared(book)
    assert refused.value.faults[0].field == "lot[1].lot"


def test_a_lot_that_is_nowhere_is_refused() -> None:
    with pytest.raises(Impossible, match="does not stand in PLATER"):
        compared(Book([bought(1, "PLATER", BAR | {"lot": "C"})]))
