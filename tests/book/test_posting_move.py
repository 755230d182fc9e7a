"""Moves by the posting table: place(from) −R, difference(from) R−W, place(to) +V, difference(to) W−V."""

from __future__ import annotations

from tests.book.plants import Book, amount, bought, lot, minus, ticket

START = bought(1, "VAULT", lot("A", "100.0000", gold="500", silver="200"))


def moved(**line: object) -> Book:
    return Book([START, ticket(2, "move", from_="VAULT", to="MELT", lots=[lot("A", **line)])])


def test_a_part_leaves_as_it_is_weighed() -> None:
    w = amount("40", "20", "8")
    assert moved(mass="40.0000 g").posted(2) == {"place VAULT A": minus(w), "place MELT A": w}


def test_all_takes_the_whole_record_and_the_reweighing_is_the_senders() -> None:
    """R = 100 g, W = 99.9 g: what is missing, R − W = 0.1 g × (1, 500 ‰, 200 ‰), is the sender's."""
    book = moved(mass="99.9000 g", all=True)
    assert book.posted(2) == {
        "place VAULT A": minus(amount("100", "50", "20")),
        "difference VAULT": amount("0.1", "0.05", "0.02"),
        "place MELT A": amount("99.9", "49.95", "19.98"),
    }
    assert book.origins("VAULT") == {"reweighing": amount("0.1", "0.05", "0.02")}


def test_the_receivers_reading_puts_the_transfer_difference_on_the_receiver() -> None:
    """V = 99.8 g: W − V = 0.1 g."""
    book = moved(mass="99.9000 g", all=True, received_mass="99.8000 g")
    assert book.at("difference VAULT") == amount("0.1", "0.05", "0.02")
    assert book.posted(2)["place MELT A"] == amount("99.8", "49.9", "19.96")
    assert book.origins("MELT") == {"transfer": amount("0.1", "0.05", "0.02")}


def test_all_unweighed_moves_the_recorded_figures() -> None:
    w = amount("100", "50", "20")
    assert moved(all=True).posted(2) == {"place VAULT A": minus(w), "place MELT A": w}


def test_a_part_of_exactly_what_is_recorded_empties_the_lot() -> None:
    """Content odd in the last nanogram: 3 parts of 1/3 g of 333.3 ‰ and the rest leave nothing behind."""
    book = Book([
        bought(1, "VAULT", lot("A", "1.0000", gold="333.3", silver="0.1")),
        *(ticket(n, "move", from_="VAULT", to="MELT", lots=[lot("A", "0.3333")]) for n in (2, 3, 4)),
        ticket(5, "move", from_="VAULT", to="MELT", lots=[lot("A", "0.0001")]),
    ])  # fmt: skip
    assert "place VAULT A" not in book.balances()
    assert book.at("place MELT A") == amount("1", "0.3333", "0.0001")


def test_more_than_recorded_is_refused_without_all_saying_what_is_there() -> None:
    Book([START]).refuses(
        ticket(2, "move", from_="VAULT", to="MELT", lots=[lot("A", "100.0001")]), "stands at 100.0000 g in VAULT",
        '"all": true',
    )  # fmt: skip


def test_a_lot_that_is_elsewhere_is_refused_saying_where_it_is() -> None:
    book = moved(mass="100.0000 g", all=True)
    refused = book.refuses(
        ticket(3, "move", from_="ROLL", to="VAULT", lots=[lot("A", "10.0000")]), "it stands in MELT (100.0000 g)"
    )
    assert refused.faults[0].field == "lots[0].lot"
    assert refused.faults[0].ticket == "T-0003"


def test_a_lot_nobody_knows_is_refused() -> None:
    Book([START]).refuses(ticket(2, "move", from_="VAULT", to="MELT", lots=[lot("B", "1.0000")]), "no lot B is known")


def test_two_lines_of_one_lot_see_one_another() -> None:
    book = Book([START])
    twice = ticket(2, "move", from_="VAULT", to="MELT", lots=[lot("A", "60.0000"), lot("A", "60.0000")])
    book.refuses(twice, "stands at 40.0000 g")


def test_a_ticket_dated_before_a_later_one_of_the_lot_is_refused_naming_it() -> None:
    book = Book([START, ticket(9, "move", from_="VAULT", to="MELT", lots=[lot("A", "10.0000")])])
    refused = book.refuses(ticket(5, "move", from_="VAULT", to="ROLL", lots=[lot("A", "1.0000")]), "T-0009", "lot A")
    assert refused.code == "order"


def test_late_paper_of_another_lot_is_recorded_and_flagged() -> None:
    book = Book([
        bought(1, "VAULT", lot("A", "10.0000", gold="500"), lot("B", "10.0000", gold="500")),
        ticket(9, "move", from_="VAULT", to="MELT", lots=[lot("A", "1.0000")]),
        ticket(5, "move", from_="VAULT", to="ROLL", lots=[lot("B", "1.0000")]),
    ])  # fmt: skip
    assert book.flags(5) == ["late paper"]
    assert book.at("place ROLL B") == amount("1", "0.5", "0")


def test_readings_further_apart_than_their_scales_are_flagged() -> None:
    """Two weighings at 0.01 g: sd √2 × √(0.005² + 0.01²/12) = 8.2 mg, three of it 24 mg (GUM 4.3.7)."""
    flagged = moved(mass="40.0000 g", scale="S1", received_mass="39.9700 g", received_scale="S1")
    assert flagged.flags(2) == ["transfer difference"]
    assert moved(mass="40.0000 g", scale="S1", received_mass="39.9800 g", received_scale="S1").flags(2) == []


def test_a_scale_past_its_calibration_is_flagged_and_an_unknown_one_refused() -> None:
    """Calibrated on 1 September for 40 days: good to 11 October."""
    late = ticket(24 * 11, "move", from_="VAULT", to="MELT", lots=[lot("A", "1.0000", scale="S1")])
    assert Book([START, late]).flags(24 * 11) == ["scale overdue"]
    good = ticket(24 * 10, "move", from_="VAULT", to="MELT", lots=[lot("A", "1.0000", scale="S1")])
    assert Book([START, good]).flags(24 * 10) == []
    bad = ticket(2, "move", from_="VAULT", to="MELT", lots=[lot("A", "1.0000", scale="S9")])
    Book([START]).refuses(bad, "no scale S9")


def test_somebody_not_entitled_is_flagged_since_the_weighing_did_happen() -> None:
    book = Book([START, ticket(2, "move", from_="VAULT", to="MELT", lots=[lot("A", all=True)], witness="ONLY")])
    assert book.flags(2) == ["not entitled"]


def test_a_lot_keeps_its_number_in_two_areas() -> None:
    book = moved(mass="40.0000 g")
    assert book.at("place VAULT A") == amount("60", "30", "12")
    assert book.at("place MELT A") == amount("40", "20", "8")
