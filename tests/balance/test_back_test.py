"""Estimates against what came, and refiners' signs: small books worked by hand."""

from __future__ import annotations

from fractions import Fraction

import pytest

from ledger.balance.daily.back_test import BackTest, Stream, StreamTest, back_test
from ledger.balance.daily.estimates import OpenEstimate, open_estimates
from ledger.balance.daily.settlements import settlements
from ledger.book import holdings
from ledger.book.lots import Origin
from ledger.book.setups import Setups
from tests.book.plants import Book, again, bought, g, lot, number, reversal, ticket

DUST = ticket(1, "open", area="FINISH", dust={"gold": "90.0 g", "silver": "30.0 g"})
FINISH: Origin = {("dust", "FINISH"): (Fraction(0), Fraction(1), Fraction(1))}


def sweep(n: int, name: str, gold: str, **fields: object) -> dict[str, object]:
    """100 g of sweeps from FINISH, so much gold of them by estimate."""
    content = {"gold": f"{gold} g", "silver": "1.0 g"}
    return ticket(n, "sweep", area="FINISH", lots=[lot(name, "100.00", content=content, basis="estimated", **fields)])


def assayed(n: int, name: str, gold: str, **fields: object) -> dict[str, object]:
    """The lot's 100 g found to hold so much gold."""
    return ticket(n, "assay", lot=name, method="FIRE", content={"gold": f"{gold} g"}, **fields)


def settled(n: int, name: str, gold: str, silver: str = "1.0") -> dict[str, object]:
    agreed = {"gold": f"{gold} g", "silver": f"{silver} g"}
    line = lot(name, received="100.0 g", agreed=agreed, payable=agreed)
    return ticket(n, "settle", area="PLATER", party="REF", lots=[line])


def sent(n: int, *names: str) -> dict[str, object]:
    return ticket(n, "move", from_="FINISH", to="PLATER", lots=[lot(name, all=True) for name in names])


def still_open(book: Book) -> list[OpenEstimate]:
    held = holdings.stock(book.connection, holdings.plant_facts(book.connection))
    return open_estimates(book.connection, [(h.area, h.described.lot, h.amounts) for h in held])


def all_streams(book: Book, metal: str = "gold") -> BackTest:
    return back_test(book.connection, book.metals, metal, still_open(book))


def stream(book: Book, metal: str = "gold") -> StreamTest:
    (one,) = all_streams(book, metal).streams
    return one


def test_pairs_of_a_stream_and_its_mean_ratio() -> None:
    """Estimated 10, 20 and 10 g; an assay brought 9, a settlement 20, a discard by measurement 8.

    Ratios 0.9, 1.0, 0.8: mean 0.9, s = 0.1; t(2) = 4.3027 (JCGM 100 Table G.2: 4.30): 0.9 ± 0.2484.
    """
    book = Book([
        DUST, sweep(2, "A", "10.0"), sweep(3, "B", "20.0"), sweep(4, "C", "10.0"), assayed(5, "A", "9.0"), sent(6, "B"),
        settled(7, "B", "20.0"),
        ticket(8, "discard", area="FINISH", lots=[lot("C", all=True, content={"gold": "8.0 g", "silver": "1.0 g"})]),
    ])  # fmt: skip
    one = stream(book)
    assert one.stream == Stream("dust", "FINISH", "")
    assert [(p.kind, p.lot, p.estimated, p.brought) for p in one.pairs] == [
        ("assay", "A", g("10"), g("9")), ("settle", "B", g("20"), g("20")), ("discard", "C", g("10"), g("8")),
    ]  # fmt: skip
    ratio = one.ratio
    assert ratio is not None
    assert (ratio.mean, ratio.sd) == (pytest.approx(0.9), pytest.approx(0.1))
    assert (ratio.low, ratio.high) == (pytest.approx(0.9 - 0.24841, abs=1e-5), pytest.approx(0.9 + 0.24841, abs=1e-5))
    assert one.bias == "none shown"
    assert one.open == []


def test_a_stream_that_always_brings_less_has_a_bias() -> None:
    """Ratios 0.80, 0.81, 0.79: 0.80 ± 4.303 × 0.01/√3 = ± 0.025."""
    lots = [("A", "8.0"), ("B", "8.1"), ("C", "7.9")]
    sweeps = [sweep(2 + i, name, "10.0") for i, (name, _) in enumerate(lots)]
    book = Book([DUST, *sweeps, *(assayed(5 + i, name, gold) for i, (name, gold) in enumerate(lots))])
    assert stream(book).bias == "below"
    one = Book([DUST, sweep(2, "A", "10.0"), assayed(3, "A", "8.0")])
    assert stream(one).bias == "too few"


def test_streams_by_whose_it_is_and_by_class() -> None:
    slag = {"class": "SLAG", "basis": "estimated", "fineness": {"gold": "10%", "silver": "0"}, "metallic": "4.00 g"}
    book = Book([
        DUST, sweep(2, "A", "10.0", class_="ENDS"), bought(3, "MELT", lot("G", "100.00", alloy="G12")),
        ticket(4, "work", operation="melt", area="MELT", in_=[lot("G", all=True)],
               out=[lot("BAR", "95.00"), lot("SL", "5.00", **slag)]),
        bought(5, "VAULT", lot("FOREIGN", "10.00", fineness={"gold": "50%", "silver": "0"}, basis="estimated")),
    ])  # fmt: skip
    assert [s.stream for s in all_streams(book).streams] == [
        ("difference", "MELT", "SLAG"), ("dust", "FINISH", "ENDS"), ("received", "", ""),
    ]  # fmt: skip
    assert [s.open_content(1) for s in all_streams(book).streams] == [g("0.4"), g("10"), g("5")]


