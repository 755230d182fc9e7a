"""Work by its four compositions: what a gram of lost mass carries away, and the ticket's own difference ΣW − ΣO."""

from __future__ import annotations

from tests.book.plants import Book, Document, amount, bought, lot, minus, ticket

#: A karat lot, a base-metal lot, and a clad strip whose layer is 12K with 200 ‰ of silver.
START = [
    bought(1, "MELT", lot("A", "100.0000", gold="500", silver="200"), lot("CU", "60.0000", alloy="BRASS")),
    bought(2, "FINISH", lot("A2", "20.0000", alloy="G12"), lot("B2", "380.0000", alloy="BRASS")),
    ticket(3, "work", operation="solder", area="FINISH", in_=[lot("A2", all=True), lot("B2", all=True)],
           out=[lot("CLAD", "400.0000", layer="G12")]),
    bought(4, "ROLL", lot("R", "100.0000", gold="500", silver="200")),
]  # fmt: skip


def work(n: int, operation: str, area: str, in_: list[Document], *out: Document, **fields: object) -> Document:
    return ticket(n, "work", operation=operation, area=area, in_=in_, out=list(out), **fields)


# ---- carries


def test_carried_metal_keeps_its_fineness_and_what_is_lost_is_lost_at_it() -> None:
    """100 g in, 95 + 4 g out at 500 and 200 ‰: 1 g is missing, with 0.5 g of gold and 0.2 g of silver."""
    book = Book([*START, work(5, "roll", "ROLL", [lot("R", all=True)], lot("R1", "95.0000"), lot("R2", "4.0000"))])
    assert book.posted(5) == {
        "place ROLL R": minus(amount("100", "50", "20")), "place ROLL R1": amount("95", "47.5", "19"),
        "place ROLL R2": amount("4", "2", "0.8"), "difference ROLL": amount("1", "0.5", "0.2"),
    }  # fmt: skip
    assert book.origins("ROLL") == {"work": amount("1", "0.5", "0.2")}


def test_the_reweighing_of_an_input_is_no_part_of_the_works_own_difference() -> None:
    """R = 100, W = 99.5, ΣO = 99: re-weighing 0.5 g, work 0.5 g."""
    book = Book([*START, work(5, "roll", "ROLL", [lot("R", "99.5000", all=True)], lot("R1", "99.0000"))])
    half = amount("0.5", "0.25", "0.1")
    assert book.origins("ROLL") == {"reweighing": half, "work": half}


def test_a_lot_wholly_taken_in_may_come_out_under_its_number() -> None:
    book = Book([*START, work(5, "roll", "ROLL", [lot("R", all=True)], lot("R", "99.0000"))])
    assert book.at("place ROLL R") == amount("99", "49.5", "19.8")


def test_several_finenesses_are_not_carried() -> None:
    more = bought(5, "ROLL", lot("Q", "10.0000", gold="585", silver="200"))
    refused = work(6, "roll", "ROLL", [lot("R", all=True), lot("Q", all=True)], lot("R1", "110.0000"))
    Book([*START, more]).refuses(refused, "carries one fineness", "R 500.000 ‰", "Q 585.000 ‰")


def test_ends_of_another_determination_keep_it() -> None:
    """4 g stated at 450 and 180 ‰ by assay: 1.8 and 0.72 g; the rest of the loss is the ticket's."""
    book = Book([*START, work(5, "roll", "ROLL", [lot("R", all=True)], lot("R1", "96.0000"),
                              lot("E", "4.0000", gold="450", silver="180", method="FIRE"))])  # fmt: skip
    assert book.at("place ROLL E") == amount("4", "1.8", "0.72")
    assert book.posted(5)["difference ROLL"] == amount("0", "0.2", "0.08")


def test_a_bin_takes_additions_and_gives_content_over_mass() -> None:
    """10 g at 500 ‰ and 10 g at 585 ‰ in the can; 8 g of it is 40 % of (5 + 5.85) g = 4.34 g."""
    book = Book([
        bought(1, "ROLL", lot("R", "10.0000", gold="500"), lot("Q", "10.0000", gold="585")),
        work(2, "roll", "ROLL", [lot("R", all=True)], {"bin": "ENDS-CAN", "mass": "10.0000 g"}),
        work(3, "roll", "ROLL", [lot("Q", all=True)], {"bin": "ENDS-CAN", "mass": "10.0000 g"}),
        ticket(4, "move", from_="ROLL", to="MELT", lots=[{"bin": "ENDS-CAN", "mass": "8.0000 g"}]),
    ])  # fmt: skip
    assert book.at("place ROLL ENDS-CAN") == amount("12", "6.51", "0")
    assert book.at("place MELT ENDS-CAN") == amount("8", "4.34", "0")


