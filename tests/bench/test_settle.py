"""Out-turns recomputed: small ones by hand in exact fractions, refusals, and what holds of every out-turn.

All figures are invented; the rules are the handbook's and common practice, no source.
"""

from __future__ import annotations

from copy import deepcopy
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ledger.bench.settle_file import read_file
from ledger.bench.settle_money import money_of
from ledger.bench.settle_reading import out_turn_from
from ledger.bench.settle_template import TEMPLATE
from ledger.bench.settle_terms import OutTurn
from ledger.plant.toml_file import parse_change
from ledger.quantities.mass import parse_mass
from ledger.refusals import FormRefused
from tests.bench.out_turns import Document, gold_of, lot, out_turn, settled

G = 10**9


# ------------------------------------------------------------------------------------------------------- the masses


def test_a_wet_lot_is_settled_dry_and_a_melted_one_by_the_bar_and_its_samples() -> None:
    """1000 g less 8 % is 920 g; melted, 900 + 5 g were weighed, and 15 g went up the flue."""
    dry = settled(out_turn(lot("1000.0 g", "100‰", moisture="8.0%"))).lots[0]
    assert (dry.dry, dry.settled) == (920 * G, 920 * G)
    melted = settled(out_turn(lot("1000.0 g", "100‰", moisture="8.0%", melted=["900.0 g", "5.0 g"]))).lots[0]
    assert (melted.dry, melted.settled) == (920 * G, 905 * G)
    assert any("gone in the melt" in step.text and step.value == "15 g" for step in melted.working.steps)


def test_samples_count_alike_however_many_replicates_they_had() -> None:
    """(100.1 + 100.3)/2 = 100.2 and 99.6: mean 99.9, not the mean of three, 100."""
    assert gold_of(out_turn(lot("1000.0 g", [["100.1‰", "100.3‰"], ["99.6‰"]]))).agreed == Fraction(999, 10) * G


def test_content_found_beside_the_bar_is_added() -> None:
    assert gold_of(out_turn(lot("1000.0 g", "100‰", apart={"gold": "0.35 g"}))).agreed == Fraction(10035, 100) * G


# ------------------------------------------------------------------------------------------------- what is payable


@pytest.mark.parametrize(
    ("terms", "payable"),
    [
        ({}, "100"),
        ({"accountability": "99.5%"}, "99.5"),
        ({"deduct": "1‰"}, "99"),  # 100 − 1000 × 1 ‰
        ({"accountability": "99.5%", "deduct": "1‰"}, "99"),  # the larger deduction
        ({"accountability": "98.0%", "deduct": "1‰"}, "98"),
        ({"accountability": "99.5%", "minimum_deduction": "2.5 g"}, "97.5"),
        ({"minimum_deduction": "200.0 g"}, "0"),
        ({"nothing_below": "101‰"}, "0"),
        ({"nothing_below": "100‰"}, "100"),
    ],
)
def test_deductions(terms: Document, payable: str) -> None:
    """1000 g at 100 ‰ hold 100 g."""
    assert gold_of(out_turn(lot("1000.0 g", "100‰"), gold=terms)).payable == Fraction(payable) * G


def test_a_charge_in_metal_is_kept_of_each_lot() -> None:
    """Of 100 g accounted for 0.5 % and 0.25 g are kept: 99.25 g."""
    charges = [{"what": "refining", "metal": "gold", "share": "0.5%"}, {"what": "assay", "metal": "gold",
               "mass": "0.25 g"}]  # fmt: skip
    found = gold_of(out_turn(lot("1000.0 g", "100‰"), charge=charges))
    assert (found.kept, found.payable) == (Fraction(75, 100) * G, Fraction(9925, 100) * G)


def test_limits_by_grade() -> None:
    """0.2 ‰ below 500 ‰, 0.5 ‰ from there on: 0.4 ‰ apart is disputed in the poor lot, not in the rich one."""
    gold = {"splitting": [{"from": "0‰", "limit": "0.2‰"}, {"from": "500‰", "limit": "0.5‰"}]}
    assert gold_of(out_turn(lot("1.0 g", "600.4", "600.0"), gold=gold, exchange="umpire")).limit == Fraction(5, 10_000)
    with pytest.raises(FormRefused, match=r"ours 60\.4 ‰, the refiner's 60 ‰, limit 0\.2 ‰"):
        settled(out_turn(lot("1.0 g", "60.4‰", "60.0‰"), gold=gold, exchange="umpire"))


