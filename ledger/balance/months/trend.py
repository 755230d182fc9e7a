"""The trend as one document: every area's balances in sequence, what the running tests say, and since when.

Masses are plain decimal grams with all their digits, as text; σ is a number in grams, residuals and sums are numbers in
σ. Keys are a contract: docs/reference/json.md.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from typing import Any

from ledger.balance.flows.normal_loss import jobs_done
from ledger.balance.judging.running_tests import REFERENCE, Signal, Step, Thresholds, area_limits, way_name
from ledger.balance.judging.series import Series, look_back, series
from ledger.balance.judging.ticket_runs import Stream, TicketResidual, TicketRun, residuals_of, ticket_runs
from ledger.balance.measurement.propagation import no_collection
from ledger.balance.months.chain import CarriedLedger, Chain
from ledger.balance.months.month import CUMULATIVE_PERIODS, Ledger, Past
from ledger.balance.months.statement import SIGN
from ledger.quantities.mass import grams_text

_GRAM = 1_000_000_000


def trend(
    connection: sqlite3.Connection, metal: str | None = None, area: str | None = None, chain: Chain | None = None
) -> dict[str, Any]:
    """Return the running tests at the end of the book's last period, in one metal; of one area, or of all.

    ``chain``: what past periods left. Raises WrongUsage for a metal that is not booked.
    """
    chain = chain or Chain(connection)
    ledger, limits = Ledger(connection, metal, chain.setups), area_limits(chain.setups.latest)
    with no_collection():
        recent = [_residuals(chain.ledger(code, metal)) for code in chain.periods[look_back(len(chain.periods) - 1) :]]
        last = chain.ledger(chain.periods[-1], metal) if chain.periods else None
    return {
        "plant": ledger.setup.plant.name,
        "metal": ledger.metal,
        "sign": SIGN,
        "until": last.own.period if last else None,
        "false_alarm_years": float(ledger.setup.plant.false_alarm_years),
        "areas_tested": len(ledger.setup.area),
        "area_year_rate": _number(limits.rate),
        "reference": REFERENCE,
        "thresholds": {test: _number(getattr(limits, test)) for test in ("page", "month", "trickle")},
        "areas": [
            _area(last, one.code, limits, not_judged=ledger.index == 0 and not one.gross)
            for one in ledger.setup.area
            if last and area in (None, one.code)
        ],
        "tickets": [
            _ticket_run(run) for run in ticket_runs(recent, float(ledger.setup.plant.false_alarm_years), area)
        ],
    }


def _area(last: CarriedLedger, area: str, limits: Thresholds, *, not_judged: bool) -> dict[str, Any]:
    past, before = last.earlier(last.own.period)
    months: list[Past] = [*past, last.own]
    found = series(months, area, limits, before)
    signals = [(step, signal) for step in found.steps for signal in step.signals]
    now = found.steps[-1] if found.steps else None
    standing = bool(now and now.signals and now.balance.period == months[-1].period)
    return {
        "area": found.area,
        "verdict": "not judged" if not_judged else "signalled" if standing else "quiet",
        "drift_since": _drift_since(found, now),
        "months": [_month(step) for step in found.steps],
        "left_out": [{"period": period, "reason": reason} for period, reason in found.left_out.items()],
        "signals": [_signal(step, signal) for step, signal in signals],
        **_cumulative(area, last, months),
    }


def _drift_since(found: Series, now: Step | None) -> str | None:
    """Return where the sum that stands higher now was last zero; None where both are."""
    if now is None:
        return None
    page = now.page
    since = page.missing_since if page.missing >= page.over else page.over_since
    return None if since is None else found.steps[since].balance.period


def _month(step: Step) -> dict[str, Any]:
    return {
        "period": step.balance.period,
        "months": step.balance.months,
        "unexplained": grams_text(step.balance.unexplained),
        "sigma": _number(step.sigma / _GRAM, 9),
        "residual": _number(step.residual),
        "missing": _number(step.page.missing),
        "over": _number(step.page.over),
        "trickle": None if step.trickle is None else _number(step.trickle),
        "trickle_judged": step.balance.last,
    }


def _signal(step: Step, signal: Signal) -> dict[str, Any]:
    return {
        "period": step.balance.period,
        "test": signal.test,
        "way": way_name(signal.way),
        "since": signal.since,
        "value": _number(abs(signal.value)),
        "threshold": _number(signal.threshold),
    }


def _cumulative(area: str, last: CarriedLedger, months: Sequence[Past]) -> dict[str, Any]:
    """Return ΣU + ΣP over the last twelve periods, and its σ with all that the months share."""
    columns = [month.columns(area) for month in months[-CUMULATIVE_PERIODS:]]
    sigma = last.cumulative_sigma(last.own, [area])
    return {
        "cumulative": grams_text(sum(c.unexplained + c.prior_period for c in columns)),
        "cumulative_sigma": _number(sigma / _GRAM, 9),
        "cumulative_periods": len(columns),
    }


def _residuals(ledger: CarriedLedger) -> dict[Stream, list[TicketResidual]]:
    month = ledger.own
    done = jobs_done(
        ledger.connection, ledger.setups, (month.start, month.end), month.lines, ledger.metals, ledger.index
    )
    return residuals_of(ledger.setups, month.lines, month.allowances, done, ledger.index, ledger.measured)


def _ticket_run(run: TicketRun) -> dict[str, Any]:
    return {
        "area": run.area,
        "operation": run.operation,
        "tickets": run.tickets,
        "set_aside": run.aside,
        "threshold": _number(run.threshold),
        "missing": _number(run.missing),
        "over": _number(run.over),
        "drift_since": run.since,
        "signals": [{"ticket": s.ticket, "way": s.way, "since": s.since} for s in run.signals],
    }


def _number(value: float, digits: int = 6) -> float:
    return round(value, digits) + 0.0
