"""Exchange of assays: each rule by hand, and what holds of all of them. Invented figures."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.bench.settle_exchange import exchange
from ledger.refusals import FormRefused

LIMIT = Fraction(5, 10_000)
finenesses = st.fractions(min_value=0, max_value=1, max_denominator=10_000)


def mille(text: str) -> Fraction:
    return Fraction(text) / 1000


def test_beyond_the_limit_nothing_is_settled_without_an_umpire() -> None:
    with pytest.raises(FormRefused, match="no umpire's"):
        exchange("umpire", mille("585.2"), mille("584.0"), None, LIMIT)


def test_what_a_rule_wants_and_is_not_there_is_named() -> None:
    with pytest.raises(FormRefused, match="our own assay is missing"):
        exchange("mean", None, mille("584.0"))
    with pytest.raises(FormRefused, match="no splitting limit"):
        exchange("nearer mean", mille("585"), mille("584"), mille("584.5"), None)


def test_theirs_needs_nothing_of_ours() -> None:
    assert exchange("theirs", None, mille("584.0")).agreed == mille("584.0")


@given(finenesses, finenesses, finenesses)
def test_the_middle_of_three_lies_within_the_parties_assays(ours: Fraction, theirs: Fraction, umpire: Fraction) -> None:
    for rule in ("mean", "umpire", "theirs"):
        agreed = exchange(rule, ours, theirs, umpire, LIMIT).agreed  # type: ignore[arg-type]
        assert min(ours, theirs) <= agreed <= max(ours, theirs)


@given(finenesses, finenesses, finenesses)
def test_the_nearer_mean_lies_between_the_umpire_and_the_nearer(
    ours: Fraction, theirs: Fraction, umpire: Fraction
) -> None:
    found = exchange("nearer mean", ours, theirs, umpire, LIMIT)
    if not found.umpire_paid_by:
        assert found.agreed == (ours + theirs) / 2
        return
    nearer = min(ours, theirs, key=lambda one: abs(one - umpire))
    assert abs(found.agreed - umpire) <= abs(nearer - umpire)


@given(finenesses, finenesses, finenesses)
def test_nobody_gains_by_being_called_the_other_party(ours: Fraction, theirs: Fraction, umpire: Fraction) -> None:
    """Swapping the parties swaps who pays, and nothing else."""
    swap = {"": "", "both": "both", "ours": "theirs", "theirs": "ours"}
    for rule in ("mean", "umpire", "nearer mean"):
        one = exchange(rule, ours, theirs, umpire, LIMIT)  # type: ignore[arg-type]
        other = exchange(rule, theirs, ours, umpire, LIMIT)  # type: ignore[arg-type]
        assert (one.agreed, one.umpire_paid_by) == (other.agreed, swap[other.umpire_paid_by])
