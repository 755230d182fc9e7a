"""Settlements, transfers on paper and check weights: handbook table "settle", "transfer", "checkweigh"."""

from fractions import Fraction

from tests.book.plants import Book, bought, g, lot, ticket


def settle(n: int, *lots: dict[str, object], **fields: object) -> dict[str, object]:
    return ticket(n, "settle", area="PLATER", party="REF", lots=list(lots), **fields)


SETTLED = {"received": "99.90 g", "agreed": {"gold": "49.800 g", "silver": "19.0 g"},
           "payable": {"gold": "49.500 g", "silver": "0.0 g"}}  # fmt: skip


def test_out_turn_payable_and_retained() -> None:
    """R = 100 g of 12K; A agreed, P payable; gross: A the received mass, P the sum of the payables."""
    book = Book([bought(1, "PLATER", lot("S", "100.00", alloy="G12")), settle(2, lot("S", **SETTLED))])
    assert book.posted(2) == {
        "place PLATER S": (-g("100.00"), -g("50.00"), -g("20.00")),
        "party REF settled": (g("49.500"), g("49.500"), 0),
        "retained REF": (g("50.400"), g("0.300"), g("19.0")),
        "difference PLATER": (g("0.10"), g("0.200"), g("1.0")),
    }
    assert book.origins("PLATER") == {"revaluation": (g("0.10"), g("0.200"), g("1.0"))}


def test_an_estimated_sweep_trues_up_only_its_origin_s_dust() -> None:
    """FINISH's dust was taken up at 49.0 g; 49.8 g came: the dust, not the refiner's place, learns of it."""
    book = Book([
        ticket(1, "open", area="FINISH", dust={"gross": "200.0 g", "gold": "60.0 g", "silver": "30.0 g"}),
        ticket(2, "sweep", area="FINISH", lots=[
            lot("S", "100.00", content={"gold": "49.0 g", "silver": "20.0 g"}, basis="estimated")]),
        ticket(3, "move", from_="FINISH", to="PLATER", lots=[lot("S", all=True)]),
        settle(4, lot("S", **SETTLED)),
    ])  # fmt: skip
    assert book.posted(4)["dust FINISH"] == (0, -g("0.8"), g("1.0"))
    assert book.posted(4)["difference PLATER"] == (g("0.10"), 0, 0)
    assert "difference FINISH" not in book.balances()


def test_more_payable_than_agreed_is_refused() -> None:
    book = Book([bought(1, "PLATER", lot("S", "100.00", alloy="G12"))])
    more = SETTLED | {"payable": {"gold": "49.9 g", "silver": "0.0 g"}}
    book.refuses(settle(2, lot("S", **more)), "more gold is payable")


def test_pool_metal_moves_on_paper() -> None:
    """Selling out of a pool: from the party to own; pricing out a lease: from own to the party."""
    pool = {"party": "REF", "terms": "pool"}
    book = Book([ticket(1, "transfer", from_=pool, to="own", metal="gold", fine="10.0 g")])
    assert book.posted(1) == {"party REF pool": (-g("10"), -g("10"), 0), "own": (g("10"), g("10"), 0)}
    lease = {"party": "LEND", "terms": "leased"}
    book.enter(ticket(2, "transfer", from_="own", to=lease, metal="silver", fine="5.0 g"))
    assert book.posted(2) == {"own": (-g("5"), 0, -g("5")), "party LEND leased": (g("5"), 0, g("5"))}


def test_a_check_weight_posts_nothing_and_tells_a_scale_that_is_off() -> None:
    check = {"scale": "S1", "standard": "200.0 g"}
    book = Book(ticket(n, "checkweigh", **check, reading=read) for n, read in ((1, "200.01 g"), (2, "200.05 g")))
    assert book.posted(1) == book.posted(2) == {}
    assert (book.flags(1), book.flags(2)) == ([], ["out of control"])


def test_a_calibration_makes_an_overdue_scale_current_again() -> None:
    """S1 was calibrated on 1 September for 40 days: overdue from 12 October, until it is calibrated on the 13th."""
    weigh = lot("A", "10.00", clad="CL20", scale="S1")
    book = Book([
        bought(300, "ROLL", weigh),
        ticket(310, "checkweigh", scale="S1", standard="200.0 g", reading="200.0 g", calibrated=True),
        bought(311, "ROLL", weigh | {"lot": "B"}),
    ])  # fmt: skip
    assert book.flags(300) == ["scale overdue"]
    assert book.flags(311) == []


def test_a_bin_conserves_what_goes_in_and_out() -> None:
    """Additions of two finenesses, a part taken out, more put in, and the rest emptied: nothing made, nothing lost."""
    def ends(n: int, source: str, bin_: str) -> dict[str, object]:
        return ticket(n, "work", operation="roll", area="ROLL", in_=[lot(source, all=True)],
                      out=[lot(source + "1", "90.00"), {"bin": "ENDS-CAN", "mass": bin_}])  # fmt: skip

    book = Book([
        bought(1, "ROLL", lot("A", "100.00", clad="CL20"), lot("B", "100.00", alloy="G12")),
        ends(2, "A", "9.90 g"),
        ends(3, "B", "9.80 g"),
        ticket(4, "move", from_="ROLL", to="VAULT", lots=[{"bin": "ENDS-CAN", "mass": "7.77 g"}]),
        ticket(5, "move", from_="ROLL", to="MELT", lots=[{"bin": "ENDS-CAN", "all": True}]),
    ])  # fmt: skip
    gold = g("9.90") * Fraction(25, 1000) + g("9.80") * Fraction(1, 2)
    vault, melt = book.at("place VAULT ENDS-CAN"), book.at("place MELT ENDS-CAN")
    assert vault[1] + melt[1] == gold
    assert vault[1] == round(gold * Fraction(777, 1970))
    assert book.at("place ROLL ENDS-CAN") == (0, 0, 0)


def test_a_dirty_lot_states_its_metal_and_a_wet_one_is_booked_dry() -> None:
    sweep = {"class": "SLAG", "basis": "estimated", "fineness": {"gold": "10%", "silver": "0"}}
    dust = ticket(1, "open", area="MELT", dust={"gold": "5.0 g"})
    book = Book([dust, ticket(2, "sweep", area="MELT", lots=[lot("W", "10.00", metallic="4.00 g", **sweep)])])
    assert book.at("place MELT W") == (g("4.00"), g("0.40"), 0)
    book.refuses(ticket(3, "sweep", area="MELT", lots=[lot("X", "10.00", **sweep)]), "dirty")
    wet = {name: value for name, value in sweep.items() if name != "class"}
    book.enter(ticket(4, "sweep", area="MELT", lots=[lot("Y", "10.00", moisture="8.0%", **wet)]))
    assert book.at("place MELT Y") == (g("9.20"), g("0.92"), 0)
