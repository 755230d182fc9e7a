"""The residuals that patterns are sought in, read from the book: what each work ticket and job lost beyond normal loss.

Beside each: the operation and material it is compared within, and the *levels* it was worked under: by whom (who did
the work, not who keyed it), in which shift, on which machine and scales, on which weekday, under which conditions. The
tickets of a job may have been worked by several; each counts by its share of the content that the job handled.
"""

from __future__ import annotations

import json
import re
import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final, NamedTuple

from ledger.balance.flows.evidence import Weighing, weighings_as_dated
from ledger.balance.flows.normal_loss import Allowance, jobs_done
from ledger.balance.judging.single_tests import TicketTest, every_ticket
from ledger.balance.months.month import Ledger, Month
from ledger.book.stored import composition_from

FACTORS: Final = ("worker", "shift", "machine", "scale", "weekday")

#: What is written where a ticket says nothing.
NOT_STATED: Final = "not stated"

_DAYS: Final = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_READING: Final = re.compile(r"([+-]?\d+(?:\.\d+)?)\s*(\D*)")


class Level(NamedTuple):
    """One value of a factor: the code of a person, scale …; of a condition its name is the factor."""

    factor: str
    code: str


class Stratum(NamedTuple):
    """What is compared: tickets of one operation on one material (alloy or class, and the layer where that wears)."""

    operation: str
    material: str


@dataclass(frozen=True, slots=True)
class Ticket:
    """One work ticket or job: ``put_in`` and ``excess`` (difference less normal loss, + missing) in ng of one metal.

    ``sigma``: of the excess, its weighings and the spread of its loss; ``drift``: the standard deviation of what it
    shares with the operation's other tickets of the period. ``levels``: the share of it that was worked under each.
    ``readings``: numbers stated as conditions, by name and unit.
    """

    number: str
    period: str
    stratum: Stratum
    instant: int
    put_in: int
    excess: int
    sigma: float
    drift: float
    levels: Mapping[Level, float]
    readings: Mapping[tuple[str, str], float]
    seq: int = 0
    made: tuple[int, ...] = ()

    @property
    def z(self) -> float:
        """The excess in σ."""
        return self.excess / self.sigma


def tickets_of(ledger: Ledger, periods: Sequence[str]) -> list[Ticket]:
    """Return the tickets and finished jobs of the periods that can be tested, as the book knows them now, by date."""
    found = [ticket for period in periods for ticket in _of_month(ledger, ledger.month(period))]
    return sorted(_split(found), key=lambda t: (t.instant, t.number))


def _of_month(ledger: Ledger, month: Month) -> Iterator[Ticket]:
    bounds, metal = (month.start, month.end), ledger.index
    lines = weighings_as_dated(ledger.connection, month.period, bounds)
    jobs = jobs_done(ledger.connection, ledger.setups, bounds, lines, ledger.metals, metal)
    tested = [
        each for each in every_ticket(ledger.setups, lines, month.allowances_now(), metal, ledger.measured, jobs)
        if each[2].input > 0 and each[2].sigma > 0
    ]  # fmt: skip
    documents = _documents(ledger.connection, {line.ticket for own, _, _ in tested for line in own})
    for own, allowance, test in tested:
        yield _ticket(ledger, month.period, own, allowance, test, documents)


def _documents(connection: sqlite3.Connection, tickets: Iterable[int]) -> dict[int, dict[str, Any]]:
    rows = connection.execute(
        "SELECT seq, body FROM record WHERE seq IN (SELECT value FROM json_each(?))", (json.dumps(sorted(tickets)),)
    )
    return {seq: json.loads(body) for seq, body in rows}


