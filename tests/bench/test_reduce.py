"""Pass schedules and gauges: limits kept, volume kept, refusals."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from ledger.bench.gauge import awg_nm, awg_text, length_text, nearest_awg, parse_density, parse_length, root
from ledger.bench.reduce import How, Limits, mass_per_metre, schedule, section
from ledger.refusals import Impossible, QuantityRefused

MM = 10**6
hows = st.sampled_from(["roll", "draw"])
gauges = st.integers(50, 3000).map(lambda hundredths: hundredths * MM // 100)
shares = st.integers(5, 60).map(lambda percent: Fraction(percent, 100))
drafts = st.none() | st.integers(20, 600).map(lambda hundredths: Fraction(hundredths * MM, 100))


@given(hows, gauges, gauges, st.none() | shares, drafts)
def test_every_pass_keeps_its_limits_and_volume(
    how: How, one: int, other: int, share: Fraction | None, draft: Fraction | None
) -> None:
    assume(one != other and (share or draft) and not (how == "draw" and draft))
    start, finish = max(one, other), min(one, other)
    passes = schedule(how, start, finish, Limits(share, draft, step_nm=1000))
    assert (passes[0].before_nm, passes[-1].after_nm) == (start, finish)
    assert [p.after_nm for p in passes[:-1]] == [p.before_nm for p in passes[1:]]
    for p in passes:
        assert p.after_nm < p.before_nm
        assert draft is None or p.before_nm - p.after_nm <= draft
        assert share is None or p.reduction <= share
        assert p.longer * section(how, p.after_nm) == section(how, start)


@given(gauges, gauges, shares)
def test_no_schedule_of_equal_shares_is_longer_than_it_need_be(one: int, other: int, share: Fraction) -> None:
    assume(one != other)
    start, finish = max(one, other), min(one, other)
    number = len(schedule("roll", start, finish, Limits(share, step_nm=1)))
    assert start * (1 - share) ** (number - 2) > finish


@given(gauges, gauges, shares, st.integers(60, 95).map(lambda percent: Fraction(percent, 100)))
def test_anneals_keep_the_stated_total_and_come_no_sooner_than_needed(
    one: int, other: int, share: Fraction, total: Fraction
) -> None:
    assume(one != other)
    passes = schedule("roll", max(one, other), min(one, other), Limits(share, anneal=total, step_nm=1000))
    annealed = passes[0].before_nm
    for p in passes:
        if p.anneal_before:
            assert 1 - Fraction(p.after_nm, annealed) > total
            annealed = p.before_nm
        assert p.since_anneal == 1 - Fraction(p.after_nm, annealed)
        assert p.since_anneal <= total


def test_units_of_length_change_nothing() -> None:
    metric = schedule("roll", parse_length("25.4 mm"), parse_length("12.7 mm"), Limits(Fraction(1, 10)))
    inches = schedule("roll", parse_length("1 in"), parse_length("0.5 in"), Limits(Fraction(1, 10)))
    assert metric == inches
    assert parse_length("1 m") == parse_length("100 cm") == parse_length("1000000 µm")


@pytest.mark.parametrize(
    ("start", "finish", "limits", "words"),
    [
        ("1 mm", "1 mm", Limits(Fraction(1, 10)), "is not thinner than"),
        ("2 mm", "1 mm", Limits(), "nothing says what one pass may take"),
        ("2 mm", "1 mm", Limits(Fraction(1, 2), anneal=Fraction(1, 10)), "pass 1 alone takes more"),
        ("30 mm", "0.01 mm", Limits(Fraction(1, 100)), "more than 200 passes"),
        ("1 mm", "0.99 mm", Limits(Fraction(1, 1000), Fraction(1)), "more than 200 passes"),
    ],
)
def test_what_cannot_be_scheduled_is_refused(start: str, finish: str, limits: Limits, words: str) -> None:
    with pytest.raises(Impossible, match=words):
        schedule("roll", parse_length(start), parse_length(finish), limits)


def test_a_die_has_no_bite() -> None:
    with pytest.raises(Impossible, match="a die has no bite"):
        schedule("draw", 2 * MM, MM, Limits(draft_nm=Fraction(MM)))


def test_mass_of_a_metre() -> None:
    # By hand: 0.5 mm × 20 mm × 1 m = 10 cm³; and π/4 × (2 mm)² × 1 m = π cm³.
    strip = mass_per_metre("roll", parse_length("0.5 mm"), Fraction("8.53"), parse_length("20 mm"))
    assert strip == Fraction("85.3") * 10**9
    assert float(mass_per_metre("draw", parse_length("2 mm"), Fraction(1))) == pytest.approx(3.14159265e9)


@pytest.mark.parametrize("text", ["4/0 AWG", "0 AWG", "24 AWG", "56 AWG", "24 B&S"])
def test_a_gauge_is_a_length(text: str) -> None:
    assert nearest_awg(parse_length(text)) == text.split()[0]


def test_the_thickest_gauge_is_the_widest_of_the_formula() -> None:
    # From memory: 4/0 is 0.4600 in and 36 is 0.0050 in by definition, 39 steps between them.
    assert (awg_nm(-3), awg_nm(36)) == (11_684_000, 127_000)
    assert [awg_text(n) for n in (-3, -1, 0, 1)] == ["4/0", "2/0", "0", "1"]
    assert nearest_awg(parse_length("30 mm")) == ""


@pytest.mark.parametrize("text", ["5", "5 g", "0 mm", "57 AWG", "5/0 AWG", "24 ga", "-1 mm", "2000000 m"])
def test_what_is_no_length_is_refused(text: str) -> None:
    with pytest.raises(QuantityRefused):
        parse_length(text)


@pytest.mark.parametrize("text", ["8.53", "0 g/cm³", "8,53 g/cm³"])
def test_what_is_no_density_is_refused(text: str) -> None:
    with pytest.raises(QuantityRefused):
        parse_density(text)


@given(st.integers(0, 10**12), st.integers(1, 10**6))
def test_a_root_is_true_to_twelve_decimals(numerator: int, denominator: int) -> None:
    value = Fraction(numerator, denominator)
    assert root(value) ** 2 <= value < (root(value) + Fraction(1, 10**12)) ** 2


def test_lengths_are_printed_in_the_unit_asked_for() -> None:
    assert length_text(25_400_000, "in", 4) == "1.0000 in"
