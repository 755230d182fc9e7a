"""The rates as one document: in force beside learned, what is proposed, and which flags that would have hidden.

Shares are numbers, of the input's content; masses plain decimal grams as text. Keys are a contract:
docs/reference/json.md.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import isfinite
from typing import Any, Final

from ledger.balance.months.month import Ledger
from ledger.balance.months.statement import SIGN
from ledger.balance.rates.found import Found, Look, look
from ledger.balance.rates.learned import Deviation
from ledger.balance.rates.proposing import Proposal, Trust, change, propose
from ledger.balance.rates.what_if import Seen, Turned, entitled, what_if
from ledger.plant.changes import change_head
from ledger.quantities.mass import grams_text
from ledger.refusals import SetupRefused, WrongUsage

#: Periods looked back on where nobody says from when.
LOOK_BACK: Final = 24


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked for: all, or one area's or one operation's; from a period on; as a change, by whom, from when."""

    area: str | None = None
    operation: str | None = None
    since: str | None = None
    propose: bool = False
    by: str = ""
    start: str = ""


def rates(connection: sqlite3.Connection, metal: str | None, asked: Asked) -> dict[str, Any]:
    """Return the learned rates of the book's counted months in one metal, with the proposal if that is asked for.

    Raises WrongUsage for a metal that is not booked, an operation that there is none of, and somebody who may not set;
    SetupRefused for a period that is none.
    """
    ledger = Ledger(connection, metal)
    if asked.operation is not None and asked.operation not in ledger.setup.operations:
        known = ", ".join(ledger.setup.operations)
        raise WrongUsage(f"there is no operation {asked.operation[:64]!r}", f"the set-up has {known}",
                         field="--operation")  # fmt: skip
    if asked.propose:
        _check_head(ledger, asked)
    seen = look(ledger, _periods(ledger, asked.since))
    proposals, materials, trust = propose(seen)
    shown = [p for p in [*proposals, *materials] if _asked_for(p, asked)]
    return {
        "plant": ledger.setup.plant.name,
        "metal": ledger.metal,
        "sign": SIGN,
        "share_of": "content put in",
        "stated_in": _stated_in(ledger),
        **_basis(ledger, seen),
        "trust": _trust(trust),
        "rates": [_rate(p) for p in shown],
        "proposal": _change(ledger, seen, shown, asked) if asked.propose else None,
    }


def _periods(ledger: Ledger, since: str | None) -> list[str]:
    if since is None:
        return ledger.periods[-LOOK_BACK:]
    first = ledger.calendar.bounds(since)[0]
    return [period for period in ledger.periods if ledger.calendar.bounds(period)[0] >= first]


def _check_head(ledger: Ledger, asked: Asked) -> None:
    """Refuse at once what `lemel setup change` would refuse of the change's head."""
    by = asked.by or entitled(ledger.setup)
    try:
        change_head(ledger.setup, {"from": asked.start or "2000-01-01", "by": by, "reason": "learned"})
    except SetupRefused as refused:
        raise WrongUsage([replace(fault, field=f"--{fault.field}") for fault in refused.faults]) from None


def _asked_for(proposal: Proposal, asked: Asked) -> bool:
    found = proposal.found
    return asked.operation in (None, found.operation) and (asked.area is None or asked.area in found.areas)


def _basis(ledger: Ledger, seen: Look) -> dict[str, Any]:
    counted = [(period, area.code) for period in seen.periods for area in ledger.setup.area
               if ledger.month(period).counted(area.code)]  # fmt: skip
    worked = {(line.area, period) for period in seen.periods for line in ledger.month(period).lines
              if line.kind == "work"}  # fmt: skip
    return {
        "periods": list(seen.periods),
        "uncounted": [{"period": period, "area": area} for area, period in sorted(worked, key=lambda w: (w[1], w[0]))
                      if (period, area) not in counted],
        "tickets": sum(found.learned.n for found in seen.rates),
        "mixed": seen.mixed,
    }  # fmt: skip


