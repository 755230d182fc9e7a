"""Tests of single events in the statement: sender and receiver, list and scale, assays, refiners.

σ is worked out beside each check from the rules of docs/methods.md (own regression).
"""

from __future__ import annotations

from math import hypot, sqrt
from typing import Any

import pytest

from ledger.balance.months.statement import reconcile
from tests.book.plants import Book, Document, bought, lot, ticket

#: One reading on each scale of the tests' plant in grams, and the error that its readings share, relative.
S1, LAB, SHARED = hypot(0.005, 0.01 / sqrt(12)), hypot(0.00005, 0.0001 / sqrt(12)), 5e-5
#: A nominal fineness; one fire assay of one sample: repeatability, sampling, bias.
NOMINAL, FIRE = 1.7e-3, hypot(3e-4, 2e-4, 1e-4)


def statement(*documents: Document, metal: str = "gold", period: str = "2026-10") -> dict[str, Any]:
    return reconcile(Book(documents).connection, period, metal)


def sent(**fields: Any) -> list[Document]:
    """Return 100 g at 500 ‰ bought into the vault, and sent on its way to the melting shop."""
    line = lot("A", scale="S1", all=True, **fields)
    return [
        bought(1, "VAULT", lot("A", "100.00", gold="500", scale="S1")),
        ticket(2, "move", from_="VAULT", to="MELT", lots=[line], in_transit=True),
    ]


def arrived(n: int = 30, **fields: Any) -> Document:
    return ticket(n, "arrive", of="T-0002", lots=[lot("A", **fields)])


def test_arrival_is_tested_like_a_move() -> None:
    found = statement(*sent(mass="100.00 g"), arrived(mass="99.9000 g", scale="LAB"))
    (move,) = found["moves"]
    assert (move["from"], move["to"], move["sender_receiver_difference"]) == ("VAULT", "MELT", "0.050000000")
    sigma = hypot(0.5 * hypot(S1, LAB, SHARED * 100, SHARED * 99.9), 0.1 * NOMINAL)
    assert move["sigma"] == pytest.approx(sigma, rel=1e-6)
    assert move["z"] == pytest.approx(0.05 / sigma, rel=1e-5)
    assert move["verdict"] == "short"


def test_arrival_counts_in_its_own_month() -> None:
    documents = [*sent(mass="100.00 g"), arrived(800, mass="99.9000 g", scale="LAB")]
    assert statement(*documents)["moves"] == []
    assert [move["to"] for move in statement(*documents, period="2026-11")["moves"]] == ["MELT"]


def test_arrivals_and_moves_between_two_areas_are_one_test() -> None:
    by_hand = [
        bought(3, "VAULT", lot("B", "50.00", gold="500", scale="S1")),
        ticket(4, "move", from_="VAULT", to="MELT", lots=[
            lot("B", "50.00", scale="S1", all=True, received_mass="49.98 g", received_scale="S1")]),
    ]  # fmt: skip
    (move,) = statement(*sent(mass="100.00 g"), *by_hand, arrived(mass="99.9000 g", scale="LAB"))["moves"]
    assert move["sender_receiver_difference"] == "0.060000000"


def test_what_one_side_did_not_weigh_is_no_test() -> None:
    sealed = [
        bought(1, "VAULT", lot("A", "100.00", gold="500", scale="S1")),
        ticket(2, "move", from_="VAULT", to="MELT", lots=[lot("A", all=True, seal="77")], in_transit=True),
    ]
    assert statement(*sealed, arrived(mass="99.9000 g", scale="LAB"))["moves"] == []
    assert statement(*sent(mass="100.00 g"), arrived(all=True, seal="77"))["moves"] == []


def test_a_lot_that_never_came_is_short() -> None:
    (move,) = statement(*sent(mass="100.00 g"), arrived(mass="0 g"))["moves"]
    assert (move["sender_receiver_difference"], move["verdict"]) == ("50.000000000", "short")


def deposit(party: str, **fields: Any) -> Document:
    own = lot("D", "100.00", scale="S1", gold="585", method="FIRE", **fields)
    return ticket(1, "receive", party=party, terms="deposited", to="VAULT", lots=[own])


def test_list_against_our_own_weighing() -> None:
    """V = 100.20 g at our own fineness: 0.20 g × 585 ‰ missing, against one reading of ours."""
    (receipt,) = statement(deposit("LIST", declared_mass="100.20 g"))["receipts"]
    sigma = hypot(0.585 * hypot(S1, SHARED * 100), 0.2 * FIRE)
    assert (receipt["party"], receipt["area"], receipt["difference"]) == ("LIST", "VAULT", "0.117000000")
    assert receipt["sigma"] == pytest.approx(sigma, rel=1e-6)
    assert (receipt["z"], receipt["verdict"]) == (pytest.approx(0.117 / sigma, rel=1e-5), "short")


def test_list_against_our_own_assay() -> None:
    """V = 100 g at 584 ‰: one fire assay of one sample and its bias, ± 0.3, 0.2 and 0.1 ‰, beside the reading."""
    declared = {"declared_mass": "100.00 g", "declared_fineness": {"gold": "584‰", "silver": "0‰"}}
    (receipt,) = statement(deposit("LIST", **declared))["receipts"]
    assert receipt["difference"] == "-0.100000000"
    assert receipt["sigma"] == pytest.approx(hypot(0.585 * S1, 0.585 * SHARED * 100, 100 * FIRE), rel=1e-3)


