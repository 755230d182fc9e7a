"""Others' metal and metal with others: confirmations, owners, a lender's cover, estimates, value by day."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from ledger.audit.account import account_document
from ledger.audit.estimated import estimated_document
from ledger.audit.holdings import holdings_document, owners_document
from ledger.audit.inquiry import Inquiry
from ledger.audit.lending import lender_document
from ledger.audit.purity import purity_document
from ledger.audit.values import value_document
from ledger.quantities.mass import NG_PER_UNIT
from ledger.refusals import WrongUsage
from tests.audit.conftest import asked
from tests.book.plants import PLANT, Book, bought, lot, ticket

PRICES = "".join(
    f'\n[[fixing]]\nmetal = "{metal}"\ndate = 2026-10-{day:02d}\nper = "g"\namount = "{amount}"\n'
    for metal, day, amount in (("gold", 2, "80"), ("silver", 2, "1"), ("gold", 4, "100"))
)


@pytest.fixture
def book() -> Book:
    """Ours 80 g assayed and 10 g nominal; 40 g leased of LEND, 20 g deposited by LIST and kept apart; slag 6 g, an
    estimate; 30 g of ours at the plater."""
    fire = {"gold": "500", "method": "FIRE", "form": "bar"}
    return Book((
        bought(1, "VAULT", lot("OURS", "160.00", **fire), lot("MARK", "20.00", gold="500", basis="nominal")),
        ticket(2, "receive", party="LEND", terms="leased", to="VAULT", lots=[lot("LENT", "80.00", **fire)]),
        ticket(3, "receive", party="LIST", terms="deposited", to="VAULT",
               lots=[lot("THEIRS", "40.00", owner="LIST", declared_mass="41.00 g", **fire)]),
        ticket(4, "work", area="MELT", operation="melt", in_=[lot("OURS", "20.00")],
               out=[lot("SLAG1", "12.00", metallic="12.00 g", content={"gold": "6.0 g", "silver": "0.0 g"},
                        basis="estimated", class_="SLAG")]) | {"area": "VAULT"},
        ticket(5, "move", from_="VAULT", to="PLATER", lots=[lot("OURS", "60.00")]),
    ), PLANT + PRICES)  # fmt: skip


@pytest.fixture
def inquiry(book: Book) -> Inquiry:
    return asked(book)


def test_what_others_are_asked_to_confirm(inquiry: Inquiry) -> None:
    document = holdings_document(inquiry, None)
    (outside,) = document["outside"]
    assert (outside["area"], outside["lots"], outside["fine"]) == ("PLATER", 1, "30.000000000")
    accounts = {(a["party"], a["terms"]): a["owed_by_us"] for a in document["accounts"]}
    assert accounts == {("LEND", "leased"): "40.000000000", ("LIST", "deposited"): "20.500000000"}  # by the list


def test_whose_the_metal_is(inquiry: Inquiry) -> None:
    document = owners_document(inquiry, None)
    vault = document["places"][0]
    assert (vault["fine"], vault["segregated"], vault["commingled"]) == (
        "116.000000000", {"LIST": "20.000000000"}, "96.000000000")  # fmt: skip
    assert {(c["whose"], c["terms"]): c["fine"] for c in document["claims"]} == {
        ("own", None): "90.000000000", ("LEND", "leased"): "40.000000000",
        ("LIST", "deposited"): "20.500000000"}  # fmt: skip


def test_cover_by_hand(inquiry: Inquiry) -> None:
    """Assayed on hand: OURS 40 in the vault + 30 outside, LENT 40, THEIRS 20: 130, less 20.5 of LIST's: 109.5 ÷ 40.

    Neither the nominal 10 g nor the slag count.
    """
    document = lender_document(inquiry, "LEND", None, None, None)
    assert (document["lent"], document["assayed"], document["owed_to_others"]) == (
        "40.000000000", "130.000000000", "20.500000000")  # fmt: skip
    assert document["cover"] == "2.7375"
    not_counted = {row["basis"]: row["not_counted"] for row in document["held"]}
    assert (not_counted["nominal"], not_counted["estimated"]) == ("10.000000000", "6.000000000")
    assert (document["limit"], document["within_limit"]) == ("60.000000000", True)
    assert (document["value"], document["price_of"]) == (None, None)  # the fixings begin on the second


def test_a_limit_at_todays_price(inquiry: Inquiry) -> None:
    price = Fraction(3000) / NG_PER_UNIT["ozt"]
    document = lender_document(inquiry, "LEND", None, price, Fraction(3800))
    assert (document["price_of"], document["value"], document["within_facility"]) == ("given", "3858.09", False)
    assert lender_document(inquiry, "LEND", None, price, Fraction(3900))["within_facility"] is True


@pytest.mark.parametrize("party", ["NOBODY", "LEND"])
def test_a_lender_that_is_none_and_gross(inquiry: Inquiry, party: str) -> None:
    with pytest.raises(WrongUsage):
        lender_document(replace(inquiry, metal="gross"), party, None, None, None)


def test_what_rests_on_estimates(inquiry: Inquiry) -> None:
    document = estimated_document(inquiry, None)
    assert (document["estimated"], document["nominal"]) == ("6.000000000", "10.000000000")
    assert document["share"] == pytest.approx(6 / 146)
    vault = next(a for a in document["areas"] if a["area"] == "VAULT")
    assert (vault["to_30_days"], vault["older"]) == ("6.000000000", "0.000000000")


def test_how_fineness_is_known(inquiry: Inquiry) -> None:
    document = purity_document(inquiry, None, "VAULT")
    assert {row["basis"]: row["lots"] for row in document["by_basis"]} == {
        "measured": 3, "calculated": 0, "nominal": 1, "estimated": 1}  # fmt: skip
    ours = next(row for row in document["lots"] if row["lot"] == "OURS")
    assert (ours["method"], ours["fineness"], ours["ticket"]) == ("FIRE", "500.000", "T-0001")


def test_samples_and_determinations_of_an_assay() -> None:
    book = Book((
        bought(1, "MELT", lot("A", "60.00", gold="500", method="FIRE"), lot("B", "40.00", gold="0")),
        ticket(2, "work", area="MELT", operation="solder", in_=[lot("A", all=True), lot("B", all=True)],
               out=[lot("M", "100.00", form="bar")]),
        ticket(3, "assay", lot="M", method="FIRE", results={"gold": [["301‰", "299‰"], ["300‰"]]}),
    ))  # fmt: skip
    known = purity_document(asked(book), None, None)["lots"][0]
    assert (known["samples"], known["determinations"], known["basis"]) == (2, 3, "measured")
    before = purity_document(asked(book), book.connection.execute(
        "SELECT instant FROM ticket WHERE number = 'T-0002'").fetchone()[0], None)["lots"][0]  # fmt: skip
    assert (before["basis"], before["rests_on"]) == ("calculated", {"measured": 1})


def test_value_by_day() -> None:
    """10 g from the third on; 80 a gram until the fourth, then 100; 6 g leave on the fifth."""
    book = Book((
        bought(50, "VAULT", lot("A", "20.00", gold="500", form="bar")),
        ticket(100, "ship", from_="VAULT", party="CUS", terms="sold", lots=[lot("A", "12.00")]),
    ), PLANT + PRICES)  # fmt: skip
    inquiry = asked(book)
    calendar = inquiry.setups.calendar
    document = value_document(inquiry, (calendar.instant("2026-10-01T00:00"), calendar.instant("2026-10-06T23:00")))
    assert [(d["day"][-2:], d["value"]) for d in document["days"]] == [
        ("01", "0.00"), ("02", "0.00"), ("03", "800.00"), ("04", "1000.00"), ("05", "400.00"), ("06", "400.00")]
    (vault,) = document["places"]
    assert (vault["highest"], vault["highest_on"], vault["end"]) == ("1000.00", "2026-10-04", "400.00")


# --------------------------------------------------------------------------------------------------------- the account


def test_a_metal_account_balances() -> None:
    """LIST deposits 41 g × 500 ‰ by its list, gets 10 g back as 15 g billed 600 ‰ of metal that holds 9.6 g."""
    book = Book((
        ticket(1, "receive", party="LIST", terms="deposited", to="VAULT",
               lots=[lot("D", "40.00", gold="500", declared_mass="41.00 g", form="bar")]),
        ticket(2, "ship", from_="VAULT", party="LIST", terms="returned", against="deposited",
               lots=[lot("D", "15.00", billed={"gold": "600‰"})]),
        ticket(3, "ship", from_="VAULT", party="LIST", terms="returned", lots=[lot("D", "10.00", billed="12K")]),
        ticket(4, "reverse", of="T-0003", reason="not shipped"),
    ))  # fmt: skip
    document = account_document(asked(book), "LIST", "2026-10")
    (account,) = document["accounts"]
    assert (account["terms"], account["sign"], account["opening"], account["closing"]) == (
        "deposited", "theirs", "0.000000000", "11.500000000")  # fmt: skip
    assert [(m["ticket"], m["mass"], m["balance"]) for m in account["movements"]] == [
        ("T-0001", "20.500000000", "20.500000000"), ("T-0002", "-9.000000000", "11.500000000"),
        ("T-0003", "-5.000000000", "6.500000000"), ("T-0004", "5.000000000", "11.500000000")]  # fmt: skip
    assert account["movements"][-1]["what"] == "reverses T-0003: not shipped"
    assert (document["given_away"], document["under_delivered"]) == ("0.000000000", "1.500000000")
    assert account_document(asked(book), "LIST", "2026-11")["accounts"][0]["opening"] == "11.500000000"


def test_loss_allowance_and_terms_are_the_set_ups() -> None:
    text = PLANT.replace('code = "LIST"\n', 'code = "LIST"\ntitle = "stays theirs"\nloss_allowance = "2%"\n')
    book = Book([ticket(1, "receive", party="LIST", terms="deposited", to="VAULT",
                        lots=[lot("D", "40.00", gold="500", form="bar")])], text)  # fmt: skip
    document = account_document(asked(book), "LIST", "2026-10")
    assert document["allowance"] == "0.400000000"  # 2 % of 20 g
    assert (document["terms"]["title"], document["terms"]["owed"]) == ("stays theirs", "declared")


def test_a_refiners_account_and_what_he_retains() -> None:
    book = Book((
        bought(1, "PLATER", lot("A", "100.00", gold="500", form="bar")),
        ticket(2, "settle", area="PLATER", party="REF",
               lots=[lot("A", received="100.0 g", agreed={"gold": "49.9 g", "silver": "0.0 g"},
                         payable={"gold": "49.0 g", "silver": "0.0 g"})]),
        ticket(3, "transfer", from_={"party": "REF", "terms": "settled"}, to={"party": "REF", "terms": "pool"},
               metal="gold", fine="40.0 g", reference="P1"),
    ))  # fmt: skip
    document = account_document(asked(book), "REF", "2026-10")
    assert {a["terms"]: (a["closing"], a["sign"]) for a in document["accounts"]} == {
        "pool": ("40.000000000", "owed to the plant"), "settled": ("9.000000000", "owed to the plant")}  # fmt: skip
    assert document["retained"] == "0.900000000"


def test_a_party_that_is_none() -> None:
    with pytest.raises(WrongUsage, match="there is no party 'X'"):
        account_document(asked(Book()), "X", "2026-10")
