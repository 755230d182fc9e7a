"""Closing a period: what must be so before it is closed, and what the close says and posts.

Every condition that is not met is told at once. What is posted are the statement's own figures of normal loss, dust and
shortfall, in every booked metal and gross; recording and sealing them is the book's: `ledger.book.closing`.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

from ledger import __version__
from ledger.balance.daily.ticket_numbers import Gap, Numbers
from ledger.balance.months.chain import Chain
from ledger.balance.months.month_end import AreaStatement, area_statements
from ledger.book.before import looking_back
from ledger.book.closes import Close, close_of, last_close
from ledger.book.closing import record_close
from ledger.book.entering import Entry, Stamp
from ledger.book.holdings import TICKET_STANDS
from ledger.book.setups import Setups
from ledger.book.tickets import split_number
from ledger.quantities.mass import grams_text, mass_text
from ledger.refusals import Fault, NotClosable


@dataclass(frozen=True)
class Answers:
    """Who closes a period, and what they answer for: notes and evidence of waste by area, missing numbers by the first.

    ``with_`` is the second person. A name is a claim, not a signature.
    """

    by: str
    with_: str
    notes: Mapping[str, str] = field(default_factory=dict)
    evidence: Mapping[str, str] = field(default_factory=dict)
    missing: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Prepared:
    """A close as it would be recorded, without its seal, and what keeps it from being recorded."""

    content: dict[str, Any]
    unmet: list[Fault]


def close_period(connection: sqlite3.Connection, period: str, answers: Answers, stamp: Stamp) -> tuple[Close, Prepared]:
    """Close a period, inside the caller's transaction; raises NotClosable with every condition that is not met."""
    prepared = prepare(connection, period, answers)
    if prepared.unmet:
        raise NotClosable(prepared.unmet)
    return record_close(Entry(connection), prepared.content, stamp), prepared


def prepare(connection: sqlite3.Connection, period: str, answers: Answers) -> Prepared:
    """Return the close of a period as it would be, with every condition that is not met.

    Raises NotClosable where it is closed already, SetupRefused for a period that is none, WrongUsage where the book
    holds nothing up to it.
    """
    if close_of(connection, period) is not None:
        raise NotClosable(f"{period} is closed already", "a late find counts in the open period")
    with looking_back(connection):
        return _Preparing(connection, period, answers).prepared()


def statements(
    connection: sqlite3.Connection, period: str, chain: Chain | None = None
) -> dict[str, list[AreaStatement]]:
    """Return the statements of a period's areas by metal, gross first, with one pass over its tickets for all.

    ``chain``: what the periods before it left, where that is known.
    """
    chain = chain or Chain(connection)
    return {metal: list(area_statements(chain.ledger(period, metal), period)) for metal in chain.metals}


def figures(statement: AreaStatement) -> dict[str, Any]:
    """Return what a close keeps of one area's statement in one metal; all figures as text, σ in grams.

    Sealed with it. The area's vectors in the error sources, once they are sealed too, belong here.
    """
    c, d = statement.columns, statement.dust.dust
    names = ("opening", "received", "issued", "closing", "sweeps", "difference", "gross_loss", "prior_period",
             "allowed", "unexplained", "take_on", "known_discards")  # fmt: skip
    of_dust = ("opening", "accrued", "taken", "trued_up", "shortfall", "closing")
    return {
        "area": statement.area.code, **{name: grams_text(getattr(c, name)) for name in names},
        "dust": {name: grams_text(getattr(d, name)) for name in of_dust}, "counted_at": statement.counted_at,
        "sigma": f"{statement.sigma.total / 1e9:.9f}", "verdict": statement.judgement.verdict,
        "coarse": statement.judgement.coarse,
    }  # fmt: skip


