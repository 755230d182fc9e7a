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

from ledger.balance.daily.settlements import Refiner, settlements
from ledger.balance.flows.columns import Columns, Dust
from ledger.balance.flows.evidence import OpenJob, awaited, received_from, senders, sums
from ledger.balance.flows.normal_loss import jobs_done
from ledger.balance.judging.dust_truth import DustTruth, judged
from ledger.balance.judging.single_tests import (
    AssayTest,
    MoveTest,
    ReceiptTest,
    TicketTest,
    assay_tests,
    move_tests,
    receipt_tests,
    ticket_tests,
)
from ledger.balance.measurement.covariance import sigma_of
from ledger.balance.measurement.forms import combined
from ledger.balance.measurement.propagation import no_collection
from ledger.balance.measurement.worth import ASSUMPTION
from ledger.balance.months.chain import Chain
from ledger.balance.months.month import CUMULATIVE_PERIODS, Ledger, Month
from ledger.balance.months.month_end import AreaStatement, area_statements, plant_columns
from ledger.balance.months.sealed import Sealed
from ledger.book.before import book_before
from ledger.book.closes import close_of
from ledger.plant.setup import Setup
from ledger.quantities.mass import decimal_text, grams_text

_GRAM = 1_000_000_000

SIGN = "a difference is positive where metal is missing"


def reconcile(
    connection: sqlite3.Connection, period: str, metal: str | None = None, chain: Chain | None = None
) -> dict[str, Any]:
    """Return the statement of a period in one metal (the plant's first, unless told; ``gross`` allowed).

    ``chain``: what the periods before it left, where more than one statement is asked for. A closed period's is what
    it was when it was closed, from what was recorded before. Raises WrongUsage for a metal that is not booked,
    SetupRefused for a period that is none.
    """
    close, chain = close_of(connection, period), chain or Chain(connection)
    with no_collection():
        if close is None:
            return statement_of(chain.ledger(period, metal), period)
        left = chain.before(period)
        with book_before(connection, close.seq):
            sealed = Chain(connection, latest=left if left is not None and left.record < close.seq else None)
            document = statement_of(sealed.ledger(period, metal), period)
    return Sealed.read(connection, close).put_on(document)


def statement_of(ledger: Ledger, period: str) -> dict[str, Any]:
    """Return the statement of a period from what it reads."""
    month = ledger.month(period)
    areas = list(area_statements(ledger, period))
    give_away, under = month.posted.given_away()
    return {
        "plant": ledger.setup.plant.name,
        "period": period,
        "metal": ledger.metal,
        "closed": False,
        "close": None,
        "sign": SIGN,
        "assumption": ASSUMPTION,
        "areas": [_area(month, statement) for statement in areas],
        "moves": [_move(test) for test in _move_tests(month)],
        "receipts": [_receipt(test) for test in _receipt_tests(month)],
        "tickets": [_ticket(test) for test in _ticket_tests(month)],
        "assays": [_assay(test) for test in _assay_tests(month)],
        "give_away": grams_text(give_away),
        "under_delivered": grams_text(under),
        "retained": grams_text(_retained(month)),
        "refiners": [_refiner(refiner, ledger.setup) for refiner in _refiners(month)],
        "plant_total": _plant(month, areas),
    }


def _ticket_tests(month: Month) -> list[TicketTest]:
    ledger = month.ledger
    done = jobs_done(
        ledger.connection, ledger.setups, (month.start, month.end), month.lines, ledger.metals, ledger.index
    )
    return ticket_tests(ledger.setups, month.lines, month.allowances, ledger.index, ledger.measured, done)


def _move_tests(month: Month) -> list[MoveTest]:
    ledger = month.ledger
    sent = senders(ledger.connection, month.period)
    return move_tests(ledger.setups, month.lines, ledger.index, ledger.measured, sent)


def _receipt_tests(month: Month) -> list[ReceiptTest]:
    ledger = month.ledger
    parties = received_from(ledger.connection, month.period)
    return receipt_tests(ledger.setups, month.lines, ledger.index, ledger.measured, parties)


def _assay_tests(month: Month) -> list[AssayTest]:
    ledger = month.ledger
    first = awaited(ledger.connection, month.period)
    return assay_tests(ledger.setups, month.lines, month.allowances, ledger.index, ledger.measured, first)


def _refiners(month: Month) -> list[Refiner]:
    """Return what refiners settled over the last twelve periods."""
    ledger = month.ledger
    first = ledger.until(month.period)[-CUMULATIVE_PERIODS:][0]
    return settlements(ledger.connection, ledger.index, ledger.calendar.bounds(first)[0], month.end)


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
        "evidence": None,
        "note": None,
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


