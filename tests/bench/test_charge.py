"""Charges: balanced to the nanogram, never below their mark, the best there is, and refused in words."""

from __future__ import annotations

from fractions import Fraction
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ledger.bench.charge import Charge, make_charge
from ledger.bench.charge_choice import choose
from ledger.bench.charge_forms import Furnace, Source, Step, Wanted, Window, parse_source, parse_window
from ledger.bench.charge_karat import alligate, karat_text, mean_fineness, to_add
from ledger.quantities.fineness import parse_fineness
from ledger.quantities.mass import NG_PER_UNIT, parse_mass
from ledger.refusals import Impossible, QuantityRefused


def wanted(target: str, mass: str | None, furnace: Furnace | None = None, **windows: str) -> Wanted:
    fineness = parse_fineness(target)
    read = dict(parse_window(f"{metal}={text}") for metal, text in windows.items())
    return Wanted("gold", {"gold": Window(fineness, fineness), **read}, (mass and parse_mass(mass)) or None, target,
                  furnace or Furnace())  # fmt: skip


def made(target: str, mass: str | None, *sources: str, first: str = "least", furnace: Furnace | None = None,
         step: str = "0.01 g", **windows: str) -> Charge:  # fmt: skip
    return make_charge(wanted(target, mass, furnace, **windows), [parse_source(one, "gold") for one in sources],
                       first, Step(step))  # type: ignore[arg-type]  # fmt: skip


def taken(charge: Charge) -> dict[str, int]:
    return {line.source.name: line.mass_ng for line in charge.lines}


G = NG_PER_UNIT["g"]

# ------------------------------------------------------------------------------------------------------ what is made


def test_oldest_scrap_first_and_least_bought_differ() -> None:
    lots = ("old: 60 g, 10K", "new: 100 g, 14K", "fine: 24K", "alloy: 0")
    least, oldest = (taken(made("14K", "100 g", *lots, first=first)) for first in ("least", "oldest"))
    assert least == {"new": 100 * G}
    assert oldest["old"] == 60 * G
    assert oldest["fine"] > 0


def test_fine_metal_on_hand_is_kept_while_scrap_will_do() -> None:
    charge = made("14K", "100 g", "grain: 500 g, 24K", "scrap: 80 g, 14K", "alloy: 0")
    assert taken(charge)["scrap"] == 80 * G


def test_alloying_metal_on_hand_goes_before_what_is_bought() -> None:
    charge = made("12K", "100 g", "copper: 30 g, copper=1000‰", "fine: 24K", "shot: copper=1000‰")
    assert taken(charge) == {"copper": 30 * G, "fine": 50 * G, "shot": 20 * G}


def test_a_colour_window_brings_the_metals_in() -> None:
    charge = made("14K", "240 g", "fine: 24K", "fs: silver=1000‰", "cu: copper=1000‰", "zn: zinc=1000‰", silver="100‰",
                  zinc="40‰..60‰", copper="250‰..300‰")  # fmt: skip
    made_of = charge.fineness
    assert made_of["silver"] == pytest.approx(Fraction(1, 10), abs=1e-3)
    assert Fraction(39, 1000) <= made_of["zinc"] <= Fraction(61, 1000)
    assert sum(made_of.values()) == 1


def test_fume_leaves_its_gold_behind_and_takes_its_own_metal() -> None:
    furnace = Furnace(fume=Fraction(1, 100))
    charge = made("14K", "100 g", "fine: 24K", "cu: copper=1000‰", "zn: zinc=1000‰", furnace=furnace, step="0.0001 g",
                  zinc="50‰")  # fmt: skip
    charged = charge.mass_ng
    gold, zinc = (sum(line.content_ng(metal) for line in charge.lines) for metal in ("gold", "zinc"))
    assert gold / (charged * 0.99) == pytest.approx(14 / 24, rel=1e-5)
    assert (zinc - charged * 0.01) / (charged * 0.99) == pytest.approx(0.05, rel=1e-4)


def test_what_the_furnace_takes_is_charged_besides() -> None:
    # Worked by hand: (99.90 + 0.10) ÷ (1 − 0.5 %) ÷ (1 − 0.2 %) = 100.704 g.
    furnace = Furnace(fume=Fraction(2, 1000), loss=Fraction(5, 1000), each_ng=parse_mass("0.10 g"))
    charge = made("12K", "99.90 g", "fine: 24K", "alloy: 0", furnace=furnace, step="0.001 g")
    assert abs(charge.mass_ng - parse_mass("100.704 g")) <= parse_mass("0.002 g")
    assert abs(charge.poured_ng - parse_mass("99.90 g")) <= parse_mass("0.003 g")


def test_a_working_says_what_is_rounded_and_which_way() -> None:
    texts = [step.text for step in made("14K", "100 g", "fine: 999.9‰", "alloy: 0").working]
    assert any("rounded up, finer than wanted, to 0.01 g" in text for text in texts)
    assert any("rounded down, poorer than wanted, to 0.01 g" in text for text in texts)


