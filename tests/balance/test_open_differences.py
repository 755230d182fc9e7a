"""What stands open of closed periods, and how old it is. Sums worked by hand beside the checks."""

from __future__ import annotations

from typing import Any

from ledger.balance.daily.open_differences import OpenDifference, open_differences
from ledger.balance.daily.ticket_numbers import Numbers
from tests.balance.closing_plant import begun, closed, in_november
from tests.book.plants import Book, g, lot, reversal, ticket

NEVER_ENDS = 2**62


def weighed(n: int, mass: str) -> dict[str, Any]:
    """Return a count that finds so much of lot A, of 500 ‰."""
    return ticket(n, "count", area="MELT", lots=[lot("A", mass)])


def off(n: int, mass: str) -> dict[str, Any]:
    return ticket(n, "writeoff", area="MELT", metal="gold", mass=f"{mass} g", cause="spill", evidence="x", reason="y")


def stands(made: Book) -> OpenDifference | None:
    return open_differences(made.connection, "gold", NEVER_ENDS).get("MELT")


def of(made: Book, period: str) -> tuple[str, int]:
    (ends,) = made.connection.execute("SELECT ends FROM close WHERE period = ?", (period,)).fetchone()
    return period, ends


def two_months() -> Book:
    """October loses 10 g of 500 ‰, November gains 4 g: 5 g short, then 2 g over, of fine gold."""
    made = begun(weighed(2, "4990.00"))
    closed(made)
    made.enter(in_november(weighed(3, "4994.00")))
    closed(made, "2026-11")
    return made


def test_nothing_stands_open_before_a_close() -> None:
    assert stands(begun(weighed(2, "4990.00"))) is None


def test_losses_and_gains_stand_apart_and_the_oldest_tells_the_age() -> None:
    made = two_months()
    assert stands(made) == OpenDifference("MELT", g("5"), -g("2"), *of(made, "2026-10"))


def test_a_write_off_answers_for_the_oldest_of_its_sign() -> None:
    made = two_months()
    made.enter(off(4, "3.0") | {"at": "2026-12-01T08:00"})
    assert stands(made) == OpenDifference("MELT", g("2"), -g("2"), *of(made, "2026-10"))
    made.enter(ticket(5, "writeoff", area="MELT", metal="gross", mass="4.0 g", cause="x", evidence="x", reason="y")
               | {"at": "2026-12-01T09:00"})  # fmt: skip
    assert stands(made) == OpenDifference("MELT", g("2"), -g("2"), *of(made, "2026-10")), "gross is another matter"
    made.enter(reversal(6, 4) | {"at": "2026-12-01T10:00"}, off(7, "3.0") | {"at": "2026-12-01T11:00"})
    assert stands(made) == OpenDifference("MELT", g("2"), -g("2"), *of(made, "2026-10"))


def test_as_of_an_earlier_day_later_closes_are_not_known() -> None:
    made = two_months()
    earlier = open_differences(made.connection, "gold", of(made, "2026-10")[1])
    assert earlier["MELT"] == OpenDifference("MELT", g("5"), 0, *of(made, "2026-10"))


def test_a_close_is_no_ticket_number() -> None:
    made = two_months()
    numbers = Numbers(made.connection)
    assert list(numbers.used) == ["T-"]
    assert numbers.gaps() == []
    assert numbers.out_of_order(-NEVER_ENDS, NEVER_ENDS) == []
    assert list(Numbers(made.connection, of(made, "2026-10")[1]).used) == ["T-"]
