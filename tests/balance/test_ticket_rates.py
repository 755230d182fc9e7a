"""Which tickets speak of a rate, and what is proposed from them: small books of the invented plant."""

from __future__ import annotations

from fractions import Fraction
from random import Random
from typing import Any

import pytest

from ledger.balance.months.month import Ledger
from ledger.balance.rates.document import Asked, rates
from ledger.balance.rates.ticket_rates import TicketRate, ticket_rates
from ledger.refusals import WrongUsage
from tests.balance.rolled_months import months
from tests.book.plants import PLANT, Book, Document, again, bought, g, lot, reversal, ticket

TWO_ALLOYS = '[[alloy]]\ncode = "G14"\ngold = "14K"\nsilver = "100‰"\n'


def rates_of(book: Book, metal: str = "gold") -> list[TicketRate]:
    ledger = Ledger(book.connection, metal)
    return ticket_rates(ledger, ledger.periods)


def bar(n: int, name: str, mass: str = "1000.00", **fields: Any) -> Document:
    return bought(n, "ROLL", lot(name, mass, **({"gold": "500", "method": "FIRE"} | fields)))


def rolled(n: int, name: str, to: str, mass: str, **fields: Any) -> Document:
    return ticket(n, "work", operation="roll", area="ROLL", in_=[lot(name, "1000.00", all=True)],
                  out=[lot(to, mass, form="coil")], **fields)  # fmt: skip


def counted(n: int, area: str = "ROLL") -> Document:
    return ticket(n, "count", area=area, nil=True)


def test_a_ticket_of_a_counted_month_speaks_by_what_it_lost() -> None:
    """1000.00 g of 500 ‰ in, 999.20 g out: 0.4 g of gold lost of 500 g."""
    (rate,) = rates_of(Book([bar(1, "A"), rolled(2, "A", "B", "999.20"), counted(9)]))
    assert (rate.ticket, rate.operation, rate.area, rate.period) == ("T-0002", "roll", "ROLL", "2026-10")
    assert (rate.put_in, rate.lost, rate.expected) == (g("500"), g("0.4"), g("0.25"))


def test_an_uncounted_month_is_silent() -> None:
    assert rates_of(Book([bar(1, "A"), rolled(2, "A", "B", "999.20")])) == []
    assert rates_of(Book([bar(1, "A"), rolled(2, "A", "B", "999.20"), counted(9, "MELT")])) == []
    document = rates(Book([bar(1, "A"), rolled(2, "A", "B", "999.20")]).connection, None, Asked())
    assert document["uncounted"] == [{"period": "2026-10", "area": "ROLL"}]


def test_a_reversed_ticket_is_out_and_its_correction_in() -> None:
    first = rolled(2, "A", "B", "989.20")
    book = Book([bar(1, "A"), first, reversal(3, 2)])
    book.enter(again(rolled(4, "A", "B", "999.20"), 4, corrects="T-0002"), counted(9))
    assert [(r.ticket, r.lost) for r in rates_of(book)] == [("T-0004", g("0.4"))]


def test_a_job_counts_once_when_it_is_done() -> None:
    job = {"operation": "roll", "area": "ROLL", "job": "J1"}
    opened = [bar(1, "A"), ticket(2, "work", in_=[lot("A", "1000.00", all=True)], **job),
              ticket(3, "work", out=[lot("B", "400.00", form="coil")], **job)]  # fmt: skip
    assert rates_of(Book([*opened, counted(9)])) == []
    done = ticket(4, "work", out=[lot("C", "599.20", form="coil")], done=True, **job)
    assert [(r.ticket, r.put_in, r.lost) for r in rates_of(Book([*opened, done, counted(9)]))] == [
        ("T-0004", g("500"), g("0.4"))
    ]


