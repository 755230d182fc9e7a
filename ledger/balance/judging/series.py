"""An area's balances in sequence as the running tests take them: which months count, and their covariance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol

from ledger.balance.flows.columns import Columns
from ledger.balance.flows.evidence import Ended
from ledger.balance.judging.running_tests import LOOK_BACK, YEAR, Balance, Step, Thresholds, run, words
from ledger.balance.judging.verdict import Judgement, Verdict
from ledger.balance.measurement.covariance import covariance
from ledger.balance.measurement.forms import Form, Tape


class Monthly(Protocol):
    """One period's balances, as the month-end statement has them."""

    period: str

    def columns(self, area: str) -> Columns:
        """Return an area's columns."""

    @property
    def tape(self) -> Tape:
        """The error sources that the rows name; one for all months."""

    def row(self, area: str) -> Form:
        """Return an area's U as a row in sources."""

    def counted(self, area: str) -> Ended | None:
        """Return the count that closes an area's period, if any."""


@dataclass(frozen=True, slots=True)
class Series:
    """The running tests of one area. ``left_out``: periods that are no balance by themselves, each with the reason."""

    area: str
    steps: list[Step]
    left_out: dict[str, str]


def covariance_of(months: Sequence[Monthly], area: str) -> list[list[float]]:
    """Return the covariance of an area's U over the months, in ng²."""
    return covariance(months[0].tape, [month.row(area) for month in months])


def look_back(index: int) -> int:
    """Return the index of the first period that the tests of period ``index`` of the book take in: a year's first."""
    return max(0, index // YEAR * YEAR - LOOK_BACK)


def series(months: Sequence[Monthly], area: str, limits: Thresholds) -> Series:
    """Return the running tests of an area at the end of the last of the book's months, which begin with its first.

    A month without a count is no balance: what went then shows at the next count, and the two are taken as one. A month
    with work that has no loss rate is left out, with what it was merged with.
    """
    first = look_back(len(months) - 1)
    recent = months[first:]
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


def judged_in_sequence(judgement: Judgement, months: Sequence[Monthly], area: str, limits: Thresholds) -> Judgement:
    """Return the judgement of the last of the book's months, short or over where a running test signals in it."""
    if judgement.verdict in _BEFORE:
        return judgement
    steps = series(months, area, limits).steps
    if not steps or not steps[-1].signals or steps[-1].balance.period != months[-1].period:
        return judgement
    signals = steps[-1].signals
    verdict: Verdict = judgement.verdict
    if verdict not in ("short", "over"):
        verdict = "short" if signals[0].way > 0 else "over"
    return replace(judgement, verdict=verdict, reasons=[words(signals), *judgement.reasons])