def _ticket(
    ledger: Ledger, period: str, own: Sequence[Weighing], allowance: Allowance, test: TicketTest,
    documents: Mapping[int, dict[str, Any]],
) -> Ticket:  # fmt: skip
    metal = ledger.index
    shares = _shares(own)
    levels: dict[Level, float] = {}
    for seq, share in shares.items():
        day = _DAYS[ledger.calendar.day(next(line.instant for line in own if line.ticket == seq)).weekday()]
        for level in _levels(documents[seq], day):
            levels[level] = levels.get(level, 0.0) + share
    for scale, share in _scales(own):
        levels[Level("scale", scale)] = levels.get(Level("scale", scale), 0.0) + share
    return Ticket(
        test.ticket, period, _stratum(own, metal), allowance.instant, test.input, test.difference - test.allowed,
        test.sigma, allowance.drift, levels, _readings(shares, documents), allowance.ticket,
        tuple(line.lot for line in own if line.side == "out"),
    )  # fmt: skip


def _shares(lines: Sequence[Weighing]) -> dict[int, float]:
    """Return the share of its lines that each ticket of a job has; content would move with what is lost."""
    handled: dict[int, int] = {}
    for line in lines:
        if line.side in ("in", "out"):
            handled[line.ticket] = handled.get(line.ticket, 0) + 1
    whole = sum(handled.values())
    return {seq: n / whole for seq, n in handled.items()}


def _levels(document: Mapping[str, Any], day: str) -> Iterator[Level]:
    """Yield the levels of one ticket; several workers each took part in all of it."""
    for worker in document.get("workers") or (NOT_STATED,):
        yield Level("worker", worker)
    yield Level("shift", document.get("shift", NOT_STATED))
    yield Level("machine", document.get("machine", NOT_STATED))
    yield Level("weekday", day)
    for name, text in (document.get("conditions") or {}).items():
        if _READING.fullmatch(text) is None:
            yield Level(name, text)


def _scales(lines: Sequence[Weighing]) -> Iterator[tuple[str, float]]:
    weighed = [line for line in lines if line.side in ("in", "out") and line.weighed]
    return ((line.scale or NOT_STATED, 1 / len(weighed)) for line in weighed)


def _readings(shares: Mapping[int, float], documents: Mapping[int, dict[str, Any]]) -> dict[tuple[str, str], float]:
    """Return the conditions that are numbers, of a job by the ticket that handled most."""
    found = {}
    for name, text in (documents[max(shares, key=lambda seq: shares[seq])].get("conditions") or {}).items():
        read = _READING.fullmatch(text)
        if read is not None:
            found[name, read[2].strip()] = float(read[1])
    return found


def _stratum(lines: Sequence[Weighing], metal: int) -> Stratum:
    """Return the operation and the material of the input that holds most of the metal."""
    most = max((line for line in lines if line.side == "in"), key=lambda line: abs(line.content[metal]))
    return Stratum(most.operation or "", most.alloy or most.class_ or _sort(most))


def _sort(line: Weighing) -> str:
    """Return the layer, or without one the fineness, as twenty-fourths: lots of one sort differ by their assays."""
    layer = composition_from(line.layer) if line.layer else ()
    worn = next((f for f in layer[1:] if f), None)
    if worn is not None:
        return f"layer {round(24 * worn)}/24"
    fineness = next((line.fineness(metal) for metal in range(1, len(line.content)) if line.content[metal]), 0.0)
    return f"{round(24 * fineness)}/24"


def _split(tickets: Sequence[Ticket]) -> Iterator[Ticket]:
    """Yield the tickets with each numeric condition as a level: above the middle of its operation, or not."""
    middles = _middles(tickets)
    for ticket in tickets:
        levels = dict(ticket.levels)
        for (name, unit), value in ticket.readings.items():
            middle = middles[ticket.stratum.operation, name, unit]
            word = "above" if value > middle else "up to"
            levels[Level(name, f"{word} {middle:g} {unit}".strip())] = 1.0
        yield replace(ticket, levels=levels)


def _middles(tickets: Sequence[Ticket]) -> dict[tuple[str, str, str], float]:
    """Return the lower median of each numeric condition, by operation, name and unit."""
    values: dict[tuple[str, str, str], list[float]] = {}
    for ticket in tickets:
        for (name, unit), value in ticket.readings.items():
            values.setdefault((ticket.stratum.operation, name, unit), []).append(value)
    return {key: sorted(found)[(len(found) - 1) // 2] for key, found in values.items()}