@pytest.mark.parametrize("part", ["1000.00", "250.00"])
def test_content_work_speaks_when_its_output_is_assayed_by_what_stood_then(part: str) -> None:
    """500 g of gold in; the first assay finds 0.2 % less than was carried over: 1 g of 500, whatever was moved on."""
    book = Book([
        bar(1, "A"),
        ticket(2, "work", operation="pickle", area="ROLL", in_=[lot("A", "1000.00", all=True)],
               out=[lot("B", "1000.00", form="coil")]),
    ])  # fmt: skip
    assert rates_of(book) == []
    if part != "1000.00":
        book.enter(ticket(3, "move", from_="ROLL", to="FINISH", lots=[lot("B", "750.00")]))
        book.enter(ticket(4, "ship", from_="FINISH", party="CUS", terms="sold", lots=[lot("B", all=True)]))
    book.enter(ticket(5, "assay", lot="B", method="FIRE", results={"gold": [["499.0"]]}))
    book.enter(ticket(6, "assay", lot="B", method="FIRE", results={"gold": [["470.0"]]}), counted(9))
    (rate,) = rates_of(book)
    assert (rate.ticket, rate.operation, rate.put_in) == ("T-0002", "pickle", g("500"))
    assert rate.lost == pytest.approx(g("1"), rel=1e-9)
    assert [r.lost for r in rates_of(book, "gross")] == [0]


@pytest.fixture(scope="module")
def lossy() -> Book:
    """Rolling is stated to lose 0.05 %, with an assumed spread of 0.025 %, and loses 0.12 %."""
    return Book(months({"": Fraction(12, 10000)}, 10))


def test_a_proposal_names_the_flags_that_it_would_have_hidden(lossy: Book) -> None:
    document = rates(lossy.connection, None, Asked(propose=True, by="W"))
    (rate,) = document["rates"]
    assert (rate["tickets"], rate["months"], rate["says"], rate["raises"]) == (30, 3, "raise", True)
    assert float(rate["proposed"]["loss"][:-1]) == pytest.approx(0.12, abs=0.005)
    assert float(rate["proposed"]["spread"][:-1]) == pytest.approx(0.005, abs=0.002)
    proposal = document["proposal"]
    hidden = [(t["period"], t["area"], t["now"]["verdict"]) for t in proposal["hidden"] if t["ticket"] is None]
    assert hidden == [(period, "ROLL", "short") for period in ("2026-10", "2026-11", "2026-12")]
    assert all(t["then"]["verdict"] not in ("short", "over") for t in proposal["hidden"])
    assert (proposal["change"]["from"], proposal["change"]["by"]) == ("2027-01-01", "W")


def test_what_is_asked_for_by_operation_and_area(lossy: Book) -> None:
    def named(**asked: Any) -> list[str]:
        return [r["operation"] for r in rates(lossy.connection, None, Asked(**asked))["rates"]]

    assert named(operation="roll") == named(area="ROLL") == ["roll"]
    assert named(operation="melt") == named(area="MELT") == []
    assert rates(lossy.connection, None, Asked(since="2026-12"))["periods"] == ["2026-12"]
    with pytest.raises(WrongUsage, match="no operation"):
        named(operation="forge")
    with pytest.raises(WrongUsage, match="no person"):
        named(propose=True, by="NOBODY")


def test_a_month_or_two_propose_nothing_rash(lossy: Book) -> None:
    """The same tickets, one month of them: the drift between months is not known, and the interval says so."""
    (rate,) = rates(lossy.connection, None, Asked(since="2026-12"))["rates"]
    assert rate["months"] == 1
    assert rate["loss"]["high"] - rate["loss"]["low"] > 0.001


def test_a_rate_stated_for_a_material_is_learned_by_itself() -> None:
    text = PLANT + TWO_ALLOYS + '[[rate]]\noperation = "roll"\nalloy = "G14"\nloss = {gold = "0.08%"}\n'
    book = Book(months({"G12": Fraction(5, 10000), "G14": Fraction(8, 10000)}, 8), text)
    found = {r["alloy"]: r for r in rates(book.connection, None, Asked())["rates"]}
    assert {alloy: r["tickets"] for alloy, r in found.items()} == {None: 12, "G14": 12}
    assert found["G14"]["in_force"]["loss"] == 0.0008
    assert found["G14"]["loss"]["learned"] == pytest.approx(0.0008, abs=0.00005)
    assert found[None]["loss"]["learned"] == pytest.approx(0.0005, abs=0.00005)


