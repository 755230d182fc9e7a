"""Step by step: which comparisons are named when some go with others."""

from __future__ import annotations

from collections.abc import Collection

from ledger.causes.patterns.stepwise import Rate, Seen, Test, stepwise

RATE = Rate(0.05, 10)


def table(alone: list[float], beside: dict[tuple[int, int], float]) -> Test:
    """Return a test: p-values alone, and those of one beside another where they are others."""

    def test(named: Collection[int], others: Collection[int]) -> dict[int, Seen]:
        found = {}
        for i in others:
            p = max([alone[i], *(beside.get((i, j), alone[i]) for j in named)])
            found[i] = Seen(p, 1 / p)
        return found

    return test


def test_what_goes_with_the_strongest_is_not_named_beside_it() -> None:
    steps = stepwise(table([0.0001, 0.0005, 0.9], {(1, 0): 0.4, (0, 1): 0.0001}), 3, RATE)
    assert list(steps.named) == [0]
    assert steps.loose == [1]
    assert steps.named[0].p == 0.0001
    assert steps.named[0].q == 0.001  # ten comparisons, the first of them (Benjamini and Hochberg 1995)


def test_what_stands_out_beside_it_is() -> None:
    assert list(stepwise(table([0.0001, 0.0005, 0.9], {}), 3, RATE).named) == [0, 1]


def test_one_that_a_later_one_makes_needless_gives_way() -> None:
    """0 is strongest, but only because it goes with both 1 and 2."""
    beside = {(0, 1): 0.0004, (0, 2): 0.5, (1, 0): 0.003, (2, 0): 0.002, (1, 2): 0.0004, (2, 1): 0.0004}
    steps = stepwise(table([0.0001, 0.0003, 0.0002], beside), 3, RATE)
    assert set(steps.named) == {1, 2}


def test_nothing_is_named_where_nothing_stands_out() -> None:
    steps = stepwise(table([0.02, 0.5, 0.9], {}), 3, RATE)
    assert (steps.named, steps.loose, steps.level) == ({}, [], 0.0)


def test_what_is_rejected_already_makes_room() -> None:
    """0.02 is too much as the first of ten, and little enough as the fourth."""
    assert list(stepwise(table([0.02], {}), 1, Rate(0.05, 10, (0.001, 0.001, 0.001))).named) == [0]
