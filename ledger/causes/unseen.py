"""What would go unseen, as one document: how small a loss each area's tests still find, and what would make it smaller.

Sizes, σ and factors are statistics: numbers, masses in grams. Keys are a contract: docs/reference/json.md.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import inf, sqrt
from statistics import NormalDist, median
from typing import TYPE_CHECKING, Any, Final

from ledger.balance.flows.normal_loss import jobs_done
from ledger.balance.judging.running_tests import YEAR, area_limits
from ledger.balance.judging.single_tests import every_ticket
from ledger.balance.measurement.budget import budget
from ledger.balance.measurement.forms import Form, combined
from ledger.balance.months.month import Ledger, Month
from ledger.balance.months.statement import SIGN
from ledger.plant.site import Area

if TYPE_CHECKING:
    from ledger.causes.unseen_sizes import Smallest

_GRAM: Final = 1_000_000_000

#: Measures named for an area.
_NAMED: Final = 5

_WEIGHED_AGAIN: Final = frozenset(("reweighing", "transfer"))


def unseen(connection: sqlite3.Connection, metal: str | None = None, only: str | None = None) -> dict[str, Any]:
    """Return what would go unseen in one area, or in all, in one metal, by the last twelve periods of the book.

    Raises WrongUsage for a metal that is not booked.
    """
    from ledger.causes.unseen_sizes import HORIZONS, SURE

    ledger = Ledger(connection, metal)
    months = [ledger.month(period) for period in ledger.periods]
    price = ledger.price(months[-1].period) if months else None
    return {
        "plant": ledger.setup.plant.name,
        "metal": ledger.metal,
        "sign": SIGN,
        "probability": SURE,
        "horizons": list(HORIZONS),
        "assumes": "measurements, tickets, normal loss and counts go on as in the periods looked at",
        "areas": [
            _area(ledger, months, area, price) for area in ledger.setup.area if only in (None, area.code) and months
        ],
    }


@dataclass(frozen=True, slots=True)
class _Row:
    """One balance of an area: the periods it takes together, its row in sources, and the tolerance set for it, ng."""

    months: list[Month]
    form: Form
    tolerance: float


def _rows(ledger: Ledger, months: Sequence[Month], area: Area) -> list[_Row]:
    """Return the last balances of an area, a year of them at most: as the running tests take them."""
    found, waiting = [], list[Month]()
    for month in months:
        waiting.append(month)
        if month.counted(area.code) is None:
            continue
        if not any(m.columns(area.code).unrated for m in waiting):
            limit = month.levels(area, ledger.index).tolerance
            form = combined((m.row(area.code), 1.0) for m in waiting)
            found.append(_Row(waiting, form, inf if limit is None or len(waiting) > 1 else limit))
        waiting = []
    while sum(len(row.months) for row in found) > YEAR:
        found.pop(0)
    return found


def _area(ledger: Ledger, months: Sequence[Month], area: Area, price: Fraction | None) -> dict[str, Any]:
    rows = _rows(ledger, months, area) if ledger.index or area.gross else []
    document: dict[str, Any] = {
        "area": area.code,
        "from": None,
        "to": None,
        "balances": len(rows),
        "sigma": None,
        "largest_source": None,
        "single": [],
        "trickle": [],
        "measures": [],
        "ticket": None,
        "lot": None,
        "reason": None,
    }
    variances = [ledger.measured.tape.variance(row.form) for row in rows]
    if not any(variances):
        document["reason"] = _why(ledger, area, rows)
        return document
    last = rows[-1].months[-1]
    tickets = [sigma for month in rows[-1].months for sigma in _ticket_sigmas(ledger, month, area.code)]
    items = budget(ledger.measured.tape, rows[-1].form)
    return document | {
        "from": rows[0].months[0].period,
        "to": last.period,
        "sigma": _grams(sqrt(sum(variances) / len(variances))),
        "largest_source": {"source": items[0].words, "share": round(items[0].share, 4), "mend": items[0].mend},
        **_sizes(ledger, rows, area, price),
        "ticket": _one(ledger, tickets, price),
        "lot": _one(ledger, list(_lot_sigmas(ledger, rows[-1].months, area.code)), price),
    }


def _why(ledger: Ledger, area: Area, rows: Sequence[_Row]) -> str:
    if not ledger.index and not area.gross:
        return "gross is not judged here"
    return "nothing is weighed here that could be in error" if rows else "no period is counted and rated"


def _sizes(ledger: Ledger, rows: Sequence[_Row], area: Area, price: Fraction | None) -> dict[str, Any]:
    import numpy as np

    from ledger.balance.measurement.covariance import covariance
    from ledger.causes.unseen_measures import measures
    from ledger.causes.unseen_sizes import Balances, smallest

    tape, plant = ledger.measured.tape, ledger.setup.plant
    forms = [row.form for row in rows]
    balances = Balances(
        np.array(covariance(tape, forms)),
        tuple(len(row.months) for row in rows),
        float(plant.act),
        float(area.trivial),
        tuple(row.tolerance for row in rows),
        area_limits(ledger.setup),
    )
    return {
        "single": [_smallest(smallest(balances, "single", h), price) for h in balances.horizons],
        "trickle": [_smallest(smallest(balances, "trickle", h), price) for h in balances.horizons],
        "measures": [
            {
                "kind": m.kind,
                "of": m.of,
                "measure": m.words,
                "single": round(m.single, 4),
                "trickle": round(m.trickle, 4),
            }
            for m in measures(balances, tape, forms)[:_NAMED]
        ],
    }


def _smallest(one: Smallest, price: Fraction | None) -> dict[str, Any]:
    return {
        "within": one.horizon,
        "size": _grams(one.size),
        "money": _money(one.size, price),
        "false_alarm": round(one.false_alarm, 6),
        "optimum": _grams(one.optimum),
        "of_optimum": round(min(one.optimum / one.size, 1.0), 4),
        "optimum_power": round(one.optimum_power, 6),
    }


def _ticket_sigmas(ledger: Ledger, month: Month, area: str) -> list[float]:
    bounds, metal = (month.start, month.end), ledger.index
    jobs = jobs_done(ledger.connection, ledger.setups, bounds, month.lines, ledger.metals, metal)
    tested = every_ticket(ledger.setups, month.lines, month.allowances, metal, ledger.measured, jobs)
    return [test.sigma for _, allowance, test in tested if allowance.area == area and test.sigma > 0]


def _lot_sigmas(ledger: Ledger, months: Sequence[Month], area: str) -> Iterator[float]:
    tape, metal = ledger.measured.tape, ledger.index
    residuals = [r for m in months for r in ledger.measured.of_area.get((area, m.period), ())]
    forms = [r.content.forms[metal] for r in residuals if r.kind in _WEIGHED_AGAIN]
    for row in tape.rows(forms):
        variance = tape.variance(row)
        if variance > 0:
            yield sqrt(variance)


def _one(ledger: Ledger, sigmas: Sequence[float], price: Fraction | None) -> dict[str, Any] | None:
    """Return what a single test at the action level finds surely, for the middle one of its kind."""
    if not sigmas:
        return None
    size = median(sigmas) * (float(ledger.setup.plant.act) + NormalDist().inv_cdf(0.95))
    return {"tests": len(sigmas), "size": _grams(size), "money": _money(size, price)}


def _grams(ng: float) -> float:
    """Return grams with four significant digits: a simulated size has no more."""
    return float(f"{ng / _GRAM:.4g}")


def _money(ng: float, price: Fraction | None) -> float | None:
    return None if price is None else float(f"{ng * float(price):.4g}")