# ------------------------------------------------------------------------------------------------------- rounding


@pytest.mark.parametrize(
    ("policy", "agreed", "payable"),
    [
        # 100.07 g × 584.996 666… ‰ = 58.540 616…; × 99 % = 57.955 210…
        ("once", "58.541", "57.955"),
        # the mean of 585.00 and 584.99 is 584.995, to 0.01 ‰ 585.00 (half to even); 58.541 (58.540 95); 57.956
        ("each step", "58.541", "57.956"),
        # 584.99; 58.539 (58.539 949…); 57.953 (57.953 61)
        ("truncate", "58.539", "57.953"),
    ],
)
def test_where_it_is_rounded_changes_what_is_paid(policy: str, agreed: str, payable: str) -> None:
    """Ours 585.003 333… ‰ (three samples), theirs 584.99 ‰."""
    document = out_turn(lot("100.07 g", [["585.0"], ["585.0"], ["585.01"]], "584.99"),
                        gold={"accountability": "99%"}, rounding={"policy": policy})  # fmt: skip
    found = gold_of(document)
    assert (found.agreed, found.payable) == (Fraction(agreed) * G, Fraction(payable) * G)


# ---------------------------------------------------------------------------------------------------------- money


def test_money_due() -> None:
    """100 g at 31.103 476 8 a troy ounce is 100.00; less 4.50 a kg received, a fee, an advance and its interest.

    1000.00 × 6 % × 30/360 = 5.00.
    """
    document = out_turn(
        lot("1000.0 g", "100‰"), gold={"price": "31.1034768"}, pay="money",
        charge=[{"what": "treatment", "amount": "4.50", "per": "kg"}, {"what": "assay", "amount": "2", "per": "lot"},
                {"what": "freight", "amount": "3.25"},
                {"what": "refining", "amount": "0.01", "per": "g", "metal": "gold"}],
        advance=[{"amount": "1000.00", "rate": "6%", "days": 30}],
    )  # fmt: skip
    money = money_of(settled(document))
    amounts = {a.what: str(float(a.amount)) for a in money.amounts}
    assert amounts == {"gold sold": "100.0", "treatment": "-4.5", "assay": "-2.0", "freight": "-3.25",
                       "refining": "-1.0", "advance": "-1000.0", "interest": "-5.0"}  # fmt: skip
    assert money.due == Fraction("-915.75")


def test_a_minimum_charge_and_an_advance_in_metal() -> None:
    """60 g of gold advanced at 2 % for 36 days of 360: 0.12 g of interest; 39.88 g of 100 g still due."""
    document = out_turn(
        lot("1000.0 g", "100‰"), charge=[{"what": "treatment", "amount": "4.50", "per": "kg", "minimum": "60"}],
        advance=[{"metal": "gold", "mass": "60.0 g", "rate": "2%", "since": "2026-10-01", "until": "2026-11-06"}],
    )  # fmt: skip
    money = money_of(settled(document))
    assert money.due == -60
    assert money.metals[0].balance == Fraction(3988, 100) * G


@pytest.mark.parametrize(("umpire", "due"), [("584.1", "-120"), ("585.1", "0"), ("584.6", "-60")])
def test_the_farther_party_pays_the_umpire(umpire: str, due: str) -> None:
    """Ours 585.2, theirs 584.0: the umpire near theirs costs us the fee, near ours nothing, in the middle half."""
    document = out_turn(lot("1000.0 g", "585.2", "584.0", umpire={"gold": umpire}), exchange="umpire",
                        gold={"umpire_fee": "120"})  # fmt: skip
    assert money_of(settled(document)).due == Fraction(due)


# ------------------------------------------------------------------------------------------------------- refusals