# ---- combines


def test_what_is_combined_shares_the_content_over_the_mass_less_fume() -> None:
    """160 g in, 0.3 % fume: 159.52 g would come out without a loss; 159 g do, so that 0.52 g of the mix is missing.

    Gold left in the melt: 50 × 159 / 159.52; missing 50 × 0.52 / 159.52 = 0.162 988 966 g. Fume (0.48 g) has no gold.
    """
    book = Book([*START, work(5, "melt", "MELT", [lot("A", all=True), lot("CU", all=True)], lot("M", "159.0000"))])
    gross, gold, silver = book.posted(5)["difference MELT"]
    assert gross == amount("1", "0", "0")[0]
    assert gold == 162_988_967
    assert silver == 65_195_587
    assert book.at("place MELT M") == (159 * 10**9, 50 * 10**9 - gold, 20 * 10**9 - silver)


def test_a_stated_output_keeps_its_own_and_the_rest_share_what_is_left() -> None:
    """Slag 2 g at 40 ‰: 0.08 g. Melt: (50 − 0.08) ÷ (159.52 − 2) × 157 g."""
    slag = lot("SL", "5.0000", metallic="2.0000 g", class_="SLAG", gold="40", silver="20", basis="estimated")
    charge = [lot("A", all=True), lot("CU", all=True)]
    book = Book([*START, work(5, "melt", "MELT", charge, lot("M", "157.0000"), slag)])
    assert book.at("place MELT SL") == amount("2", "0.08", "0.04")
    assert book.at("place MELT M")[1] == round(157 * 10**9 * 4992 / 15752)


def test_the_rest_cannot_be_finer_than_pure() -> None:
    tiny = work(5, "melt", "MELT", [lot("A", all=True)], lot("M", "1.0000"),
                lot("S", "98.0000", gold="0", silver="0", basis="measured"))  # fmt: skip
    Book(START).refuses(tiny, "finer than pure")


def test_stated_outputs_cannot_outweigh_the_charge() -> None:
    heavy = work(5, "melt", "MELT", [lot("A", all=True)], lot("M", "1.0000"),
                 lot("S", "100.0000", gold="0", silver="0", basis="measured"))  # fmt: skip
    Book(START).refuses(heavy, "weigh more than all that was put in")


# ---- surface


def test_polish_takes_the_layer_and_not_the_average() -> None:
    """The strip holds 25 ‰ of gold; the 2 g buffed off are 12K with 200 ‰ of silver: 1 g and 0.4 g."""
    book = Book([*START, work(5, "buff", "FINISH", [lot("CLAD", all=True)], lot("P", "398.0000"))])
    assert book.at("place FINISH CLAD") == amount("0", "0", "0")
    assert book.posted(5)["difference FINISH"] == amount("2", "1", "0.4")


def test_the_layer_is_carried_on_to_the_next_polish() -> None:
    book = Book([*START, work(5, "buff", "FINISH", [lot("CLAD", all=True)], lot("P", "398.0000")),
                 work(6, "buff", "FINISH", [lot("P", "100.0000")], lot("Q", "99.0000"))])  # fmt: skip
    assert book.posted(6)["difference FINISH"] == amount("1", "0.5", "0.2")


def test_what_would_be_less_than_nothing_is_nothing_and_flagged() -> None:
    """100 g of strip hold 2.5 g of gold; 10 g of layer would take 5 g."""
    book = Book([*START, work(5, "buff", "FINISH", [lot("CLAD", "100.0000")], lot("P", "90.0000"))])
    assert book.at("place FINISH P") == amount("90", "0", "0")
    assert "less than nothing" in book.flags(5)


def test_a_lot_without_a_layer_wears_as_itself() -> None:
    book = Book([*START, work(5, "buff", "ROLL", [lot("R", all=True)], lot("P", "99.0000"))])
    assert book.posted(5)["difference ROLL"] == amount("1", "0.5", "0.2")