def _dust(truth: DustTruth) -> dict[str, Any]:
    d = truth.dust
    figures = {"opening": d.opening, "accrued": d.accrued, "taken": d.taken, "trued_up": d.trued_up,
               "closing": d.closing, "shortfall": d.shortfall}  # fmt: skip
    return {
        **{name: grams_text(ng) for name, ng in figures.items()},
        "sigma": _number(truth.sigma),
        "z": None if truth.z is None else round(truth.z, 6),
        "cleaned_out": truth.cleaned_out,
        "verdict": truth.verdict,
    }


def _plant_dust(month: Month, areas: Sequence[AreaStatement]) -> DustTruth:
    """Return the areas' dust together: the shortfalls of those that were cleaned out, or, where none was, all of H."""
    figures = ("opening", "accrued", "taken", "trued_up", "shortfall")
    dust = Dust(*(sum(getattr(s.dust.dust, name) for s in areas) for name in figures))
    cleaned = [s.dust for s in areas if s.dust.cleaned_out]
    row = combined((truth.row, 1.0) for truth in (cleaned or [s.dust for s in areas]))
    return judged(month, dust, row, cleaned_out=bool(cleaned))


def _plant(month: Month, areas: Sequence[AreaStatement]) -> dict[str, Any]:
    """The plant's total stands beside the areas; losses and gains are shown apart, never one against the other."""
    columns = plant_columns(month, [s.columns for s in areas])
    tape, codes = month.tape, [s.area.code for s in areas]
    both = sigma_of(tape, combined((month.row(code), 1.0) for code in codes))
    sigma = both.total
    uncounted = [s.area.code for s in areas if s.judgement.verdict == "uncounted"]
    losses = sum(s.columns.unexplained for s in areas if s.columns.unexplained > 0)
    gains = sum(s.columns.unexplained for s in areas if s.columns.unexplained < 0)
    flagged = [f"{s.area.code} {s.judgement.verdict}" for s in areas if s.judgement.verdict in ("short", "over")]
    money = [s.money for s in areas]
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
        "evidence": None,
        "note": None,
        "counted_at": None,
        "estimated": grams_text(sum(s.estimated for s in areas)),
        "in_transit": grams_text(sum(s.in_transit for s in areas)),
        "open_jobs": [_job(month, job) for s in areas for job in s.open_jobs],
        "cumulative": grams_text(sum(s.cumulative for s in areas)),
        "cumulative_sigma": _number(month.ledger.cumulative_sigma(month, codes)),
        "money": _money(None if None in money else sum((m for m in money if m is not None), Fraction(0))),
        "dust": _dust(_plant_dust(month, areas)),
    }


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


def _receipt(t: ReceiptTest) -> dict[str, Any]:
    return {
        "party": t.party,
        "area": t.area,
        "difference": grams_text(t.difference),
        "sigma": _number(t.sigma),
        "z": None if t.z is None else round(t.z, 6),
        "verdict": t.verdict,
    }


def _assay(t: AssayTest) -> dict[str, Any]:
    return {
        "ticket": t.ticket,
        "lot": t.lot,
        "area": t.area,
        "difference": grams_text(t.difference),
        "sigma": _number(t.sigma),
        "z": None if t.z is None else round(t.z, 6),
        "verdict": t.verdict,
    }


def _refiner(refiner: Refiner, setup: Setup) -> dict[str, Any]:
    signs = refiner.signs
    return {
        "party": refiner.party,
        "settled": len(refiner.lots),
        "judged": len(refiner.judged),
        "difference": grams_text(sum(lot.difference for lot in refiner.judged)),
        "sign_test": {
            "below": signs.positive,
            "above": signs.negative,
            "equal": signs.nothing,
            "p_below": None if signs.p_positive is None else float(signs.p_positive),
            "p_either": None if signs.p_either is None else float(signs.p_either),
        },
        "verdict": signs.verdict(setup.plant.warn, setup.plant.act),
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


def _retained(month: Month) -> int:
    """Return the content that refiners kept by contract."""
    return sum(sums(month.ledger.connection, "retained", month.ledger.metal, [month.period]).values())


def _number(sigma_ng: float) -> float:
    return round(sigma_ng / _GRAM, 9)


def _money(amount: Fraction | None) -> str | None:
    return None if amount is None else decimal_text(amount, 2)