def test_an_assay_that_says_nothing_of_a_metal_tests_no_estimate_of_it() -> None:
    book = Book([DUST, sweep(2, "A", "10.0"), assayed(3, "A", "9.0")])
    assert len(stream(book, "gold").pairs) == 1
    assert all_streams(book, "silver").streams == []


def test_an_assay_after_the_first_is_no_test_of_the_estimate() -> None:
    book = Book([DUST, sweep(2, "A", "10.0"), assayed(3, "A", "9.0"), assayed(4, "A", "9.2"), sent(5, "A"),
                 settled(6, "A", "9.1")])  # fmt: skip
    assert [p.ticket for p in stream(book).pairs] == [number(3)]


def test_a_reversed_assay_gives_way_to_its_correction() -> None:
    wrong = assayed(3, "A", "19.0")
    book = Book([DUST, sweep(2, "A", "10.0"), wrong, reversal(4, 3), again(wrong, 5, content={"gold": "9.0 g"})])
    assert [(p.ticket, p.brought) for p in stream(book).pairs] == [(number(5), g("9"))]


def test_a_mixture_is_left_out_and_counted() -> None:
    """An estimated and a bought lot melted together: nobody can say whose estimate was wrong."""
    book = Book([
        DUST, sweep(2, "A", "10.0"), bought(3, "FINISH", lot("G", "100.00", alloy="G12")),
        ticket(4, "work", operation="solder", area="FINISH", in_=[lot("A", all=True), lot("G", all=True)],
               out=[lot("M", "200.00")]),
        assayed(5, "M", "59.0"),
    ])  # fmt: skip
    test = all_streams(book)
    assert (test.streams, test.left_out) == ([], 1)


def test_lots_melted_from_one_stream_alone_still_test_it() -> None:
    book = Book([
        DUST, sweep(2, "A", "10.0"), sweep(3, "B", "20.0"),
        ticket(4, "work", operation="solder", area="FINISH", in_=[lot("A", all=True), lot("B", all=True)],
               out=[lot("M", "200.00")]),
        assayed(5, "M", "27.0"),
    ])  # fmt: skip
    assert [(p.lot, p.estimated, p.brought) for p in stream(book).pairs] == [("M", g("30"), g("27"))]


# --------------------------------------------------------------------------------------------------- open estimates


def test_a_part_split_off_keeps_the_estimate_s_age() -> None:
    book = Book([
        DUST, sweep(2, "A", "10.0"),
        ticket(300, "work", operation="roll", area="FINISH", in_=[lot("A", "50.00")], out=[lot("PART", "50.00")]),
    ])  # fmt: skip
    parts = [(e.lot, e.area, e.content(1)) for e in still_open(book)]
    assert parts == [("A", "FINISH", g("5")), ("PART", "FINISH", g("5"))]
    assert len({e.since for e in still_open(book)}) == 1


def test_an_assayed_lot_is_an_estimate_no_more_but_was_one_before() -> None:
    book = Book([DUST, sweep(2, "A", "10.0"), assayed(50, "A", "9.0")])
    assert still_open(book) == []
    places = [("FINISH", "A", [g("100"), g("10"), g("1")])]
    before = Setups.read(book.connection).calendar.instant("2026-10-01T12:00")
    assert [e.origins for e in open_estimates(book.connection, places, before)] == [FINISH]


# -------------------------------------------------------------------------------------------------------- refiners


def test_a_refiner_who_is_always_low_by_less_than_anyone_disputes() -> None:
    """Twelve lots of 50 g, each settled 0.03 % under our assay: R − A = +0.015 g every time, p = 1/4096."""
    lots = [f"R{i}" for i in range(12)]
    book = Book([bought(1, "PLATER", *(lot(name, "100.00", gold="500", silver="10", method="FIRE") for name in lots))])
    book.enter(*(settled(2 + i, name, "49.985") for i, name in enumerate(lots)))
    (refiner,) = settlements(book.connection, 1)
    assert refiner.party == "REF"
    assert {lot_.difference for lot_ in refiner.judged} == {g("0.015")}
    assert (refiner.signs.positive, refiner.signs.p_positive) == (12, Fraction(1, 4096))


def test_only_what_we_knew_by_assay_or_calculation_is_judged() -> None:
    """An estimate has an error of its own, a nominal fineness too; a reversed settlement is none."""
    book = Book([
        DUST, sweep(2, "A", "10.0"), sent(3, "A"),
        bought(4, "PLATER", lot("N", "100.00", alloy="G12"), lot("M", "100.00", gold="500", silver="10", method="FIRE"),
               lot("X", "100.00", gold="500", silver="10", method="FIRE")),
        settled(5, "A", "9.0"), settled(6, "N", "49.9"), settled(7, "M", "50.1"), settled(8, "X", "40.0"),
        reversal(9, 8),
    ])  # fmt: skip
    (refiner,) = settlements(book.connection, 1)
    assert [(s.lot, s.basis, s.judged) for s in refiner.lots] == [
        ("A", "estimated", False), ("N", "nominal", False), ("M", "measured", True),
    ]  # fmt: skip
    assert refiner.judged[0].difference == -g("0.1")
    assert refiner.signs.p_positive == 1
