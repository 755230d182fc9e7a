"""Settlements against published rules and recomputed values; the source stands beside each check.

S: read in a copy of the source, or of a public file that attributes it. M: from memory, agreed when recomputed.
C: computed here from first principles, not published.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from ledger.balance.daily.out_turn import OutTurnLine, against_book, history
from ledger.bench.settle import SettledLot
from ledger.bench.settle_exchange import exchange
from ledger.bench.settle_ticket import agreed_ng, settle_ticket
from ledger.book.setups import Setups
from ledger.quantities.mass import in_unit
from tests.bench.out_turns import Document, lot, out_turn, settled
from tests.book.plants import Book, bought, number, ticket
from tests.book.plants import lot as line

LIMIT = Fraction(5, 10_000)


def mille(text: str) -> Fraction:
    return Fraction(text) / 1000


# ------------------------------------------- exchange of assays: refiners' published terms (S, logic only; figures C)


@pytest.mark.parametrize(
    ("rule", "ours", "theirs", "umpire", "agreed", "pays"),
    [
        ("umpire", "585.4", "585.0", None, "585.2", ""),  # within 0.5 ‰: the mean
        ("umpire", "585.5", "585.0", None, "585.25", ""),  # the limit itself is within
        ("umpire", "585.6", "585.0", "585.4", "585.4", "theirs"),  # between the two: the umpire's
        ("umpire", "585.6", "585.0", "585.9", "585.6", "theirs"),  # outside: the nearer party's, the middle of three
        ("umpire", "585.6", "585.0", "584.8", "585.0", "ours"),  # the farther party pays
        ("umpire", "585.6", "585.0", "585.3", "585.3", "both"),
        ("nearer mean", "585.6", "585.0", "585.5", "585.55", "theirs"),  # the variant: mean of umpire and nearer
        ("nearer mean", "585.6", "585.0", "584.8", "584.9", "ours"),
        ("nearer mean", "585.6", "585.0", "585.3", "585.3", "both"),
        ("mean", "590.0", "580.0", "581.0", "585.0", ""),
        ("theirs", "590.0", "580.0", None, "580.0", ""),
    ],
)
def test_exchange_of_assays(rule: str, ours: str, theirs: str, umpire: str | None, agreed: str, pays: str) -> None:
    third = None if umpire is None else mille(umpire)
    found = exchange(rule, mille(ours), mille(theirs), third, LIMIT)  # type: ignore[arg-type]
    assert (found.agreed, found.umpire_paid_by) == (mille(agreed), pays)


def test_replicates_of_yellow_and_red_gold_agree_within_half_a_per_mille_of_white_within_one() -> None:
    """ISO 11426 (M: from memory)."""
    for within, said in (("0.5‰", 1), ("1‰", 0)):
        document = out_turn(lot("10.0 g", [["750.0", "750.8"]], "750.4"), gold={"replicates_within": within})
        assert len(settled(document).remarks) == said


# ------------------------------------------------------ London Good Delivery Rules, Annexes B and C (S; rows computed)


def ounces(received: str, assay: str) -> tuple[str, str]:
    """Return the mass settled on and the fine ounces agreed, to three decimals, of one bar."""
    document = out_turn(lot(received, assay), rounding={"mass": "0.001 ozt", "weight": "good delivery"})
    one: SettledLot = settled(document).lots[0]
    return (f"{float(in_unit(round(one.settled), 'ozt')):.3f}", f"{float(one.metals[0].agreed / 31_103_476_800):.3f}")


def test_fine_ounces_to_three_decimals() -> None:
    """401.125 ozt × 995.8 ‰ → 399.440; the bar must turn the scale by 0.002 above its step of 0.025."""
    assert ounces("401.127 ozt", "995.8") == ("401.125", "399.440")


@pytest.mark.parametrize(("weighed", "taken"), [("401.126", "401.100"), ("401.127", "401.125")])
def test_gross_steps_down(weighed: str, taken: str) -> None:
    assert ounces(f"{weighed} ozt", "995.8")[0] == taken


@pytest.mark.parametrize(
    ("received", "assay", "fine"),
    [
        ("1.0 kg", "995.0", "31.990"), ("1.0 kg", "999.0", "32.119"), ("1.0 kg", "999.9", "32.148"),
        ("100.0 ozt", "995.0", "99.500"), ("100.0 ozt", "999.0", "99.900"), ("100.0 ozt", "999.9", "99.990"),
    ],
)  # fmt: skip
def test_agreed_fine_content_of_small_bars(received: str, assay: str, fine: str) -> None:
    """London agreed fine content (S); 1 kg and 100 ozt bars, weighed as read."""
    document = out_turn(lot(received, assay), rounding={"mass": "0.001 ozt"})
    found = settled(document)
    assert settle_ticket(found, {"ticket": "T-1"}, "X")["lots"][0]["agreed"] == {"gold": f"{fine} ozt"}


# ------------------------------------- twelve settlements each 0.03 % under our assay, splitting limit 0.05 % (C)


def low(name: str) -> Document:
    """Ours 500.15, theirs 499.85: 0.3 ‰ apart, within 0.5 ‰; agreed 500.0 where the book has 500.15: 0.03 % under."""
    return lot("100.0 g", "500.15", "499.85", name=name)


def test_a_refiner_who_is_always_low_is_never_disputed_and_found_by_the_sign_test() -> None:
    """p = 1/4096 with the twelfth, which is still only an out-turn."""
    names = [f"R{i}" for i in range(12)]
    document = {"gold": "500.15", "silver": "10", "method": "FIRE"}
    book = Book([bought(1, "PLATER", *(line(name, "100.00", **document) for name in names))])
    metals = ("gold", "silver")
    for i, name in enumerate(names[:11]):
        found = settled(out_turn(low(name), exchange="umpire"))
        assert found.lots[0].metals[0].exchanged.umpire_paid_by == ""
        said = ticket(2 + i, "settle")
        common = {"ticket": number(2 + i), "at": said["at"], "by": "W"}
        book.enter(settle_ticket(found, common, "PLATER", metals))
    (last,) = settled(out_turn(low("R11"), exchange="umpire")).lots
    out = OutTurnLine("R11", {"received": "100.0 g"}, agreed_ng(last, metals))
    setups = Setups.read(book.connection)
    found_ = against_book(book.connection, setups, "PLATER", "REF", 0, [out])
    known = history(book.connection, setups, "REF", "gold", found_)
    assert (len(known.refiner.judged), known.before.p_positive) == (11, Fraction(1, 2048))
    assert (known.with_this.positive, known.with_this.p_positive) == (12, Fraction(1, 4096))
    gold = next(one for one in found_ if one.metal == "gold")
    assert Fraction(gold.difference, gold.recorded) == pytest.approx(0.0003, rel=1e-3)
