"""Which months the running tests take, and what they make of a verdict."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import pytest

from ledger.balance.flows.columns import Columns
from ledger.balance.flows.evidence import Ended
from ledger.balance.judging.running_tests import Thresholds
from ledger.balance.judging.series import judged_in_sequence, look_back, series
from ledger.balance.judging.verdict import Judgement, Verdict
from ledger.balance.measurement.covariance import covariance
from ledger.balance.measurement.forms import Form, Source, Tape

LIMITS = Thresholds(0.05, 4.0, 4.0, 3.0)
G = 10**9


@dataclass
class Invented:
    """A month of an area: what is unexplained, and which sources of σ 1 g it hangs on, by what factor."""

    period: str
    grams: float
    tape: Tape
    form: Form
    is_counted: bool = True
    unrated: bool = False
    asked: list[str] = field(default_factory=list)

    def columns(self, area: str) -> Columns:
        self.asked.append(area)
        return Columns(opening=round(self.grams * G), unrated=self.unrated)

    def covariances(self, area: str, earlier: Sequence[Invented]) -> list[float]:
        return covariance(self.tape, [month.form for month in (*earlier, self)])[-1]

    def counted(self, area: str) -> Ended | None:
        return Ended(area, 0, False, self.period) if self.is_counted else None


def months(*grams: float, uncounted: tuple[int, ...] = (), unrated: tuple[int, ...] = ()) -> list[Invented]:
    """Months with a reading of their own, and each with its closing count against the next."""
    tape = Tape()
    counts = [tape.single(Source("reading", "S", 0.2 * G * G)) for _ in range(len(grams) + 1)]
    rows = [
        {tape.single(Source("spread", "R", 0.6 * G * G)): 1.0, counts[i]: 1.0, counts[i + 1]: -1.0}
        for i in range(len(grams))
    ]
    return [
        Invented(f"m{i:02}", g, tape, rows[i], i not in uncounted, i in unrated) for i, g in enumerate(grams)
    ]


def test_months_share_their_counts() -> None:
    steps = series(months(1, 0, 0), "A", LIMITS).steps
    assert [s.sigma / G for s in steps] == pytest.approx([1, 1, 1])
    # L of (1, −.2, 0; −.2, 1, −.2; …), worked by hand: the second month is expected at −.2 of the first.
    assert steps[0].residual == pytest.approx(1)
    assert steps[1].residual == pytest.approx(0.2 / 0.96**0.5)


def test_an_uncounted_month_is_taken_together_with_the_next_counted_one() -> None:
    found = series(months(1, 2, 3, 4, uncounted=(1, 3)), "A", LIMITS)
    assert [(s.balance.period, s.balance.unexplained, s.balance.months) for s in found.steps] == [
        ("m00", 1 * G, 1), ("m02", 5 * G, 2),
    ]  # fmt: skip
    assert found.steps[1].sigma / G == pytest.approx(1.6**0.5)  # their count in between falls out: .6 + .6 + .2 + .2
    assert found.left_out == {"m01": "uncounted", "m03": "uncounted"}


def test_an_unrated_month_is_left_out_with_what_it_was_merged_with() -> None:
    found = series(months(1, 2, 3, 4, uncounted=(1,), unrated=(1,)), "A", LIMITS)
    assert [s.balance.period for s in found.steps] == ["m00", "m03"]
    assert found.left_out == {"m01": "uncounted", "m02": "unrated"}


@pytest.mark.parametrize(("index", "first"), [(0, 0), (11, 0), (35, 0), (36, 12), (47, 12), (48, 24), (120, 96)])
def test_the_tests_look_back_two_to_three_years_of_tests(index: int, first: int) -> None:
    assert look_back(index) == first


def test_a_long_book_costs_no_more() -> None:
    long = months(*[0.0] * 100)
    series(long, "A", LIMITS)
    assert [m.period for m in long if m.asked] == [m.period for m in long[72:]]


def test_the_trickle_is_judged_at_the_end_of_each_year_of_tests() -> None:
    found = series(months(*[0.0] * 12, *[0.75] * 12), "A", LIMITS)
    assert [s.balance.period for s in found.steps if s.balance.last] == ["m11", "m23"]
    trickles = [(s.balance.period, x.since) for s in found.steps for x in s.signals if x.test == "trickle"]
    assert trickles == [("m23", "m12")]


def judgement(verdict: Verdict) -> Judgement:
    return Judgement(verdict, 1.0, False, ["before"])


@pytest.mark.parametrize(("way", "verdict"), [(1, "short"), (-1, "over")])
def test_a_drift_makes_the_month_short_or_over_whatever_its_own_z(way: int, verdict: str) -> None:
    drift = months(0, *[way * 1.8] * 3)
    judged = judged_in_sequence(judgement("within"), drift, "A", LIMITS)
    assert judged.verdict == verdict
    what = "missing" if way > 0 else "over"
    assert judged.reasons[0].startswith(f"the running test has signalled since m01: {what} (Page's sum")
    assert judged.reasons[1:] == ["before"]
    assert judged_in_sequence(judgement("within"), drift[:3], "A", LIMITS) == judgement("within")


@pytest.mark.parametrize("verdict", ["uncounted", "unrated", "not judged"])
def test_verdicts_that_come_first_stay(verdict: Verdict) -> None:
    assert judged_in_sequence(judgement(verdict), months(0, 9), "A", LIMITS) == judgement(verdict)


def test_an_older_signal_is_no_verdict_on_a_later_month() -> None:
    assert judged_in_sequence(judgement("within"), months(9, 0), "A", LIMITS).verdict == "within"
    assert judged_in_sequence(judgement("over"), months(0, 9), "A", LIMITS).verdict == "over"