def test_a_material_that_differs_is_proposed_a_rate_of_its_own() -> None:
    book = Book(months({"G12": Fraction(4, 10000), "G14": Fraction(9, 10000)}, 20), PLANT + TWO_ALLOYS)
    document = rates(book.connection, None, Asked(propose=True, by="W"))
    found = {(r["operation"], r["alloy"]): r for r in document["rates"]}
    assert float(found["roll", "G12"]["proposed"]["loss"][:-1]) == pytest.approx(0.04, abs=0.005)
    assert float(found["roll", "G14"]["proposed"]["loss"][:-1]) == pytest.approx(0.09, abs=0.005)
    rows = document["proposal"]["change"]["rate"]
    assert [(row["operation"], row["alloy"]) for row in rows] == [("roll", "G12"), ("roll", "G14")]


def test_a_ticket_under_several_rates_is_left_out_and_counted() -> None:
    text = PLANT + TWO_ALLOYS + '[[rate]]\noperation = "melt"\nalloy = "G14"\nloss = {gold = "0.08%"}\n'
    book = Book([
        bought(1, "MELT", lot("A", "500.00", alloy="G12"), lot("B", "500.00", alloy="G14")),
        ticket(2, "work", operation="melt", area="MELT", in_=[lot("A", all=True), lot("B", all=True)],
               out=[lot("C", "996.00", form="bar")]),
        counted(9, "MELT"),
    ], text)  # fmt: skip
    document = rates(book.connection, None, Asked())
    assert (document["rates"], document["mixed"]) == ([], 1)


def test_a_metal_without_a_rate_is_derived_and_nothing_is_proposed_for_it(lossy: Book) -> None:
    (rate,) = rates(lossy.connection, "gross", Asked(propose=True, by="W"))["rates"]
    assert (rate["in_force"]["how"], rate["in_force"]["loss"]) == ("derived", pytest.approx(0.0005))
    assert (rate["says"], rate["proposed"], rate["each"]) == ("derived", {}, None)
    assert rate["loss"]["learned"] == pytest.approx(0.0012, abs=0.00005)


def test_an_unrated_operation_learns_its_rate_from_the_book() -> None:
    text = PLANT.replace('composition = "carries"\nloss = {gold = "0.05%"}', 'composition = "carries"')
    document = rates(Book(months({"": Fraction(12, 10000)}, 10), text).connection, None, Asked(propose=True, by="W"))
    (rate,) = document["rates"]
    assert (rate["in_force"]["how"], rate["says"], rate["raises"]) == ("unrated", "state", False)
    assert sorted(rate["proposed"]) == ["drift", "loss", "spread"]
    assert float(rate["proposed"]["loss"][:-1]) == pytest.approx(0.12, abs=0.005)


def test_a_fixed_part_is_told_from_a_share() -> None:
    """Bars of 1 to 20 kg lose 0.05 % and 1 g of gold each: 0.05 % is stated, nothing for each."""
    random, documents = Random(2), list[Document]()
    for i in range(45):
        at = f"2026-{10 + i // 15}-{i % 15 + 2:02d}T08:00"
        mass = random.choice((1000, 2000, 5000, 20000))
        lost = mass * random.gauss(0.0005, 0.00002) + 2
        documents += [
            bought(3 * i + 1, "ROLL", lot(f"A{i}", f"{mass}.00", gold="500", method="FIRE"), at=at),
            ticket(3 * i + 2, "work", operation="roll", area="ROLL", in_=[lot(f"A{i}", f"{mass}.00", all=True)],
                   out=[lot(f"B{i}", f"{mass - lost:.2f}", form="coil")], at=at),
            ticket(3 * i + 3, "ship", from_="ROLL", party="CUS", terms="sold", lots=[lot(f"B{i}", all=True)], at=at),
        ]  # fmt: skip
    documents += [ticket(900 + m, "count", area="ROLL", nil=True, at=f"2026-{m}-28T16:00") for m in (10, 11, 12)]
    documents.sort(key=lambda document: document["at"])
    (rate,) = rates(Book(documents).connection, None, Asked())["rates"]
    assert float(rate["each"]["low"]) < 1 < float(rate["each"]["high"])
    assert float(rate["proposed"]["each"].split()[0]) == pytest.approx(1, abs=0.05)
    assert rate["loss"]["learned"] == pytest.approx(0.0005, abs=0.00003)
    assert "loss" not in rate["proposed"]
    assert rate["raises"]
