"""E: what a period's work may lose in the ordinary course, ticket by ticket, and what of it becomes dust."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from ledger.balance.flows.evidence import Weighing, first_assays, lines_of, lines_of_jobs
from ledger.balance.flows.exact_loss import Rule, in_force, worked
from ledger.book.expected import Expected, expected_loss
from ledger.book.setups import Setups


@dataclass(frozen=True, slots=True)
class Allowance:
    """One work ticket's normal loss in one metal, in nanograms; ``allowed`` is None where it is unrated.

    ``accrued`` is the part that becomes recoverable dust; ``spread`` the standard deviation from ticket to ticket,
    ``drift`` that from month to month, shared by the operation's tickets. ``job``: the job that the ticket is part of.
    """

    ticket: int
    number: str
    area: str
    operation: str
    instant: int
    allowed: int | None
    accrued: int
    spread: float
    drift: float = 0.0
    job: int | None = None


def allowances(
    connection: sqlite3.Connection, setups: Setups, period: str, bounds: tuple[int, int], lines: Sequence[Weighing],
    metals: tuple[str, ...], metal: int, *, as_dated: bool = False,
) -> list[Allowance]:  # fmt: skip
    """Return the allowances of a period in one metal from its ``lines``.

    Work counts in the period of its ticket, a job as its content comes out; fine metal worked by a `content` operation
    when an output is first assayed. ``as_dated``: late assays count at their date.
    """
    work, rule = [line for line in lines if line.kind == "work"], Rule(setups, metals, metal)
    first = first_assays(connection, period, bounds if as_dated else None)
    assayed = [line for line in lines_of(connection, first) if metal]
    now = [line for line in work if not (metal and _content(setups, line))] + assayed
    by_ticket: dict[int, list[Weighing]] = {}
    jobs: dict[int, bool] = {}
    for line in now:
        if line.job is not None:
            jobs[line.job] = line in assayed
        elif line.side == "in":
            by_ticket.setdefault(line.ticket, []).append(line)
    found = [_allowance(rule, inputs) for inputs in by_ticket.values()]
    for job in _by_job(lines_of_jobs(connection, list(jobs), bounds[1])):
        found += _job_allowances(rule, job, bounds[0], whole=jobs[job[0].job or 0])
    return found


def late_allowances(now: Iterable[Allowance], sealed: Iterable[Allowance]) -> list[Allowance]:
    """Return by how much the allowances of closed periods are others now than when they were closed, by ticket."""
    changes: dict[tuple[int, str], Allowance] = {}
    for sign, allowances in ((1, now), (-1, sealed)):
        for a in allowances:
            key = (a.ticket, a.area)
            known = changes.get(key) or replace(a, allowed=0, accrued=0, spread=0.0, drift=0.0)
            changes[key] = replace(
                known, allowed=(known.allowed or 0) + sign * (a.allowed or 0), accrued=known.accrued + sign * a.accrued
            )
    return [change for change in changes.values() if change.allowed or change.accrued]


def jobs_done(
    connection: sqlite3.Connection, setups: Setups, bounds: tuple[int, int], lines: Sequence[Weighing],
    metals: tuple[str, ...], metal: int,
) -> list[tuple[list[Weighing], Allowance]]:  # fmt: skip
    """Return the jobs done in a period, each with all its lines and its whole allowance under its last ticket."""
    ended = {line.job: line for line in lines if line.side == "job" and line.settles and line.job is not None}
    found, rule = [], Rule(setups, metals, metal)
    for job in _by_job(lines_of_jobs(connection, list(ended), bounds[1])):
        inputs = [line for line in job if line.side == "in"]
        if inputs:
            last = ended[job[0].job or 0]
            whole = _allowance(rule, inputs)
            found.append((job, replace(whole, ticket=last.ticket, number=last.number, instant=last.instant)))
    return found


def _by_job(lines: Sequence[Weighing]) -> list[list[Weighing]]:
    grouped: dict[int | None, list[Weighing]] = {}
    for line in lines:
        grouped.setdefault(line.job, []).append(line)
    return list(grouped.values())


def _job_allowances(rule: Rule, lines: Sequence[Weighing], since: int, *, whole: bool = False) -> list[Allowance]:
    """Return a job's allowances from ``since`` on, one a ticket: accruing with the content that comes out.

    The remainder and the fixed part come with the ticket that ends the job. ``whole``: all at its last ticket.
    """
    found: list[Allowance] = []
    inputs: list[Weighing] = []
    out, before, done = 0, Allowance(0, "", "", "", 0, 0, 0, 0.0), False
    for ticket in _by_ticket(lines):
        inputs += [line for line in ticket if line.side == "in"]
        out += sum(line.content[rule.metal] for line in ticket if line.side == "out")
        done = done or any(line.side == "job" and line.settles for line in ticket)
        if not inputs:
            continue
        so_far = _so_far(rule, inputs, out, done=done or (whole and ticket[-1] is lines[-1]))
        step = _step(ticket[0], so_far, before)
        before = so_far
        if ticket[0].instant >= since or whole:
            found.append(step)
    return found


def _by_ticket(lines: Sequence[Weighing]) -> list[list[Weighing]]:
    grouped: dict[int, list[Weighing]] = {}
    for line in lines:
        grouped.setdefault(line.ticket, []).append(line)
    return list(grouped.values())


def _so_far(rule: Rule, inputs: Sequence[Weighing], out: int, *, done: bool) -> Allowance:
    """Return a job's allowance up to a ticket: in proportion to what is out, or, when done, all of it."""
    full = _allowance(rule, inputs)
    if done or full.allowed is None:
        return full
    put_in = sum(line.content[rule.metal] for line in inputs)
    part = min(Fraction(out, put_in), Fraction(1)) if put_in else Fraction(0)
    fixed = rule.fixed(inputs)
    return replace(
        full, allowed=round((full.allowed - (fixed.allowed or 0)) * part),
        accrued=round((full.accrued - fixed.accrued) * part), spread=full.spread * float(part),
        drift=full.drift * float(part),
    )  # fmt: skip


def _step(line: Weighing, now: Allowance, before: Allowance) -> Allowance:
    """Return what a job's allowance grew by; the spread of one loss is one source, so it grows linearly."""
    allowed = None if now.allowed is None else now.allowed - (before.allowed or 0)
    return replace(
        now, ticket=line.ticket, number=line.number, instant=line.instant, allowed=allowed,
        accrued=now.accrued - before.accrued, spread=now.spread - before.spread, drift=now.drift - before.drift,
    )  # fmt: skip


def _content(setups: Setups, line: Weighing) -> bool:
    return in_force(setups, line)[1].composition == "content"


def _allowance(rule: Rule, inputs: Sequence[Weighing]) -> Allowance:
    first = inputs[0]
    return Allowance(
        first.ticket, first.number, first.area, first.operation or "", first.instant, *rule.of(inputs), first.job
    )


def expectation(setups: Setups, inputs: Sequence[Weighing], metals: tuple[str, ...]) -> Expected:
    """Return the expected loss of one work ticket from its input lines, at the rates in force on its date."""
    setup, operation = in_force(setups, inputs[0])
    return expected_loss(setup, operation, [worked(operation, line) for line in inputs], metals)