@pytest.mark.parametrize(
    ("change", "field", "words"),
    [
        ({"lot": []}, "lot", "no lot"),
        ({"metal": []}, "metal", "no metal"),
        ({"exchange": "ours"}, "exchange", "not one of the values"),
        ({"pay": "money"}, "metal[1].price", "there is no price"),
        ({"lot": [lot("10.0 g", "100‰", melted="10.5 g")]}, "lot[1].melted", "more was weighed after the melt"),
        ({"lot": [lot("10.0 g", "100‰"), lot("9.0 g", "100‰")]}, "lot[2].lot", "there twice"),
        ({"lot": [lot("10.0 g", "100‰", umpire={"silber": "9‰"})]}, "lot[1].umpire", "not settled for"),
        ({"lot": [lot("10.0 g", "100‰") | {"theirs": {"silver": "1‰"}}]}, "lot[1].theirs", "not settled for"),
        ({"lot": [lot("10.0 g", 100)]}, "lot[1].ours", "bare number is per mille"),
        ({"lot": [lot("10.0 oz", "100‰")]}, "lot[1].received", "ambiguous"),
        ({"charge": [{"what": "x"}]}, "charge[1]", "no ways"),
        ({"charge": [{"what": "x", "share": "1%"}]}, "charge[1].metal", "no metal is named"),
        ({"charge": [{"what": "x", "amount": "1", "metal": "gold"}]}, "charge[1].per", "goes by what is payable"),
        ({"advance": [{"amount": "1", "rate": "6%"}]}, "advance[1].days", "unknown number of days"),
        ({"advance": [{"metal": "gold"}]}, "advance[1]", "in money, or in so much of a metal"),
        ({"rounding": {"mass": "0.01 oz"}}, "rounding.mass", "not a step of mass"),
        ({"splitting": "0.5‰"}, "splitting", "nobody knows"),
    ],
)
def test_refused_in_words_at_the_key(change: Document, field: str, words: str) -> None:
    with pytest.raises(FormRefused) as refused:
        settled(out_turn(lot("10.0 g", "100‰")) | change)
    faults = [fault for fault in refused.value.faults if fault.field == field and words in fault.what]
    assert faults, [str(fault) for fault in refused.value.faults]
    assert faults[0].mend


def test_every_lot_that_is_still_disputed_is_named_at_once() -> None:
    lots = [lot("10.0 g", "585.2", "584.0", name=name) for name in ("A", "B")]
    with pytest.raises(FormRefused) as refused:
        settled(out_turn(*lots, exchange="umpire"))
    assert [fault.field for fault in refused.value.faults] == ["lot[1].umpire", "lot[2].umpire"]


def test_replicates_that_disagree_are_told() -> None:
    gold = {"replicates_within": "0.5‰"}
    remarks = settled(out_turn(lot("10.0 g", [["585.0", "585.6"]], "585.3"), gold=gold)).remarks
    assert len(remarks) == 1
    assert "differ by 0.6 ‰" in remarks[0]


def test_a_fault_of_a_file_has_its_line(tmp_path: object) -> None:
    from pathlib import Path

    path = Path(str(tmp_path)) / "out-turn.toml"
    path.write_text(TEMPLATE.replace('accountability = "99.0%"', 'accountability = "101%"'), encoding="utf-8")
    with pytest.raises(FormRefused) as refused:
        read_file(path, out_turn_from)
    (fault,) = refused.value.faults
    assert (fault.line, fault.field) == (TEMPLATE[: TEMPLATE.index("accountability")].count("\n") + 1,
                                         "metal[1].accountability")  # fmt: skip


def test_the_template_reads() -> None:
    assert isinstance(out_turn_from(parse_change(TEMPLATE)), OutTurn)


# ----------------------------------------------------------------------------------------- what holds of every one

shares = st.integers(0, 1000).map(lambda n: f"{n / 10:.1f}%")
assays = st.integers(0, 10_000).map(lambda n: f"{n / 10:.1f}‰")
masses = st.integers(1, 10**9).map(lambda n: f"{n // 1000}.{n % 1000:03d} g")


