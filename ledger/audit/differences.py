"""Differences explained by documents: losses and gains apart, the largest with their paper, what is open, written off.

A gain is never set off against a loss: an area whose gains are as large as its losses has two things to explain.
What a reversal undoes is taken with what it undoes.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from ledger.audit.inquiry import Document, Inquiry
from ledger.balance.flows.evidence import NOT_OF_THE_PERIOD, known_periods
from ledger.book.holdings import TICKET_STANDS
from ledger.quantities.mass import grams_text

#: Single differences shown with their paper, for each area.
_SHOWN = 5

_SINGLES = """
    SELECT p.area, t.number, t.kind, t.instant, p.origin, p.line, sum(p.ng), record.body
    FROM posting AS p JOIN ticket AS w ON w.seq = p.ticket JOIN ticket AS t ON t.seq = coalesce(w.reverses, w.seq)
    JOIN record ON record.seq = t.seq WHERE p.class = 'difference' AND p.period = ? AND p.metal = ?
    GROUP BY p.area, t.seq, p.origin, p.line HAVING sum(p.ng) <> 0 ORDER BY p.area, abs(sum(p.ng)) DESC, t.seq"""

_OPEN = """
    SELECT area, period, origin, sum(ng) FROM period_sum WHERE class = 'difference' AND metal = ?
    GROUP BY area, period, origin"""

_WRITTEN_OFF = f"""
    SELECT t.number, t.instant, record.body, record.recorded_at FROM ticket AS t JOIN record ON record.seq = t.seq
    WHERE t.kind = 'writeoff' AND t.instant <= ? AND {TICKET_STANDS.format('t')} ORDER BY t.instant, t.seq"""


def differences_document(inquiry: Inquiry, period: str, area: str | None) -> Document:
    """Return a period's losses and gains by area and origin, the largest with their paper, and what stands open."""
    singles = inquiry.connection.execute(_SINGLES, (period, inquiry.metal)).fetchall()
    areas = [a.code for a in inquiry.setup.area if area in (None, a.code)]
    by_area = {code: [s for s in singles if s[0] == code and s[4] not in NOT_OF_THE_PERIOD] for code in areas}
    end = inquiry.span(period)[1]
    return {
        "metal": inquiry.metal, "period": period,
        "areas": [_both(code, rows) for code, rows in by_area.items()],
        "largest": [_single(inquiry, row) for rows in by_area.values() for row in rows[:_SHOWN]],
        "open": list(_open(inquiry, period, areas)),
        "written_off": [_written_off(inquiry, *row) for row in inquiry.connection.execute(_WRITTEN_OFF, (end,))
                        if area in (None, json.loads(row[2])["area"])],
    }  # fmt: skip


def _both(area: str, rows: list[tuple[Any, ...]]) -> Document:
    losses, gains = (sum(row[6] for row in rows if row[6] * sign > 0) for sign in (1, -1))
    origins: dict[str, list[int]] = {}
    for row in rows:
        both = origins.setdefault(row[4], [0, 0])
        both[row[6] < 0] += row[6]
    return {
        "area": area, "losses": grams_text(losses), "gains": grams_text(-gains), "net": grams_text(losses + gains),
        "singles": len(rows),
        "by_origin": {o: {"losses": grams_text(a), "gains": grams_text(-b)} for o, (a, b) in origins.items()},
    }  # fmt: skip


def _single(inquiry: Inquiry, row: tuple[Any, ...]) -> Document:
    area, number, kind, instant, origin, line, ng, body = row
    said = json.loads(body)
    return {"area": area, "ticket": number, "kind": kind, "at": inquiry.text(instant), "origin": origin,
            "lot": _lot(said, line), "mass": grams_text(ng), "by": said.get("by"), "witness": said.get("witness"),
            "words": said.get("reason") or said.get("note")}  # fmt: skip


def _lot(said: dict[str, Any], line: int) -> str | None:
    lines = [*(said.get("in") or ()), *(said.get("out") or ())] or said.get("lots") or []
    own = lines[line - 1] if 0 < line <= len(lines) else {}
    return own.get("lot") or own.get("bin") or (said.get("lot") if line else None)


def _open(inquiry: Inquiry, period: str, areas: list[str]) -> Iterator[Document]:
    """Yield what stands open in each area at a period's end, and the oldest period it is of.

    What was written off, or closed as normal loss, is set against the oldest that stood open then.
    """
    calendar = inquiry.setups.calendar
    until = calendar.bounds(period)[1]
    periods = [p for p in known_periods(inquiry.connection, calendar) if calendar.bounds(p)[0] < until]
    posted: dict[tuple[str, str], int] = {}
    for area, of, _, ng in inquiry.connection.execute(_OPEN, (inquiry.metal,)):
        posted[area, of] = posted.get((area, of), 0) + ng
    for area in areas:
        nets = [(of, posted.get((area, of), 0)) for of in periods]
        standing = sum(ng for _, ng in nets)
        most = max(nets, key=lambda net: net[1] * (1 if standing > 0 else -1), default=(None, 0))
        yield {"area": area, "open": grams_text(standing), "since": _oldest(nets, standing),
               "most_of": most[0] if standing else None, "most": grams_text(most[1] if standing else 0)}  # fmt: skip


def _oldest(nets: list[tuple[str, int]], standing: int) -> str | None:
    """Return the oldest period of which something is still open: the latest ones that together make what stands."""
    left, oldest = standing, None
    for of, ng in reversed(nets):
        if not left:
            break
        if ng * standing > 0:
            oldest = of
            left -= ng if abs(ng) <= abs(left) else left
    return oldest


def _written_off(inquiry: Inquiry, number: str, instant: int, body: str, recorded_at: str) -> Document:
    said = json.loads(body)
    keys = ("area", "metal", "mass", "cause", "evidence", "reason", "by")
    return {"ticket": number, "at": inquiry.text(instant), **{key: said.get(key) for key in keys},
            "witness": said.get("witness"), "recorded_at": recorded_at}  # fmt: skip