def test_no_list_no_receipt_difference() -> None:
    assert statement(deposit("CUS"))["receipts"] == []
    assert statement(deposit("LIST"))["receipts"] == []
    assert statement(bought(1, "VAULT", lot("A", "1.00", gold="500", scale="S1")))["receipts"] == []


def assayed(found: str) -> list[Document]:
    return [
        bought(1, "VAULT", lot("A", "100.00", gold="750", scale="S1")),
        ticket(2, "assay", lot="A", method="FIRE", results={"gold": [[f"{found}‰"]]}),
    ]


def test_assay_against_what_was_recorded() -> None:
    """A nominal lot, ± 1.7 ‰, found 7.5 ‰ lower by one fire assay: beyond 3 σ; 5 ‰ are not."""
    found = statement(*assayed("742.5"))["assays"]
    (assay,) = found
    assert (assay["ticket"], assay["lot"], assay["area"]) == ("T-0002", "A", "VAULT")
    assert (assay["difference"], assay["verdict"]) == ("0.750000000", "short")
    assert assay["sigma"] == pytest.approx(100 * hypot(NOMINAL, FIRE), rel=1e-4)
    assert statement(*assayed("745.0"))["assays"] == []
    assert statement(*assayed("742.5"), metal="gross")["assays"] == []


def pickled(found: str) -> list[Document]:
    """Return 100 g at 750 ‰, known to a hair, pickled to 99.9 g and then assayed: its loss shows first there."""
    exact = {"basis": "measured", "sd": "0.01‰"}
    return [
        bought(1, "FINISH", lot("A", "100.00", gold="750", scale="S1", **exact)),
        ticket(2, "work", operation="pickle", area="FINISH", in_=[lot("A", "100.00", scale="S1", all=True)],
               out=[lot("B", "99.90", scale="S1")]),
        ticket(3, "assay", lot="B", method="FIRE", results={"gold": [[f"{found}‰"]]}),
    ]  # fmt: skip


def test_first_assay_of_what_may_have_lost_content_allows_for_it() -> None:
    """75 g in; 749 ‰ × 99.9 g is 0.1749 g less, of which 0.0075 g is the normal loss."""
    (found,) = statement(*pickled("749"))["assays"]
    assert found["difference"] == "0.167400000"  # 75 − 99.9 × 0.749 − 0.0001 × 75
    assert found["sigma"] == pytest.approx(
        hypot(99.9 * FIRE, 0.5e-4 * 75, 0.75 * S1, 0.749 * S1, SHARED * 0.175, 100e-5), rel=1e-2
    )


def settled(n: int, name: str, agreed: str) -> Document:
    line = {"lot": name, "received": "100.00 g", "agreed": {"gold": f"{agreed} g", "silver": "0.0 g"},
            "payable": {"gold": "74.0 g", "silver": "0.0 g"}}  # fmt: skip
    return ticket(n, "settle", area="PLATER", party="REF", lots=[line])


def test_refiner_who_is_always_low() -> None:
    """Twelve settlements each 0.03 % under our own assay, none disputed: sign test p = 1/4096 (computed)."""
    documents = []
    for n in range(12):
        line = lot(f"R{n}", "100.00", gold="750", method="FIRE", scale="S1")
        documents += [
            bought(2 * n + 1, "PLATER", line),
            settled(2 * n + 2, f"R{n}", "74.9775"),
        ]
    (refiner,) = statement(*documents)["refiners"]
    assert (refiner["party"], refiner["settled"], refiner["judged"]) == ("REF", 12, 12)
    assert refiner["difference"] == "0.270000000"
    assert refiner["sign_test"] == {"below": 12, "above": 0, "equal": 0, "p_below": 1 / 4096, "p_either": 2 / 4096}
    assert refiner["verdict"] == "short"  # 2/4096 is rarer than beyond 3 σ, 0.27 %
    (half,) = statement(*documents[:16])["refiners"]
    assert (half["sign_test"]["p_either"], half["verdict"]) == (2 / 256, "look")


def test_refiner_of_more_than_a_year_ago_is_left_out() -> None:
    line = lot("R", "100.00", gold="750", method="FIRE", scale="S1")
    documents = [bought(1, "PLATER", line), settled(2, "R", "74.9")]
    later = [bought(24 * 30 * n, "VAULT", lot(f"L{n}", "1.00", gold="500", scale="S1")) for n in range(1, 14)]
    book = Book([*documents, *later])
    assert len(reconcile(book.connection, "2027-09", "gold")["refiners"]) == 1
    assert reconcile(book.connection, "2027-10", "gold")["refiners"] == []


def test_refiner_reads_on_a_scale_of_his_own() -> None:
    """Bought by one reading on S1, settled by one of his, taken to be as poor: no error is common to the two."""
    line = lot("R", "100.00", gold="750", method="FIRE", scale="S1")
    book = Book([bought(1, "PLATER", line), settled(2, "R", "74.9")])
    area = next(a for a in reconcile(book.connection, "2026-10", "gross")["areas"] if a["area"] == "PLATER")
    assert area["sigma"] == pytest.approx(hypot(S1, S1, SHARED * 100, SHARED * 100), rel=1e-6)


def test_a_list_that_does_not_count_is_no_source() -> None:
    """Where we owe what we received, the sender's list is neither in V nor in σ."""
    listed = statement(deposit("CUS", declared_mass="100.20 g"))
    assert listed["receipts"] == []
    assert next(a for a in listed["areas"] if a["area"] == "VAULT")["sigma"] == 0