def _stated_in(ledger: Ledger) -> list[str]:
    """Return the metals, and gross, in which some operation states a loss."""
    stated = {metal for layer in (*ledger.setup.operation, *ledger.setup.rate) for metal in (*layer.loss, *layer.each)}
    return [metal for metal in (*ledger.metals[1:], ledger.metals[0]) if metal in stated]


def _trust(trust: Trust) -> dict[str, Any]:
    return {"off": _number(trust.off), "operations": trust.operations, "learned": trust.learned}


def _rate(p: Proposal) -> dict[str, Any]:
    found, learned = p.found, p.found.learned
    interval, next_ticket = (learned.interval or (None, None)), (learned.next_ticket or (None, None))
    return {
        "operation": found.operation,
        "alloy": p.material.alloy,
        "class": p.material.class_,
        "areas": found.areas,
        "tickets": learned.n,
        "months": learned.months,
        "in_force": _in_force(found),
        "loss": {"learned": _number(learned.centre), "low": _number(interval[0]), "high": _number(interval[1])},
        "spread": _deviation(learned.spread),
        "drift": _deviation(learned.drift),
        "each": _each(found),
        "next_ticket": {"low": _number(next_ticket[0]), "high": _number(next_ticket[1]),
                        "below": _number(learned.highest_ticket)},
        "standing_out": [t.ticket for t, out in zip(found.tickets, learned.standing_out, strict=True) if out],
        "says": p.says,
        "raises": p.raises,
        "drawn": _number(p.drawn),
        "proposed": dict(p.values),
    }  # fmt: skip


def _in_force(found: Found) -> dict[str, Any]:
    in_force, scatter = found.in_force, found.in_force.scatter
    return {
        "how": in_force.how,
        "loss": _number(in_force.loss),
        "each": grams_text(in_force.each),
        "spread": _number(scatter.spread) if scatter else None,
        "drift": _number(scatter.drift) if scatter else None,
        "assumed": list(in_force.assumed),
    }


def _deviation(d: Deviation) -> dict[str, Any]:
    return {"learned": _number(d.sd), "low": _number(d.low), "high": _number(d.high)}


def _each(found: Found) -> dict[str, Any] | None:
    if found.each is None:
        return None
    return {"learned": grams_text(round(found.each.slope)), "low": grams_text(round(found.each.low)),
            "high": grams_text(round(found.each.high))}  # fmt: skip


def _change(ledger: Ledger, seen: Look, shown: Sequence[Proposal], asked: Asked) -> dict[str, Any]:
    wanted = [p for p in shown if p.values]
    if not wanted:
        return {"change": None, "hidden": [], "raised": []}
    start = asked.start or _next_start(ledger, seen)
    head = {"from": start, "by": asked.by, "reason": _reason(wanted, seen, ledger.metal)}
    document = change(wanted, ledger.metal, head)
    hidden, raised = what_if(ledger, document, seen.periods)
    return {"change": document, "hidden": [_turned(t) for t in hidden], "raised": [_turned(t) for t in raised]}


def _next_start(ledger: Ledger, seen: Look) -> str:
    """Return the first day after the last period with tickets, or when a later change of the set-up begins.

    What is counted already keeps its rates.
    """
    after, last = ledger.calendar.days_of(seen.periods[-1])[1], ledger.setups.versions[-1].since
    return after.isoformat() if ledger.calendar.day_start(after) >= last else ledger.calendar.text(last)


def _reason(wanted: Sequence[Proposal], seen: Look, metal: str) -> str:
    tickets = sum(p.found.learned.n for p in wanted)
    return f"{metal} learned from {tickets} work tickets, {seen.periods[0]} to {seen.periods[-1]}"


def _turned(t: Turned) -> dict[str, Any]:
    return {"period": t.now.period, "area": t.now.area, "ticket": t.now.ticket or None,
            "operation": t.now.operation or None, "now": _seen(t.now), "then": _seen(t.then)}  # fmt: skip


def _seen(s: Seen) -> dict[str, Any]:
    return {"verdict": s.verdict, "z": None if s.z is None else round(s.z, 6)}


def _number(value: float | None) -> float | None:
    """Return a share to a billionth part of a per cent, a tenth of a nanogram in a gram; None where there is none."""
    return round(value, 10) + 0.0 if value is not None and isfinite(value) else None
