"""What loss was expected before anybody saw the result: rate, spread, and when and by which record it was set."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from math import fsum, sqrt

from ledger.audit.inquiry import Document, Inquiry
from ledger.balance.flows.evidence import NOT_OF_THE_PERIOD, Weighing, weighings
from ledger.balance.flows.normal_loss import Allowance, allowances
from ledger.book.setups import Version
from ledger.plant.assumed import per_cent
from ledger.quantities.mass import grams_text

_LOSS = """
    SELECT area, origin, sum(ng) FROM period_sum WHERE class = 'difference' AND period = ? AND metal = ? AND prior = 0
    GROUP BY area, origin"""

_FIRST = "SELECT min(seq) FROM ticket WHERE period = ?"

_RECORDED = "SELECT recorded_at, recorded_by FROM record WHERE seq = ?"


def expected_document(inquiry: Inquiry, period: str, area: str | None) -> Document:
    """Return, for each area and operation, E of a period with its spread and drift, and the gross loss beside them."""
    bounds = inquiry.setups.calendar.bounds(period)
    lines = weighings(inquiry.connection, period)
    found = allowances(inquiry.connection, inquiry.setups, period, bounds, lines, inquiry.metals, inquiry.index)
    (first,) = inquiry.connection.execute(_FIRST, (period,)).fetchone()
    lost: dict[str, int] = {}
    for of, origin, ng in inquiry.connection.execute(_LOSS, (period, inquiry.metal)):
        if origin not in NOT_OF_THE_PERIOD:
            lost[of] = lost.get(of, 0) + ng
    areas = [a.code for a in inquiry.setups.at(bounds[1] - 1).area if area in (None, a.code)]
    return {
        "metal": inquiry.metal, "period": period,
        "areas": [_area(inquiry, code, found, lost.get(code, 0)) for code in areas],
        "operations": [
            {**row, **_set_when(inquiry, row["operation"], bounds[0], first)}
            for code in areas for row in _operations([a for a in found if a.area == code], lines, inquiry.index)
        ],
    }  # fmt: skip


def _area(inquiry: Inquiry, area: str, found: Sequence[Allowance], lost: int) -> Document:
    own = [a for a in found if a.area == area]
    allowed = sum(a.allowed or 0 for a in own)
    return {"area": area, "expected": grams_text(allowed), "sd": _sd(own), "gross_loss": grams_text(lost),
            "beyond": grams_text(lost - allowed), "unrated": sum(a.allowed is None for a in own)}  # fmt: skip


def _sd(own: Iterable[Allowance]) -> float:
    """Return the sd of E in grams: tickets apart by their spread, an operation's tickets together by their drift."""
    spread: list[float] = []
    drift: dict[str, float] = {}
    for a in own:
        spread.append(a.spread**2)
        drift[a.operation] = drift.get(a.operation, 0.0) + a.drift
    return round(sqrt(fsum(spread) + fsum(d**2 for d in drift.values())) / 10**9, 6)


def _operations(own: Sequence[Allowance], lines: Sequence[Weighing], index: int) -> list[Document]:
    rows = []
    for operation in dict.fromkeys(a.operation for a in own):
        of = [a for a in own if a.operation == operation]
        tickets = {a.ticket for a in of}
        put_in = sum(x.content[index] for x in lines if x.ticket in tickets and x.side == "in")
        rows.append({
            "area": of[0].area, "operation": operation, "tickets": len(tickets), "input": grams_text(put_in),
            "expected": None if any(a.allowed is None for a in of) else grams_text(sum(a.allowed or 0 for a in of)),
            "sd": _sd(of),
        })  # fmt: skip
    return rows


def _set_when(inquiry: Inquiry, operation: str, start: int, first: int | None) -> Document:
    """Return the rate in force when a period began, and the record that last set it."""
    versions = [v for v in inquiry.setups.versions if v.since <= start] or inquiry.setups.versions[:1]
    rate = _rate(versions[-1], operation, inquiry.metal)
    by = versions[-1]
    for version in reversed(versions):
        if _rate(version, operation, inquiry.metal) != rate:
            break
        by = version
    recorded_at, recorded_by = inquiry.connection.execute(_RECORDED, (by.seq,)).fetchone()
    return {"rate": rate[0], "each": rate[1], "record": by.seq, "recorded_at": recorded_at, "recorded_by": recorded_by,
            "before_first_ticket": first is None or by.seq < first}  # fmt: skip


def _rate(version: Version, operation: str, metal: str) -> tuple[str | None, str | None, int]:
    """Return what is stated for an operation: share and fixed part, and how many materials have rates of their own."""
    setup = version.setup
    if operation not in setup.operations:
        return None, None, 0
    rates = setup.rates_for(operation)
    share, each = rates.loss.get(metal), rates.each.get(metal)
    special = sum(r.operation == operation for r in setup.rate)
    return (None if share is None else per_cent(Fraction(share)), None if each is None else f"{grams_text(each)} g",
            special)  # fmt: skip
