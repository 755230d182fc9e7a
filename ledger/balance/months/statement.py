"""The month-end statement as one document: the figures every page, table and program reads.

Masses are plain decimal grams with all their digits, as text; σ and z are numbers (σ in grams), null where nothing is
judged. Keys are a contract: docs/reference/statement.md.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from datetime import timedelta
from fractions import Fraction
from typing import Any

from ledger.balance.flows.columns import Columns, Dust
from ledger.balance.flows.evidence import OpenJob
from ledger.balance.flows.normal_loss import jobs_done
from ledger.balance.judging.single_tests import MoveTest, TicketTest, move_tests, ticket_tests
from ledger.balance.measurement.covariance import sigma_of
from ledger.balance.measurement.forms import combined
from ledger.balance.measurement.worth import ASSUMPTION
from ledger.balance.months.month_end import (
    AreaStatement,
    Ledger,
    Month,
    area_statements,
    cumulative_row,
    plant_columns,
)
from ledger.quantities.mass import decimal_text, grams_text

_GRAM = 1_000_000_000

SIGN = "a difference is positive where metal is missing"


def reconcile(connection: sqlite3.Connection, period: str, metal: str | None = None) -> dict[str, Any]:
    """Return the statement of a period in one metal (the plant's first, unless told; ``gross`` allowed).

    Raises WrongUsage for a metal that is not booked, SetupRefused for a period that is none.
    """
    ledger = Ledger(connection, metal)
    month = ledger.month(period)
    ledger.looks_until = month.end
    areas = list(area_statements(ledger, period))
    give_away, under, retained = _shipped(month)
    return {
        "plant": ledger.setup.plant.name,
        "period": period,
        "metal": ledger.metal,
        "closed": False,
        "sign": SIGN,
        "assumption": ASSUMPTION,
        "areas": [_area(month, statement) for statement in areas],
        "moves": [_move(test) for test in move_tests(ledger.setups, month.lines, ledger.index, ledger.measured)],
        "tickets": [_ticket(test) for test in _ticket_tests(month)],
        "give_away": grams_text(give_away),
        "under_delivered": grams_text(under),
        "retained": grams_text(retained),
        "plant_total": _plant(month, areas),
    }


def _ticket_tests(month: Month) -> list[TicketTest]:
    ledger = month.ledger
    done = jobs_done(
        ledger.connection, ledger.setups, (month.start, month.end), month.lines, ledger.metals, ledger.index
    )
    return ticket_tests(ledger.setups, month.lines, month.allowances, ledger.index, ledger.measured, done)


def _area(month: Month, s: AreaStatement) -> dict[str, Any]:
    return {
        "area": s.area.code,
        **_columns(s.columns),
        "sigma_measurement": _number(s.sigma.measurement),
        "sigma": _number(s.sigma.total),
        "z": None if s.judgement.z is None else round(s.judgement.z, 6),
        "tolerance": None if s.levels.tolerance is None else grams_text(s.levels.tolerance),
        "trivial": grams_text(s.levels.trivial),
        "verdict": s.judgement.verdict,
        "coarse": s.judgement.coarse,
        "reasons": s.judgement.reasons,
        "counted_at": s.counted_at,
        "estimated": grams_text(s.estimated),
        "in_transit": grams_text(s.in_transit),
        "open_jobs": [_job(month, job) for job in s.open_jobs],
        "cumulative": grams_text(s.cumulative),
        "cumulative_sigma": _number(s.cumulative_sigma),
        "money": _money(s.money),
        "dust": _dust(s.dust),
    }


def _job(month: Month, job: OpenJob) -> dict[str, Any]:
    calendar = month.ledger.calendar
    age = calendar.days_of(month.period)[1] - timedelta(days=1) - calendar.day(job.opened)
    return {
        "job": job.job,
        "operation": job.operation,
        "opened": calendar.text(job.opened),
        "age_days": age.days,
        "content": grams_text(job.content),
    }


def _columns(c: Columns) -> dict[str, Any]:
    return {
        "opening": grams_text(c.opening),
        "received": grams_text(c.received),
        "issued": grams_text(c.issued),
        "closing": grams_text(c.closing),
        "sweeps": grams_text(c.sweeps),
        "difference": grams_text(c.difference),
        "gross_loss": grams_text(c.gross_loss),
        "difference_from": {origin: grams_text(ng) for origin, ng in c.difference_from.items()},
        "prior_period": grams_text(c.prior_period),
        "allowed": grams_text(c.allowed),
        "unexplained": grams_text(c.unexplained),
        "take_on": grams_text(c.take_on),
        "known_discards": grams_text(c.known_discards),
    }


def _dust(d: Dust) -> dict[str, Any]:
    figures = {"opening": d.opening, "accrued": d.accrued, "taken": d.taken, "trued_up": d.trued_up,
               "closing": d.closing, "shortfall": d.shortfall}  # fmt: skip
    return {**{name: grams_text(ng) for name, ng in figures.items()}, "sigma": None, "z": None}


def _plant(month: Month, areas: Sequence[AreaStatement]) -> dict[str, Any]:
    """The plant's total stands beside the areas; losses and gains are shown apart, never one against the other."""
    columns = plant_columns(month, [s.columns for s in areas])
    months = [month.ledger.month(code) for code in month.ledger.until(month.period)]
    tape, codes = month.tape, [s.area.code for s in areas]
    both = sigma_of(tape, combined((month.row(code), 1.0) for code in codes))
    sigma, over_the_year = both.total, cumulative_row(months, codes)
    uncounted = [s.area.code for s in areas if s.judgement.verdict == "uncounted"]
    losses = sum(s.columns.unexplained for s in areas if s.columns.unexplained > 0)
    gains = sum(s.columns.unexplained for s in areas if s.columns.unexplained < 0)
    flagged = [f"{s.area.code} {s.judgement.verdict}" for s in areas if s.judgement.verdict in ("short", "over")]
    money = [s.money for s in areas]
    dust = [s.dust for s in areas]
    return {
        "area": "plant",
        **_columns(columns),
        "unexplained_losses": grams_text(losses),
        "unexplained_gains": grams_text(gains),
        "sigma_measurement": _number(both.measurement),
        "sigma": _number(sigma),
        "z": None if uncounted or not sigma else round(columns.unexplained / sigma, 6),
        "tolerance": None,
        "trivial": grams_text(0),
        "verdict": _worst([s.judgement.verdict for s in areas]),
        "coarse": any(s.judgement.coarse for s in areas),
        "reasons": [f"uncounted: {', '.join(uncounted)}"] * bool(uncounted) + flagged,
        "counted_at": None,
        "estimated": grams_text(sum(s.estimated for s in areas)),
        "in_transit": grams_text(sum(s.in_transit for s in areas)),
        "open_jobs": [_job(month, job) for s in areas for job in s.open_jobs],
        "cumulative": grams_text(sum(s.cumulative for s in areas)),
        "cumulative_sigma": _number(sigma_of(tape, over_the_year).total),
        "money": _money(None if None in money else sum((m for m in money if m is not None), Fraction(0))),
        "dust": _dust(Dust(*(sum(getattr(d, name) for d in dust)
                             for name in ("opening", "accrued", "taken", "trued_up", "shortfall")))),
    }  # fmt: skip


def _worst(verdicts: Sequence[str]) -> str:
    """Return the first verdict in the order of judging that any area has: an area in trouble is not averaged away."""
    order = ("short", "over", "uncounted", "unrated", "look", "within", "not judged")
    return next((verdict for verdict in order if verdict in verdicts), "within")


def _move(t: MoveTest) -> dict[str, Any]:
    return {
        "from": t.from_,
        "to": t.to,
        "sender_receiver_difference": grams_text(t.difference),
        "sigma": _number(t.sigma),
        "z": None if t.z is None else round(t.z, 6),
        "verdict": t.verdict,
    }


def _ticket(t: TicketTest) -> dict[str, Any]:
    return {
        "ticket": t.ticket,
        "operation": t.operation,
        "input": grams_text(t.input),
        "difference": grams_text(t.difference),
        "allowed": grams_text(t.allowed),
        "z": None if t.z is None else round(t.z, 6),
        "verdict": t.verdict,
    }


def _shipped(month: Month) -> tuple[int, int, int]:
    """Return content given away, content under-delivered, and content retained, each its own sum, never netted."""
    rows = month.ledger.connection.execute(
        "SELECT coalesce(sum(CASE WHEN ng > 0 THEN ng END), 0), coalesce(-sum(CASE WHEN ng < 0 THEN ng END), 0) "
        "FROM (SELECT sum(p.ng) AS ng FROM posting AS p JOIN ticket AS t ON t.seq = p.ticket "
        "WHERE p.period = ? AND p.metal = ? AND p.class = 'give-away' "
        "GROUP BY coalesce(t.reverses, t.seq), p.line)", (month.period, month.ledger.metal)
    ).fetchone()  # fmt: skip
    kept = month.ledger.connection.execute(
        "SELECT coalesce(sum(ng), 0) FROM period_sum WHERE period = ? AND metal = ? AND class = 'retained'",
        (month.period, month.ledger.metal),
    ).fetchone()
    return rows[0], rows[1], kept[0]


def _number(sigma_ng: float) -> float:
    return round(sigma_ng / _GRAM, 9)


def _money(amount: Fraction | None) -> str | None:
    return None if amount is None else decimal_text(amount, 2)
