"""The patterns as one document: codes only, never names. Keys are a contract: docs/reference/json.md."""

from __future__ import annotations

import sqlite3
from fractions import Fraction
from math import isfinite
from typing import Any

from ledger.balance.months.month import Ledger
from ledger.balance.months.statement import SIGN
from ledger.causes.patterns.comparisons import Alias, Name, Untested
from ledger.causes.patterns.found import RATE, Pattern, find
from ledger.causes.patterns.mantel_haenszel import OddsRatio
from ledger.causes.patterns.permutation import SHUFFLES
from ledger.causes.patterns.single_faults import SingleFault, single_faults
from ledger.causes.patterns.tickets import Ticket, tickets_of
from ledger.quantities.mass import decimal_text, grams_text
from ledger.refusals import WrongUsage


def patterns(connection: sqlite3.Connection, metal: str | None, first: str, last: str) -> dict[str, Any]:
    """Return the patterns in the work tickets of the periods from one to another, in one metal.

    Raises WrongUsage for a metal that is not booked, for periods the wrong way about, and where the book holds nothing
    of them; a period that is none is refused as the calendar refuses it.
    """
    ledger = Ledger(connection, metal)
    periods = _periods(ledger, first, last)
    ledger.looks_until = ledger.calendar.bounds(ledger.periods[-1])[1]
    tickets = tickets_of(ledger, periods)
    faults = single_faults(ledger, tickets)
    left_out = {fault.ticket.number for fault in faults}
    kept = [ticket for ticket in tickets if ticket.number not in left_out]
    found = find(kept)
    price = ledger.price(periods[-1])
    return {
        "plant": ledger.setup.plant.name,
        "metal": ledger.metal,
        "sign": SIGN,
        "share_of": "content put in",
        "from": periods[0],
        "to": periods[-1],
        "tickets": len(kept),
        "strata": len({ticket.stratum for ticket in kept}),
        "comparisons": found.compared,
        "false_discovery_rate": RATE,
        "shuffles": SHUFFLES,
        "patterns": [_pattern(pattern, price) for pattern in found.patterns],
        "left_out": [_left_out(fault) for fault in faults],
        "standing_out": [_standing_out(t) for t in kept if abs(t.z) > float(ledger.setup.plant.act)],
        "untested": [_untested(one) for one in found.untested],
    }


def _periods(ledger: Ledger, first: str, last: str) -> list[str]:
    start, end = ledger.calendar.bounds(first)[0], ledger.calendar.bounds(last)[1]
    if start >= end:
        raise WrongUsage(f"{last} ends before {first} begins", "give the earlier period first", field="TO")
    found = [code for code in ledger.periods if start <= ledger.calendar.bounds(code)[0] < end]
    if not found:
        held = f"it holds {ledger.periods[0]} to {ledger.periods[-1]}" if ledger.periods else "it holds nothing yet"
        raise WrongUsage(f"the book holds nothing of {first} to {last}", held, field="FROM")
    return found


def _pattern(pattern: Pattern, price: Fraction | None) -> dict[str, Any]:
    effect, put_in = pattern.effect, Fraction(pattern.put_in)
    mass = None if effect is None else round(Fraction(effect.share) * put_in)
    return {
        **_name(pattern.comparison.name),
        "what": pattern.what,
        "tickets": pattern.tickets,
        "input": grams_text(round(put_in)),
        "share": None if effect is None else _interval(effect.share, effect.low, effect.high),
        "mass": None if mass is None else grams_text(mass),
        "money": None if mass is None or price is None else decimal_text(mass * price, 2),
        "odds": _odds(pattern.odds),
        "p": _number(pattern.p, 6),
        "q": _number(pattern.q, 6),
        "inseparable_from": [_alias(alias) for alias in pattern.inseparable],
        "goes_with": [_alias(alias) for alias in pattern.with_it],
    }


def _name(name: Name) -> dict[str, Any]:
    return {"factor": name.level.factor, "level": name.level.code, "operation": name.operation}


def _alias(alias: Alias) -> dict[str, Any]:
    return {**_name(alias.name), "way": alias.way}


def _odds(odds: OddsRatio | None) -> dict[str, Any] | None:
    return None if odds is None else _interval(odds.ratio, odds.low, odds.high)


def _interval(value: float, low: float, high: float) -> dict[str, Any]:
    return {"value": _number(value), "low": _number(low), "high": _number(high)}


def _left_out(fault: SingleFault) -> dict[str, Any]:
    return {"ticket": fault.ticket.number, "operation": fault.ticket.stratum.operation, "z": _number(fault.ticket.z, 3),
            "lot": fault.lot, "opposite": fault.opposite}  # fmt: skip


def _standing_out(ticket: Ticket) -> dict[str, Any]:
    return {"ticket": ticket.number, "operation": ticket.stratum.operation, "z": _number(ticket.z, 3)}


def _untested(one: Untested) -> dict[str, Any]:
    return {"factor": one.level.factor, "level": one.level.code, "operations": one.operations, "why": one.why}


def _number(value: float, digits: int = 8) -> float | None:
    return round(value, digits) + 0.0 if isfinite(value) else None