# ---- content


def test_what_is_pickled_or_annealed_loses_no_fine_metal_before_the_assay() -> None:
    """99 g in two parts share 50 g by mass: 60/99 and 39/99, the last taking what rounding leaves."""
    book = Book([*START, work(5, "pickle", "ROLL", [lot("R", all=True)], lot("P", "60.0000"), lot("Q", "39.0000"))])
    assert book.posted(5)["difference ROLL"] == amount("1", "0", "0")
    assert book.at("place ROLL P")[1] == round(50 * 10**9 * 60 / 99)
    assert book.at("place ROLL P")[1] + book.at("place ROLL Q")[1] == 50 * 10**9


# ---- what is irregular, and what cannot be


def test_a_mark_on_an_output_is_planned_only() -> None:
    book = Book([*START, work(5, "roll", "ROLL", [lot("R", all=True)], lot("P", "99.9000", gold="585", silver="0"))])
    assert book.flags(5) == ["planned only"]
    assert book.at("place ROLL P") == amount("99.9", "49.95", "19.98")


def test_a_gain_is_recorded_and_flagged() -> None:
    book = Book([*START, work(5, "roll", "ROLL", [lot("R", all=True)], lot("P", "100.1000"))])
    assert book.flags(5) == ["gain"]
    assert book.posted(5)["difference ROLL"] == minus(amount("0.1", "0.05", "0.02"))


def test_more_than_ten_times_the_normal_loss_is_flagged() -> None:
    """Normal: 0.05 % of 50 g = 0.025 g of gold; ten times 0.25 g, half a gram of mass."""
    at_limit = Book([*START, work(5, "roll", "ROLL", [lot("R", all=True)], lot("P", "99.5000"))])
    assert at_limit.flags(5) == []
    beyond = Book([*START, work(5, "roll", "ROLL", [lot("R", all=True)], lot("P", "99.4998"))])
    assert beyond.flags(5) == ["ten times the normal loss"]


def test_codes_and_sides_that_cannot_be_are_refused() -> None:
    book = Book(START)
    book.refuses(work(5, "anneal", "ROLL", [lot("R", all=True)], lot("P", "99.0000")), "no operation anneal")
    book.refuses(work(5, "roll", "ATTIC", [lot("R", all=True)], lot("P", "99.0000")), "no area ATTIC")
    book.refuses(work(5, "roll", "ROLL", [lot("R", all=True)], lot("A", "99.0000")), "lot A was made before")
    book.refuses(work(5, "roll", "ROLL", [lot("A", all=True)], lot("P", "99.0000")), "stands in MELT")
    half = work(5, "pickle", "ROLL", [lot("R", "50.0000")], lot("R", "49.0000"))
    book.refuses(half, "a part of lot R is left in ROLL")


def test_the_strayed_bin_is_refused() -> None:
    book = Book(START)
    wrong = work(5, "solder", "MELT", [lot("A", all=True)], {"bin": "ENDS-CAN", "mass": "99.0000 g"})
    book.refuses(wrong, "bin ENDS-CAN stands in ROLL")
    unknown = work(5, "roll", "ROLL", [lot("R", all=True)], {"bin": "CAN-9", "mass": "99.0000 g"})
    book.refuses(unknown, "no bin CAN-9")


# ---- metal carried by estimates


def test_a_melt_of_estimated_sweeps_trues_up_the_dust_where_all_outputs_are_measured() -> None:
    """Sweeps estimated at 4 g of gold, melted to 9 g of 400 ‰: 3.6 g. The dust of FINISH still has the 0.4 g."""
    book = Book([
        ticket(1, "sweep", area="FINISH", lots=[lot("SW", "10.0000", gold="400", silver="0", basis="estimated")]),
        ticket(2, "move", from_="FINISH", to="MELT", lots=[lot("SW", all=True)]),
        work(3, "melt", "MELT", [lot("SW", all=True)], lot("B", "9.0000", gold="400", silver="0", method="FIRE")),
    ])  # fmt: skip
    assert book.posted(3) == {
        "place MELT SW": minus(amount("10", "4", "0")), "place MELT B": amount("9", "3.6", "0"),
        "dust FINISH": amount("0", "0.4", "0"), "difference MELT": amount("1", "0", "0"),
    }  # fmt: skip