def test_two_sources_are_also_told_by_the_old_rule() -> None:
    steps = list(made("14K", "24 g", "fine: 24K", "alloy: 0").working)
    told = next(step for step in steps if step.text.startswith("alligation"))
    assert told.value == "14 of fine to 10 of alloy"


def test_a_source_that_does_not_state_a_metal_wanted_is_left_out_and_said() -> None:
    charge = made("14K", "10 g", "mystery: 100 g, 14K", "fine: 24K", "fs: silver=1000‰", "cu: copper=1000‰",
                  silver="100‰")  # fmt: skip
    assert [(source.name, why) for source, why in charge.left_out] == [("mystery", "its silver is not stated")]
    assert "mystery" not in taken(charge)


# ----------------------------------------------------------------------------------------------------- what is refused


@pytest.mark.parametrize(
    ("target", "mass", "sources", "what", "mend"),
    [
        ("14K", "250 g", ("a: 100 g, 18K", "b: 80 g, 16K"), "70.00 g of metal is missing from the charge",
         "add 17.50 g of fine gold and 52.50 g of alloy without gold"),
        ("14K", "100 g", ("a: 200 g, 10K", "alloy: 0"), "holds 10 karat (416.667 ‰) of gold and falls 4 karat short",
         "add 28.57 g of fine gold"),
        ("14K", "100 g", ("a: 200 g, 18K",), "holds 18 karat (750.000 ‰) of gold and is 4 karat too fine",
         "add 22.22 g of alloy without gold"),
        ("14K", "100 g", ("fine: 40 g, 24K", "alloy: 0"), "holds 9 3/5 karat (400.000 ‰) of gold",
         "add 18.33 g of fine gold or pour no more than 68.57 g"),
    ],
)  # fmt: skip
def test_the_nearest_possible_and_what_is_missing(
    target: str, mass: str, sources: tuple[str, ...], what: str, mend: str
) -> None:
    with pytest.raises(Impossible) as refused:
        made(target, mass, *sources)
    fault = refused.value.faults[0]
    assert what in fault.what
    assert fault.mend == mend


def test_a_colour_out_of_reach_names_its_metal() -> None:
    with pytest.raises(Impossible, match=r"holds 20.000 ‰ of silver and falls 80.000 ‰ short") as refused:
        made("14K", "250 g", "old: 100 g, 18K, silver=50‰", "fine: 24K", "cu: copper=1000‰", silver="100‰..200‰")
    assert refused.value.faults[0].mend == "add 20.00 g of fine silver"


def test_what_is_left_out_is_said_when_refused() -> None:
    with pytest.raises(Impossible, match="mystery is left out, since its silver is not stated"):
        made("14K", "10 g", "mystery: 100 g, 14K", silver="100‰")


@pytest.mark.parametrize("text", ["a: 5 g", "a: 5 g, 25K", "a: 5 g, gold=50%, silver=60%", "a: 5 g, 12K, gold=500‰",
                                  "a: 5 oz, 12K"])  # fmt: skip
def test_a_source_that_cannot_be_read_is_refused(text: str) -> None:
    with pytest.raises(QuantityRefused):
        parse_source(text, "gold")


@pytest.mark.parametrize("text", ["0 g", "0.01", "0.01 oz", "-1 g"])
def test_a_step_that_no_scale_has_is_refused(text: str) -> None:
    with pytest.raises(QuantityRefused):
        Step(text)


def test_windows_that_add_up_to_more_than_pure_are_refused() -> None:
    with pytest.raises(QuantityRefused):
        wanted("18K", "1 g", silver="300‰")


# ---------------------------------------------------------------------------------------------------------- properties

finenesses = st.integers(0, 1000).map(lambda number: Fraction(number, 1000))
masses = st.integers(1, 10**13)
lots = st.lists(st.tuples(masses, finenesses), max_size=6)
furnaces = st.builds(
    Furnace, fume=st.integers(0, 50).map(lambda n: Fraction(n, 1000)),
    loss=st.integers(0, 50).map(lambda n: Fraction(n, 1000)), each_ng=st.integers(0, 10**9),
)  # fmt: skip
steps = st.sampled_from(["1 ng", "0.001 g", "0.01 g", "0.01 dwt", "0.001 ozt"])