@st.composite
def out_turns(draw: st.DrawFn) -> Document:
    gold = {"accountability": draw(shares), "deduct": f"{draw(st.integers(0, 50)) / 10:.1f}‰",
            "minimum_deduction": f"{draw(st.integers(0, 3))}.0 g"}  # fmt: skip
    lots = [lot(draw(masses), draw(assays), draw(assays), name=f"L{i}") for i in range(draw(st.integers(1, 3)))]
    charges = [{"what": "refining", "metal": "gold", "share": draw(shares)}]
    rounding = {"policy": draw(st.sampled_from(["once", "each step", "truncate"])),
                "mass": draw(st.sampled_from(["0.001 g", "0.01 g", "0.001 ozt", "1 g"]))}  # fmt: skip
    return out_turn(*lots, gold=gold, charge=charges, rounding=rounding)


@settings(max_examples=150, deadline=None)
@given(out_turns())
def test_never_more_is_payable_than_agreed_times_accountability_rounded_as_stated(document: Document) -> None:
    found = settled(document)
    terms, rounding = found.out_turn.metals[0], found.out_turn.rounding
    step = rounding.mass.ng
    for one in found.lots:
        (gold,) = one.metals
        exact = one.settled * gold.exchanged.agreed
        agreed = exact if rounding.policy == "once" else gold.agreed
        assert 0 <= gold.payable <= gold.agreed
        assert gold.payable <= rounding.at_the_end(agreed * terms.accountability, step)
        if rounding.policy == "truncate":
            assert gold.payable <= exact * terms.accountability
        assert gold.payable % step == gold.agreed % step == 0


@settings(max_examples=60, deadline=None)
@given(out_turns(), st.sampled_from(["ng", "mg", "kg"]))
def test_the_unit_of_what_was_received_changes_nothing(document: Document, unit: str) -> None:
    per = {"ng": 1, "mg": 10**6, "kg": 10**12}[unit]
    other = deepcopy(document)
    for one in other["lot"]:
        value = Fraction(parse_mass(one["received"]), per)
        one["received"] = f"{value.numerator // value.denominator}.{int(value % 1 * 10**12):012d} {unit}"
    found, again = settled(document), settled(other)
    assert [lot.metals for lot in found.lots] == [lot.metals for lot in again.lots]


@settings(max_examples=60, deadline=None)
@given(out_turns())
def test_more_gold_is_never_paid_less(document: Document) -> None:
    """A higher assay of ours, by the mean, never lowers what is payable."""
    document["rounding"]["policy"] = "once"
    before = settled(document).lots[0].metals[0]
    document["lot"][0]["ours"]["gold"] = "1000‰"
    assert settled(document).lots[0].metals[0].payable >= before.payable


# ------------------------------------------------------------------------------------------------------- any document

anything = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(max_size=8) | st.sampled_from(["0.5‰", "1.0 g", "gold", "9%"]),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3), max_leaves=6,
)  # fmt: skip
_PLACES = [
    *((key,) for key in ("party", "exchange", "rounding", "metal", "lot", "charge", "advance", "pay")),
    *(("lot", 0, key) for key in ("lot", "received", "melted", "ours", "theirs", "umpire", "apart", "moisture")),
    *(("metal", 0, key) for key in ("metal", "splitting", "accountability", "deduct", "price", "price_per")),
    *(("rounding", key) for key in ("policy", "mass", "fineness", "money")),
    ("charge", 0), ("advance", 0), ("lot", 0), ("metal", 0), ("lot", 0, "theirs", "gold"), ("lot", 0, "ours", "silver"),
]  # fmt: skip


@settings(max_examples=300, deadline=None)
@given(st.sampled_from(_PLACES), anything)
def test_any_document_is_settled_or_refused_in_words(place: tuple[str | int, ...], value: object) -> None:
    document = deepcopy(parse_change(TEMPLATE)) | {"advance": [{"amount": "10.00", "rate": "6%", "days": 30}]}
    inner: Any = document
    for key in place[:-1]:
        inner = inner[key]
    inner[place[-1]] = value
    told = []
    try:
        money_of(settled(document))
    except FormRefused as refused:
        told = refused.faults
    assert all(fault.what and fault.mend for fault in told)