class _Preparing:
    """One close being prepared: its statements, and the conditions one after another."""

    def __init__(self, connection: sqlite3.Connection, period: str, answers: Answers) -> None:
        self.connection = connection
        self.period = period
        self.answers = answers
        self.setups = Setups.read(connection)
        self.calendar = self.setups.calendar
        self.start, self.end = self.calendar.bounds(period)
        self.last = last_close(connection)
        self.statements = statements(connection, period)
        self.gaps = list(self._open_gaps())

    def prepared(self) -> Prepared:
        """Return the close and what keeps it from being recorded."""
        unmet = [*self._order(), *self._persons(), *self._areas(), *self._numbers(), *self._names()]
        return Prepared(self._content(), unmet)

    def _content(self) -> dict[str, Any]:
        a = self.answers
        answered = [(gap.first, gap.last) for gap in self.gaps if gap.first in a.missing]
        return {
            "close": self.period, "by": a.by, "with": a.with_, "program": __version__, "notes": dict(a.notes),
            "evidence": dict(a.evidence),
            "missing": [{"first": first, "last": last, "note": a.missing[first]} for first, last in answered],
            "open_jobs": list(self._open_jobs()),
            "statements": {metal: [figures(s) for s in areas] for metal, areas in self.statements.items()},
        }  # fmt: skip

    def _open_jobs(self) -> Iterator[dict[str, Any]]:
        """Yield the jobs open across the close, oldest first."""
        first = next(iter(self.statements.values()))
        last_day = self.calendar.days_of(self.period)[1] - timedelta(days=1)
        for job in sorted((job for s in first for job in s.open_jobs), key=lambda job: (job.opened, job.job)):
            age = (last_day - self.calendar.day(job.opened)).days
            yield {"job": job.job, "area": job.area, "operation": job.operation,
                   "opened": self.calendar.text(job.opened), "age_days": age}  # fmt: skip

    # Conditions.

    def _order(self) -> Iterator[Fault]:
        """Periods are closed one after another, from the first that holds a ticket."""
        if self.last is not None:
            if self.last.ends != self.start:
                yield _unmet(f"{self.calendar.period(self.last.ends)} is not closed", "close one period after another")
            return
        (first,) = self.connection.execute("SELECT min(instant) FROM ticket").fetchone()
        if first is not None and first < self.start:
            yield _unmet(f"{self.calendar.period(first)} is not closed", "close one period after another")

    def _persons(self) -> Iterator[Fault]:
        """Two who may close, and who neither set rates nor decided a change of them."""
        a, people = self.answers, self.setups.latest.persons
        if a.by == a.with_:
            yield _unmet("one person closes alone", "name two", "--with")
        deciders = self._deciders()
        for option, code in (("--by", a.by), ("--with", a.with_)):
            person = people.get(code)
            if person is None:
                yield _unmet(f"there is no person {code}", "give the code of the set-up", option)
            elif "close" not in person.may:
                may = ", ".join(p.code for p in self.setups.latest.person if "close" in p.may) or "nobody yet"
                yield _unmet(f"{code} may not close", f"who may: {may}", option)
            elif "set" in person.may or code in deciders:
                yield _unmet(f"{code} sets rates, and who sets rates may not close", "let another close", option)

    def _deciders(self) -> set[str]:
        """Return who decided changes of the set-up since the last close; the first set-up was decided by nobody."""
        since = 1 if self.last is None else self.last.seq
        rows = self.connection.execute(
            "SELECT json_extract(body, '$.by') FROM record WHERE kind = 'setup' AND seq > ?", (since,)
        )
        return {by for (by,) in rows}

    def _areas(self) -> Iterator[Fault]:
        """Every area is counted, and what is short, over, coarse or unrated answered for."""
        written_off = self._written_off()
        for metal, areas in self.statements.items():
            for s in areas:
                if s.area.code not in self.answers.notes:
                    yield from _area_faults(s, metal, (s.area.code, metal) in written_off)

    def _written_off(self) -> set[tuple[str, str]]:
        """Return the (area, metal) of the write-offs that stand and were recorded since the last close.

        One by somebody who is not entitled to it, or by one person alone, answers for nothing.
        """
        rows = self.connection.execute(
            "SELECT json_extract(r.body, '$.area'), json_extract(r.body, '$.metal') FROM ticket AS t JOIN record AS r "
            f"ON r.seq = t.seq WHERE t.kind = 'writeoff' AND t.seq > ? AND {TICKET_STANDS.format('t')} AND NOT EXISTS "
            "(SELECT 1 FROM flag AS f WHERE f.ticket = t.seq AND f.flag IN ('not entitled', 'one person alone'))",
            (0 if self.last is None else self.last.seq,),
        )
        return set(rows.fetchall())

    def _numbers(self) -> Iterator[Fault]:
        """Every number up to the period's end is recorded, declared spoiled, or answered for."""
        for gap in self.gaps:
            if gap.first not in self.answers.missing:
                what = f"number {gap.first} is missing" if gap.numbers == 1 else (
                    f"{gap.numbers} numbers are missing, {gap.first} to {gap.last}")  # fmt: skip
                yield _unmet(what, f"enter or void what is missing, or answer for it: --missing {gap.first}=…")

    def _open_gaps(self) -> Iterator[Gap]:
        """Yield the gaps that no earlier close answered for as a whole."""
        answered = list(self._answered())
        checked = self.setups.latest.plant.check_character
        for gap in Numbers(self.connection, self.end - 1).gaps():
            low, high = (split_number(number, checked=checked)[1] for number in (gap.first, gap.last))
            if not any(prefix == gap.prefix and first <= low and high <= last for prefix, first, last in answered):
                yield gap

    def _answered(self) -> Iterator[tuple[str, int, int]]:
        checked = self.setups.latest.plant.check_character
        for (body,) in self.connection.execute("SELECT body FROM record WHERE kind = 'close' ORDER BY seq"):
            for answer in json.loads(body)["missing"]:
                prefix, first = split_number(answer["first"], checked=checked)
                yield prefix, first, split_number(answer["last"], checked=checked)[1]

    def _names(self) -> Iterator[Fault]:
        """Answers name areas of the set-up and numbers that are missing."""
        areas = {s.area.code for s in next(iter(self.statements.values()))}
        for option, said in (("--note", self.answers.notes), ("--evidence", self.answers.evidence)):
            for code, text in said.items():
                if code not in areas:
                    yield _unmet(f"there is no area {code}", f"the set-up has {', '.join(sorted(areas))}", option)
                if not text.strip():
                    yield _unmet(f"nothing is said of {code}", f"{option} {code}=…", option)
        missing = {gap.first for gap in self.gaps}
        for number in self.answers.missing:
            if number not in missing:
                yield _unmet(f"no missing numbers begin with {number}", "leave it out", "--missing")


def _area_faults(s: AreaStatement, metal: str, written_off: bool) -> Iterator[Fault]:
    area, verdict = s.area.code, s.judgement.verdict
    note = f'--note {area}="…"'
    if verdict == "uncounted":
        yield _unmet(f"{area} is not counted ({metal})", f"count it, or say why it was not: {note}")
    elif verdict == "unrated":
        yield _unmet(f"{area}: an operation has no loss rate ({metal})", f"state the rate, or say why: {note}")
    elif verdict in ("short", "over") and not written_off:
        off = mass_text(abs(s.columns.unexplained))
        yield _unmet(f"{area} is {verdict} by {off} g of {metal}, and nobody has answered for it",
                     f"answer: {note}, or write it off: lemel write-off {area} …")  # fmt: skip
    if s.judgement.coarse and verdict != "not judged":
        yield _unmet(f"{area} is coarse: measurement cannot hold its tolerance ({metal})", f"answer: {note}")


def _unmet(what: str, mend: str, where: str = "") -> Fault:
    return Fault(NotClosable.code, what, mend, where)
