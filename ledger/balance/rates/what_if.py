"""What other rates would have said: every verdict on areas and tickets once more, under a changed set-up.

A higher rate is an allowance: what it takes off the list was on it for a reason. So it is named before anybody agrees.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from ledger.balance.flows.normal_loss import jobs_done
from ledger.balance.judging.single_tests import every_ticket
from ledger.balance.months.month import Ledger
from ledger.balance.months.month_end import area_statements
from ledger.book.setups import Setups, Version
from ledger.plant.changes import apply_change
from ledger.plant.setup import Setup

_FLAGGED = ("short", "over")


@dataclass(frozen=True, slots=True)
class Seen:
    """One verdict: of an area in a period, or of a ticket (then ``operation`` is its operation), with its z."""

    period: str
    area: str
    ticket: str
    operation: str
    verdict: str
    z: float | None


@dataclass(frozen=True, slots=True)
class Turned:
    """A verdict as it is, and as it would be."""

    now: Seen
    then: Seen


def what_if(ledger: Ledger, change: Mapping[str, Any], periods: Sequence[str]) -> tuple[list[Turned], list[Turned]]:
    """Return the flags that would have been hidden, and those that would have been raised, had the change always held.

    ``change`` as `lemel setup change` takes it; short and over are flags.
    """
    setups = Setups([_changed(version, change) for version in ledger.setups.versions])
    other = Ledger(ledger.connection, ledger.metal, setups)
    turned = [turn for period in periods for turn in _turned(ledger, other, period)]
    hidden = [t for t in turned if t.now.verdict in _FLAGGED and t.then.verdict not in _FLAGGED]
    return hidden, [t for t in turned if t.then.verdict in _FLAGGED and t.now.verdict not in _FLAGGED]


def _turned(ledger: Ledger, other: Ledger, period: str) -> Iterator[Turned]:
    """Yield the verdicts of a period; of a ticket that is rated under one set-up only, beside "unrated"."""
    now, then = ({(s.area, s.ticket): s for s in _all(each, period)} for each in (ledger, other))
    for key in dict.fromkeys([*now, *then]):
        known = now.get(key) or then[key]
        unrated = replace(known, verdict="unrated", z=None)
        yield Turned(now.get(key, unrated), then.get(key, unrated))


def _changed(version: Version, change: Mapping[str, Any]) -> Version:
    """Return a set-up with the changed rates of the operations and materials that it has."""
    setup = version.setup
    tables = {
        "operation": [e for e in change.get("operation", ()) if e["code"] in setup.operations],
        "rate": [e for e in change.get("rate", ()) if e["operation"] in setup.operations and _known(setup, e)],
    }
    merged, _ = apply_change(setup, {"from": "2000-01-01", "by": entitled(setup), "reason": "what if", **tables})
    return Version(version.seq, version.since, merged.to_document())


def _known(setup: Setup, entry: Mapping[str, str]) -> bool:
    return entry["alloy"] in setup.alloys if "alloy" in entry else entry["class"] in setup.classes


def entitled(setup: Setup) -> str:
    """Return somebody who may set, or anybody where nobody may."""
    who = [person.code for person in setup.person if "set" in person.may]
    return next(iter(who or [person.code for person in setup.person]), "nobody")


def _all(ledger: Ledger, period: str) -> Iterator[Seen]:
    """Yield the verdicts of a period: every area's, then every ticket's, in the order of their numbers."""
    for s in area_statements(ledger, period):
        yield Seen(period, s.area.code, "", "", s.judgement.verdict, s.judgement.z)
    month, setups = ledger.month(period), ledger.setups
    done = jobs_done(ledger.connection, setups, (month.start, month.end), month.lines, ledger.metals, ledger.index)
    tests = every_ticket(setups, month.lines, month.allowances, ledger.index, ledger.measured, done)
    for _, allowance, test in tests:
        yield Seen(period, allowance.area, test.ticket, test.operation, test.verdict, test.z)