@settings(max_examples=120, deadline=None)
@given(
    lots, st.integers(2, 22), st.integers(10**9, 10**12), furnaces, steps, st.sampled_from(["least", "oldest"]),
    st.booleans(),
)  # fmt: skip
def test_every_charge_balances_to_the_nanogram_and_meets_its_karat(
    stock: list[tuple[int, Fraction]], karat: int, poured: int, furnace: Furnace, step: str, first: str, buys: bool
) -> None:
    target = Fraction(karat, 24)
    sources = [Source(f"L{n}", {"gold": f}, mass) for n, (mass, f) in enumerate(stock)]
    if buys:
        sources += [Source("fine", {"gold": Fraction(1)}), Source("alloy", {"gold": Fraction(0)})]
    asked = Wanted("gold", {"gold": Window(target, target)}, poured, "", furnace)
    try:
        charge = make_charge(asked, sources, first, Step(step))  # type: ignore[arg-type]
    except Impossible:
        assert not buys
        return
    assert charge.mass_ng == sum(line.mass_ng for line in charge.lines)
    assert charge.mass_ng == charge.fume_ng + charge.loss_ng + charge.poured_ng
    assert all(line.source.on_hand_ng is None or line.mass_ng <= line.source.on_hand_ng for line in charge.lines)
    gold = sum((line.source.holds["gold"] * line.mass_ng for line in charge.lines), Fraction(0))
    assert gold >= target * charge.mass_ng * (1 - furnace.fume)
    rounding = (len(charge.lines) + 1) * (Step(step).ng + 1)
    assert gold <= target * charge.mass_ng * (1 - furnace.fume) + rounding
    assert abs(charge.poured_ng - poured) <= rounding + 2


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.integers(1, 100), st.integers(0, 24)), min_size=1, max_size=5), st.integers(1, 23))
def test_least_bought_is_the_least_of_all_corners(stock: list[tuple[int, int]], karat: int) -> None:
    """The optimum lies at a corner: all lots at one end of their bounds but two sources. Try every corner."""
    target, mass = Fraction(karat, 24), Fraction(100)
    sources = [Source(f"L{n}", {"gold": Fraction(f, 24)}, grams) for n, (grams, f) in enumerate(stock)]
    sources += [Source("fine", {"gold": Fraction(1)}), Source("alloy", {"gold": Fraction(0)})]
    asked = Wanted("gold", {"gold": Window(target, target)}, 100)
    found = choose(asked, sources, "least")
    assert found is not None
    assert found[-2] == min(corner[-2] for corner in corners(sources, target, mass))


def corners(sources: list[Source], target: Fraction, mass: Fraction) -> list[list[Fraction]]:
    found = []
    for pair in combinations(range(len(sources)), 2):
        others = [n for n in range(len(sources)) if n not in pair]
        for full in range(2 ** len(others)):
            taken = [Fraction(0)] * len(sources)
            for bit, n in enumerate(others):
                taken[n] = Fraction(sources[n].on_hand_ng or 0) if full >> bit & 1 else Fraction(0)
            (i, j), left = pair, mass - sum(taken)
            excess = [source.holds["gold"] - target for source in sources]
            owed = -sum((x * e for x, e in zip(taken, excess, strict=True)), Fraction(0))
            if excess[i] == excess[j]:
                continue
            taken[i] = (owed - excess[j] * left) / (excess[i] - excess[j])
            taken[j] = left - taken[i]
            if all(0 <= x <= (s.on_hand_ng or mass) for x, s in zip(taken, sources, strict=True)):
                found.append(taken)
    return found


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(masses, finenesses), min_size=1, max_size=4), st.integers(1, 23))
def test_a_change_of_unit_changes_nothing(stock: list[tuple[int, Fraction]], karat: int) -> None:
    """Masses written in grams and in nanograms are the same masses, and make the same charge."""
    answers = []
    for unit in ("ng", "g", "kg"):
        per = NG_PER_UNIT[unit]
        places = len(str(per)) - 1
        texts = [f"{mass // per}.{mass % per:0{places}d} {unit}" if places else f"{mass} ng" for mass, _ in stock]
        sources = [f"L{n}: {text}, {f * 1000}‰" for n, (text, (_, f)) in enumerate(zip(texts, stock, strict=True))]
        charge = made(f"{karat}K", "50 g", *sources, "fine: 24K", "alloy: 0")
        answers.append((taken(charge), charge.fineness, charge.poured_ng))
    assert answers[0] == answers[1] == answers[2]


@given(st.integers(1, 10**6), finenesses, finenesses, finenesses)
def test_raising_or_lowering_reaches_what_was_wanted(
    mass: int, held: Fraction, asked: Fraction, other: Fraction
) -> None:
    try:
        added = to_add(mass, held, asked, other)
    except Impossible:
        assert other == asked or (held - asked) * (asked - other) < 0
        return
    assert mean_fineness([(mass, held), (added, other)]) == asked


@given(st.lists(finenesses, min_size=1, max_size=7), finenesses)
def test_alligation_mixes_to_what_was_wanted(kinds: list[Fraction], asked: Fraction) -> None:
    try:
        parts = alligate(asked, kinds)
    except Impossible:
        assert any(kind < asked for kind in kinds) != any(kind > asked for kind in kinds)
        return
    assert mean_fineness(zip(parts, kinds, strict=True)) == asked
    assert all(part > 0 for part in parts)


@pytest.mark.parametrize(
    ("fineness", "text"),
    [("1/2", "12"), ("61/78", "18 10/13"), ("0", "0"), ("-1/24", "-1"), ("1/48", "1/2"), ("0.5833", "13.999")],
)
def test_karat_in_words(fineness: str, text: str) -> None:
    assert karat_text(Fraction(fineness)) == text
