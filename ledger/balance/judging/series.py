"""An area's balances in sequence as the running tests take them: which months count, and their covariance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Protocol

from ledger.balance.judging.running_tests import LOOK_BACK, YEAR, Balance, Step, Thresholds, run, words
from ledger.balance.judging.verdict import Judgement, Verdict


class Unexplained(Protocol):
    """What a balance says of itself: U in ng, and whether some of its work has no loss rate."""

    @property
    def unexplained(self) -> int:
        """U = G − E − P."""

    @property
    def unrated(self) -> bool:
        """Whether an operation has no loss rate."""


class Monthly(Protocol):
    """One period's balances, as the month-end statement has them."""

    @property
    def period(self) -> str:
        """The period's code."""

    def columns(self, area: str) -> Unexplained:
        """Return an area's columns."""

    def counted(self, area: str) -> object | None:
        """Return the count that closes an area's period, if any."""

    def covariances(self, area: str, earlier: Sequence[Any]) -> list[float]:
        """Return the covariances of U with those of the months just before it, oldest first, and then its variance."""


@dataclass(frozen=True, slots=True)
class Series:
    """The running tests of one area. ``left_out``: periods that are no balance by themselves, each with the reason."""

    area: str
    steps: list[Step]
    left_out: dict[str, str]


def covariance_of(months: Sequence[Monthly], area: str) -> list[list[float]]:
    """Return the covariance of an area's U over the months, in ng²."""
    matrix = [[0.0] * len(months) for _ in months]
    for i, month in enumerate(months):
        for j, value in enumerate(month.covariances(area, months[:i])):
            matrix[i][j] = matrix[j][i] = value
    return matrix


def look_back(index: int) -> int:
    """Return the index of the first period that the tests of period ``index`` of the book take in: a year's first."""
    return max(0, index // YEAR * YEAR - LOOK_BACK)


def series(months: Sequence[Monthly], area: str, limits: Thresholds, before: int = 0) -> Series:
    """Return the running tests of an area at the end of the last of the book's months.

    ``before``: how many of the book's months come before these, which reach back as far as the tests look.

    A month without a count is no balance: what went then shows at the next count, and the two are taken as one. A month
    with work that has no loss rate is left out, with what it was merged with.
    """
    first = look_back(before + len(months) - 1)
    recent = months[first - before :]
    balances, groups, left_out, waiting = [], [], {}, []
    for i, month in enumerate(recent):
        columns = month.columns(area)
        waiting.append((i, columns))
        if month.counted(area) is None:
            left_out[month.period] = "uncounted"
            continue
        if any(c.unrated for _, c in waiting):
            left_out[month.period] = "unrated"
        else:
            year, place = divmod(first + i, YEAR)
            unexplained = sum(c.unexplained for _, c in waiting)
            balances.append(Balance(month.period, unexplained, len(waiting), year, place == YEAR - 1))
            groups.append([j for j, _ in waiting])
        waiting = []
    return Series(area, run(balances, _added(covariance_of(recent, area), groups), limits), left_out)


def _added(covariance: list[list[float]], groups: Sequence[Sequence[int]]) -> list[list[float]]:
    """Return the covariance of the sums over each group."""
    return [[sum(covariance[i][j] for i in a for j in b) for b in groups] for a in groups]


#: Verdicts that come before what the running tests say.
_BEFORE = frozenset(("uncounted", "unrated", "not judged"))


def judged_in_sequence(
    judgement: Judgement, months: Sequence[Monthly], area: str, limits: Thresholds, before: int = 0
) -> Judgement:
    """Return the judgement of the last of the book's months, short or over where a running test signals in it.

    ``before``: how many of the book's months come before these.
    """
    if judgement.verdict in _BEFORE:
        return judgement
    steps = series(months, area, limits, before).steps
    if not steps or not steps[-1].signals or steps[-1].balance.period != months[-1].period:
        return judgement
    signals = steps[-1].signals
    verdict: Verdict = judgement.verdict
    if verdict not in ("short", "over"):
        verdict = "short" if signals[0].way > 0 else "over"
    return replace(judgement, verdict=verdict, reasons=[words(signals), *judgement.reasons])
