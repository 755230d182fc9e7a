"""What is in the drums: what counts, what history proposes, and whether the lower bound holds as often as it says."""

from __future__ import annotations

from random import Random

import pytest

from ledger.balance.daily.back_test import Pair, Stream, StreamTest
from ledger.balance.daily.estimates import OpenEstimate
from ledger.balance.daily.residues import Drums, _bound, drums, proposal
from ledger.book.setups import Setups
from tests.balance.test_back_test import DUST, assayed, sent, sweep
from tests.book.plants import Book, bought, g, lot, ticket


def of(book: Book, metal: str = "gold") -> Drums:
    return drums(book.connection, Setups.read(book.connection), metal)


def history(ratios: list[float], *open_: float) -> StreamTest:
    """A stream of 100 g estimates that brought so much of it, and open ones, in grams."""
    pairs = [Pair("T", "assay", 0, "L", g("100"), round(r * 10**11)) for r in ratios]
    estimates = [OpenEstimate("A", "L", None, 0, {}, [0, round(e * 10**9)]) for e in open_]
    return StreamTest(Stream("received", "", ""), pairs, estimates)


# ---------------------------------------------------------------------------------------------------- what counts


def test_measured_and_tested_estimates_count_and_nothing_else() -> None:
    """A and B were assayed at 9.0 and 9.2 g, C is an estimate of that stream, D one of a stream without history."""
    book = Book([
        DUST, sweep(2, "A", "10.0"), sweep(3, "B", "10.0"), sweep(4, "C", "10.0"),
        assayed(5, "A", "9.0"), assayed(6, "B", "9.2"),
        bought(7, "VAULT", lot("D", "50.00", fineness={"gold": "10%", "silver": "0"}, basis="estimated")),
    ])  # fmt: skip
    found = of(book)
    assert {(r.lot, r.estimated) for r in found.residues} == {("A", False), ("B", False), ("C", True), ("D", True)}
    assert (found.booked, found.measured, found.without_history) == (g("33.2"), g("18.2"), g("5"))
    assert found.measured_lower == pytest.approx(g("18.2") - 1.644854 * found.measured_sigma, abs=1_000)
    assert 0 < found.measured_sigma < g("0.1")
    (tested,) = [b for b in found.streams if b.lower is not None]
    # ratios 0.90 and 0.92: mean 0.91, s = 0.014142; t(1), one-sided 95 %: 6.3138 (JCGM 100 Table G.2, 90 %: 6.31);
    # 9.1 − 6.3138 × 0.014142 × √(100 + 100/2) = 9.1 − 1.0936
    assert tested.lower == pytest.approx(g("8.0064"), rel=1e-4)
    assert found.lower == found.measured_lower + int(tested.lower or 0)
    assert found.lower < found.measured + tested.booked


def test_a_sum_of_what_one_laboratory_measured_is_not_held_as_if_each_were_by_itself() -> None:
    """Two lots of 100 g, fire as assumed: repeatability 0.3 ‰, sampling 0.2 ‰, bias 0.1 ‰; weighing is nothing to it.

    Own error 0.036056 g each, the bias 0.02 g of both together: √(2 × 0.0013 + 0.0004) = 0.054772 g; with a bias of
    each it would be 0.052915.
    """
    line = {"gold": "90", "method": "FIRE", "class": "SLAG", "metallic": "100.00 g", "scale": "LAB"}
    book = Book([bought(1, "MELT", lot("A", "120.00", **line), lot("B", "120.00", **line))])
    assert of(book).measured_sigma / 1e9 == pytest.approx(0.054772, abs=1e-4)


def test_metal_under_way_is_counted_where_it_was_sent_and_others_metal_is_not() -> None:
    owned = lot("O", "50.00", fineness={"gold": "10%", "silver": "0"}, basis="estimated", owner="CUS")
    book = Book([
        DUST, sweep(2, "A", "10.0"), assayed(3, "A", "9.0"), bought(4, "VAULT", owned),
        ticket(5, "move", from_="FINISH", to="PLATER", in_transit=True, lots=[lot("A", all=True)]),
    ])  # fmt: skip
    found = of(book)
    assert [(r.area, r.lot) for r in found.residues] == [("in transit", "A")]
    assert found.measured_sigma > 0
    assert found.without_history == 0


def test_age_is_the_estimate_s_and_in_the_plant_s_days() -> None:
    book = Book([DUST, sweep(2, "A", "10.0"), sent(50, "A"), bought(74, "VAULT", lot("G", "1.00", alloy="G12"))])
    assert [(r.lot, r.days) for r in of(book).residues] == [("A", 3)]


# ---------------------------------------------------------------------------------------------- what is proposed


def test_a_bias_is_corrected_and_the_spread_of_a_new_lot_stated() -> None:
    """0.79, 0.80, 0.81: 0.80 ± 0.025; s = 0.01, of one new lot √(1 + 1/3) × 0.01/0.80 = 1.443 %."""
    found = proposal(history([0.79, 0.80, 0.81]))
    assert found is not None
    assert (found.factor, found.sd) == (pytest.approx(0.8), pytest.approx(0.0144338, rel=1e-4))


def test_without_a_bias_shown_the_estimate_stands_with_whatever_bias_there_is_in_its_sd() -> None:
    """0.8 and 1.0: nothing shown; root mean square of −0.2 and 0: 14.14 %."""
    found = proposal(history([0.8, 1.0]))
    assert found is not None
    assert (found.factor, found.sd) == (1.0, pytest.approx(0.141421, rel=1e-5))


def test_one_pair_proposes_nothing() -> None:
    assert proposal(history([0.8])) is None
    assert _bound(history([0.8], 10.0), 1).lower is None


# --------------------------------------------------------------------------------------------- the lower bound


def test_the_bound_is_never_above_what_is_booked_nor_below_nothing() -> None:
    assert _bound(history([1.5, 1.51, 1.49], 10.0), 1).lower == g("10")
    assert _bound(history([0.1, 1.9], 10.0), 1).lower == 0


@pytest.mark.parametrize("pairs", [2, 4, 12])
def test_the_bound_holds_in_95_of_100_books(pairs: int) -> None:
    """Drawn: ratios normal about 0.8, spread 0.1; open 5, 10 and 40 g. 4,000 books: σ of the rate 0.0034."""
    random = Random(20261101 + pairs)
    held = 0
    for _ in range(4_000):
        test = history([random.gauss(0.8, 0.1) for _ in range(pairs)], 5.0, 10.0, 40.0)
        brought = sum(e * random.gauss(0.8, 0.1) for e in (5.0, 10.0, 40.0))
        bound = _bound(test, 1)
        held += brought * 1e9 >= (bound.lower or 0.0)
    assert held / 4_000 == pytest.approx(0.95, abs=0.012)
