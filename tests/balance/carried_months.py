"""Statements from what past months left, beside the same from one whole pass: the slow road is the reference."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

import pytest

from ledger.balance.judging.running_tests import area_limits
from ledger.balance.judging.series import series
from ledger.balance.months.chain import Chain
from ledger.balance.months.kept import write
from ledger.balance.months.month import Ledger
from ledger.balance.months.month_end import AreaStatement, area_statements
from ledger.balance.months.statement import statement_of
from tests.book.plants import Document

#: Relative; and below a hundredth of a nanogram σ is rounding.
CLOSE = {"rel": 1e-9, "abs": 1e-2}


def stretched(documents: Iterable[Document], times: float) -> list[Document]:
    """Return tickets of one month spread over more: each so many times as long after the first."""
    documents = list(documents)
    first = datetime.fromisoformat(documents[0]["at"])

    def at(document: Document) -> str:
        return (first + (datetime.fromisoformat(document["at"]) - first) * times).isoformat(timespec="minutes")

    return [document | {"at": at(document)} for document in documents]


def whole(connection: sqlite3.Connection, period: str, metal: str) -> Ledger:
    """Return what a statement reads by one pass over the book from its first ticket."""
    ledger = Ledger(connection, metal)
    ledger.looks_until = ledger.calendar.bounds(period)[1]
    return ledger


def figures(s: AreaStatement) -> dict[str, Any]:
    """Return all that is exact of an area's statement."""
    return {
        "columns": s.columns, "dust": s.dust.dust, "cleaned_out": s.dust.cleaned_out, "dust_verdict": s.dust.verdict,
        "levels": s.levels, "verdict": s.judgement.verdict, "coarse": s.judgement.coarse, "counted": s.counted_at,
        "estimated": s.estimated, "in_transit": s.in_transit, "jobs": s.open_jobs, "cumulative": s.cumulative,
        "money": s.money, "reasons": s.judgement.reasons,
    }  # fmt: skip


def statistics(s: AreaStatement) -> dict[str, float | None]:
    """Return all that is not."""
    return {
        "measurement": s.sigma.measurement, "sigma": s.sigma.total, "z": s.judgement.z,
        "cumulative": s.cumulative_sigma, "dust": s.dust.sigma, "dust_z": s.dust.z,
    }  # fmt: skip


def agree(connection: sqlite3.Connection, periods: Sequence[str] = ()) -> int:
    """Compare every period's statement in every metal, or some; returns how many σ that were not 0 agreed."""
    chain, agreed = Chain(connection, kept=False), 0
    for period in periods or chain.periods:
        for metal in chain.metals:
            ours, theirs = chain.ledger(period, metal), whole(connection, period, metal)
            pairs = zip(area_statements(ours, period), area_statements(theirs, period), strict=True)
            for one, other in pairs:
                where = (period, metal, one.area.code)
                assert figures(one) == figures(other), where
                assert statistics(one) == {
                    name: value if value is None else pytest.approx(value, **CLOSE)
                    for name, value in statistics(other).items()
                }, where
                agreed += other.sigma.total > 0
                assert residuals(ours, period, one.area.code) == [
                    pytest.approx(z, rel=1e-9, abs=1e-9) for z in residuals(theirs, period, one.area.code)
                ], where
            near(statement_of(ours, period), statement_of(theirs, period), f"{period} {metal}")
    return agreed


def residuals(ledger: Ledger, period: str, area: str) -> list[float]:
    """Return the residuals of an area's running tests, and the sums after each."""
    months, before = ledger.earlier(period)
    month = ledger.month(period)
    steps = series([*months, month], area, area_limits(month.setup), before).steps
    return [x for step in steps for x in (step.residual, step.page.missing, step.page.over, step.trickle or 0.0)]


def near(one: Any, other: Any, where: str) -> None:
    """Compare two documents: texts exactly, numbers as far as they are printed."""
    if isinstance(other, dict):
        assert one.keys() == other.keys(), where
        for key in other:
            near(one[key], other[key], f"{where} {key}")
    elif isinstance(other, list):
        assert len(one) == len(other), where
        for i, each in enumerate(other):
            near(one[i], each, f"{where} {i}")
    else:
        assert one == (pytest.approx(other, rel=1e-6, abs=2e-9) if isinstance(other, float) else other), where


def keep_all(connection: sqlite3.Connection, period: str) -> Chain:
    """Let the book keep what the periods before one left; returns the chain that derived it."""
    chain = Chain(connection)
    chain.before(period)
    write(connection, chain.made)
    return chain
