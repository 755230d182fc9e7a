"""Write-offs and void numbers: tickets that move no metal."""

from __future__ import annotations

from tests.book.plants import PLANT, Book, Document, amount, bought, lot, minus, number, ticket

SHORT = [
    bought(1, "MELT", lot("A", "100.0000", gold="500", silver="200")),
    ticket(2, "count", area="MELT", lots=[lot("A", "99.0000")]),
]

#: With somebody who may accept and not witness.
TWO = PLANT + '[[person]]\ncode = "W2"\nmay = ["accept"]\n'


def writeoff(n: int, mass: str, metal: str = "gold", **fields: object) -> Document:
    said: Document = {"cause": "spill", "evidence": "photograph 12", "reason": "seen by two"}
    return ticket(n, "writeoff", area="MELT", metal=metal, mass=mass, **(said | fields))


def void(n: int, *numbers: int) -> Document:
    return ticket(n, "void", numbers=[number(k) for k in numbers], reason="torn")


def test_a_difference_answered_for_becomes_a_loss_of_its_cause() -> None:
    m = amount("0", "0.3", "0")
    book = Book([*SHORT, writeoff(3, "0.3 g")])
    assert book.posted(3) == {"difference MELT": minus(m), "loss MELT spill": m}
    assert book.at("difference MELT") == amount("1", "0.2", "0.2")
    assert book.origins("MELT")["write-off"] == minus(m)


def test_no_more_than_stands_open_is_written_off_and_no_gain_from_a_loss() -> None:
    book = Book(SHORT)
    book.refuses(writeoff(3, "0.500000001 g"), "0.5000 g of gold stand open in MELT")
    book.refuses(writeoff(3, "-0.1 g"), "stand open")
    book.refuses(writeoff(3, "0.1 g", "copper"), "copper is not booked")
    book.enter(writeoff(3, "0.5 g"))
    assert book.at("difference MELT") == amount("1", "0", "0.2")
    book.refuses(writeoff(4, "0.000000001 g"), "stand open")


def test_a_gain_is_written_off_with_its_sign() -> None:
    over = [SHORT[0], ticket(2, "count", area="MELT", lots=[lot("A", "101.0000")]), writeoff(3, "-0.5 g")]
    assert Book(over).at("difference MELT") == minus(amount("1", "0", "0.2"))


def test_somebody_not_entitled_to_accept_is_flagged() -> None:
    assert Book([*SHORT, writeoff(3, "0.1 g", by="KEEP", witness="W")]).flags(3) == ["not entitled"]


def test_one_person_alone_is_flagged() -> None:
    assert Book([*SHORT, writeoff(3, "0.1 g")]).flags(3) == ["one person alone"]


def test_the_second_of_a_write_off_may_accept_or_witness() -> None:
    assert Book([*SHORT, writeoff(3, "0.1 g", by="W2", witness="W")], TWO).flags(3) == []
    assert Book([*SHORT, writeoff(3, "0.1 g", witness="W2")], TWO).flags(3) == []
    assert Book([*SHORT, writeoff(3, "0.1 g", witness="ONLY")]).flags(3) == ["not entitled"]


def test_void_numbers_post_nothing_and_are_not_used_again() -> None:
    book = Book([*SHORT, void(5, 3, 4)])
    assert book.posted(5) == {}
    book.refuses(writeoff(3, "0.1 g"), "T-0003 was declared spoiled by T-0005")
    book.refuses(void(6, 4), "T-0004 is used")


def test_a_used_number_is_not_spoiled_and_none_is_listed_twice() -> None:
    book = Book(SHORT)
    book.refuses(void(5, 2), "number T-0002 is used")
    book.refuses(void(5, 3, 3), "listed twice")


def test_a_different_ticket_under_a_used_number_is_refused() -> None:
    assert Book(SHORT).refuses(SHORT[1] | {"note": "another"}, "T-0002 is used").code == "number"
