"""Moves in transit and arrivals: handbook table "move … `in_transit`" and "arrive"."""

from tests.book.plants import Book, amount, bought, g, lot, minus, number, reversal, ticket

STOCK = bought(1, "ROLL", lot("A", "1000.00", clad="CL20"), lot("B", "200.00", clad="CL20"))
SENT = ticket(2, "move", from_="ROLL", to="FINISH", in_transit=True,
              lots=[lot("A", "999.90", all=True), lot("B", "100.00")])  # fmt: skip


def arrived(n: int, *lots: object) -> dict[str, object]:
    return ticket(n, "arrive", of=number(2), lots=list(lots))


def test_what_is_sent_stands_in_transit() -> None:
    book = Book([STOCK, SENT])
    assert book.posted(2) == {
        "place ROLL A": minus(amount("1000.00", "25.00", "10.00")),
        "difference ROLL": amount("0.10", "0.0025", "0.001"),
        "transit ROLL A": amount("999.90", "24.9975", "9.999"),
        "place ROLL B": minus(amount("100.00", "2.50", "1.00")),
        "transit ROLL B": amount("100.00", "2.50", "1.00"),
    }


def test_it_arrives_by_the_receiver_s_own_reading() -> None:
    book = Book([STOCK, SENT, arrived(3, lot("A", "999.80"), lot("B", all=True))])
    assert book.posted(3) == {
        "transit ROLL A": minus(amount("999.90", "24.9975", "9.999")),
        "place FINISH A": amount("999.80", "24.995", "9.998"),
        "difference FINISH": amount("0.10", "0.0025", "0.001"),
        "transit ROLL B": minus(amount("100.00", "2.50", "1.00")),
        "place FINISH B": amount("100.00", "2.50", "1.00"),
    }
    assert book.origins("FINISH") == {"transfer": amount("0.10", "0.0025", "0.001")}


def test_what_is_not_listed_stays_on_its_way() -> None:
    book = Book([STOCK, SENT, arrived(3, lot("A", "999.90"))])
    assert book.at("transit ROLL B") == amount("100.00", "2.50", "1.00")
    book.refuses(arrived(4, lot("A", "1.00")), "not on its way")
    book.enter(arrived(4, lot("B", "100.00")))
    book.refuses(arrived(5, lot("B", "100.00")), "nothing of move")


def test_a_lot_on_its_way_is_not_where_it_was_and_the_refusal_says_so() -> None:
    book = Book([STOCK, SENT])
    again = ticket(3, "move", from_="ROLL", to="VAULT", lots=[lot("A", all=True)])
    book.refuses(again, "on its way by T-0002 to FINISH")


def test_a_lot_that_never_came_is_missed_and_can_be_found() -> None:
    book = Book([STOCK, SENT, arrived(3, lot("A", "0"))])
    assert book.posted(3)["difference FINISH"] == amount("999.90", "24.9975", "9.999")
    assert book.missed() == {("FINISH", "A")}
    assert book.flags(3) == ["never came"]
    book.enter(ticket(4, "move", from_="FINISH", to="VAULT", lots=[lot("A", all=True)]))
    assert book.at("difference FINISH") == (0, 0, 0)
    assert book.at("place VAULT A") == amount("999.90", "24.9975", "9.999")


def test_an_assay_in_transit_is_the_sender_s() -> None:
    book = Book([STOCK, SENT])
    book.enter(ticket(3, "assay", lot="A", method="FIRE", results={"gold": [["2.6%"]], "silver": [["1.0%"]]}))
    assert book.posted(3) == {
        "transit ROLL A": (0, g("0.9999"), 0),
        "difference ROLL": (0, -g("0.9999"), 0),
    }
    book.enter(arrived(4, lot("A", "999.90")))
    assert book.at("transit ROLL A") == (0, 0, 0)
    assert book.at("difference FINISH") == (0, 0, 0)


def test_reversals_put_it_back_on_its_way_or_where_it_was() -> None:
    book = Book([STOCK, SENT])
    sent = book.balances()
    waiting = book.connection.execute("SELECT * FROM on_the_way ORDER BY lot").fetchall()
    book.enter(arrived(3, lot("A", "999.90"), lot("B", "99.00")), reversal(4, 3))
    assert book.balances() == sent
    assert book.connection.execute("SELECT * FROM on_the_way ORDER BY lot").fetchall() == waiting
    book.enter(reversal(5, 2))
    assert book.at("place ROLL A") == amount("1000.00", "25.00", "10.00")
    assert book.connection.execute("SELECT count(*) FROM on_the_way").fetchone() == (0,)


def test_an_arrival_before_the_move_is_refused() -> None:
    book = Book([STOCK, SENT])
    book.refuses(arrived(3, lot("A", "999.90")) | {"at": "2026-10-01T01:30"}, "later than it arrived")
