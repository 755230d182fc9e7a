"""What work tickets aimed at: marks, alloys, clad stock; which line of a ticket; reversals."""

from __future__ import annotations

from fractions import Fraction

import pytest

from ledger.book.aims import Aim, aimed_at, aims_of
from ledger.plant.toml_file import parse_setup
from tests.book.plants import Book, Document, again, bought, lot, reversal, ticket

PLANT = """
[plant]
name = "Invented"
metals = ["gold", "silver"]
timezone = "UTC"
[[alloy]]
code = "Y14"
gold = "583.5‰"
silver = "210‰"
[[alloy]]
code = "BOND"
gold = "0"
silver = "450‰"
[[clad]]
code = "STRIP"
mark = "1/20 12K"
bond = "BOND"
[[clad]]
code = "ODD"
"""


@pytest.mark.parametrize(
    ("planned", "states"),
    [
        ("12K", {"gold": Fraction(1, 2)}),
        ("1/20 12K", {"gold": Fraction(1, 40)}),
        ("Y14", {"gold": Fraction(1167, 2000), "silver": Fraction(21, 100)}),
        ("STRIP", {"gold": Fraction(1, 40)}),  # a mark says nothing of the bond's silver
        ("ODD", {}),
        ("as last time", {}),
    ],
)
def test_what_a_plan_states(planned: str, states: dict[str, Fraction]) -> None:
    assert aimed_at(parse_setup(PLANT), planned) == states


#: Inputs before outputs: the second output is the ticket's fourth line.
MELT: Document = ticket(
    2, "work", operation="melt", area="MELT", in_=[lot("A", all=True), lot("CU", all=True)],
    out=[lot("SAMPLE", "1.0000"), lot("BAR", "98.0000", planned="12K")],
)  # fmt: skip


def aims(book: Book, number: str) -> tuple[Aim, ...]:
    (row,) = book.connection.execute("SELECT id FROM lot WHERE number = ?", (number,))
    return aims_of(book.connection, row[0])


@pytest.fixture
def melted() -> Book:
    return Book([bought(1, "MELT", lot("A", "50.0000", gold="1000"), lot("CU", "50.0000", alloy="BRASS")), MELT])


def test_it_stands_beside_what_was_weighed_out_of_that_line(melted: Book) -> None:
    """50 g fine in 100 g less 0.3 % of fume, 98 of them in the bar: 49.147 g."""
    (aim,) = aims(melted, "BAR")
    assert (aim.ticket, aim.planned, aim.fineness) == ("T-0002", "12K", {"gold": Fraction(1, 2)})
    assert tuple(aim.weighed) == (98 * 10**9, round(Fraction(98 * 50 * 10**9 * 10, 997)), 0)
    assert aims(melted, "SAMPLE") == ()


def test_what_was_reversed_aimed_at_nothing_and_its_correction_does(melted: Book) -> None:
    melted.enter(reversal(3, 2))
    assert aims(melted, "BAR") == ()
    melted.enter(again(MELT, 4, out=[lot("BAR", "97.0000", planned="14K")]))
    assert [(aim.ticket, aim.planned) for aim in aims(melted, "BAR")] == [("T-0004", "14K")]
