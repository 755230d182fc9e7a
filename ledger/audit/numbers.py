"""Numbered paper: gaps, spoiled numbers, numbers out of their order, count sheets, and tickets that look alike."""

from __future__ import annotations

import json
from collections.abc import Iterator
from itertools import pairwise
from typing import Any

from ledger.audit.inquiry import Document, Inquiry
from ledger.balance.daily.ticket_numbers import Gap, Numbers
from ledger.book.holdings import TICKET_STANDS
from ledger.plant.calendar import DAY

_VOIDS = """
    SELECT v.number, t.number, t.instant, json_extract(record.body, '$.by'), json_extract(record.body, '$.reason')
    FROM void_number AS v JOIN ticket AS t ON t.seq = v.ticket JOIN record ON record.seq = v.ticket
    WHERE t.instant BETWEEN ? AND ? ORDER BY t.instant, v.number"""

_SHEETS = f"""
    SELECT c.area, c.count, c.team, c.sheet, t.number FROM count_sheet AS c JOIN ticket AS t ON t.seq = c.ticket
    WHERE t.instant BETWEEN ? AND ? AND {TICKET_STANDS.format('t')} ORDER BY c.area, t.instant, t.seq"""

_BODIES = f"""
    SELECT t.number, t.kind, t.instant, record.body FROM ticket AS t JOIN record ON record.seq = t.seq
    WHERE t.instant BETWEEN ? AND ? AND t.kind NOT IN ('void', 'checkweigh', 'reverse')
    AND {TICKET_STANDS.format('t')} ORDER BY t.seq"""


#: Tickets further apart than this are not looked at side by side: two months. Common practice, no source.
_NEAR = 62 * DAY


def numbers_document(inquiry: Inquiry, period: str | None) -> Document:
    """Return what became of each number: used, spoiled, or missing; and sheets and tickets that are there twice."""
    span = inquiry.span(period)
    numbers = Numbers(inquiry.connection, span[1])
    voids = inquiry.connection.execute(_VOIDS, span).fetchall()
    return {
        "period": period, "prefixes": list(_prefixes(numbers)), "missing": [_gap(gap) for gap in numbers.gaps()],
        "void": [
            {"number": number, "ticket": ticket, "at": inquiry.text(instant), "by": by, "reason": reason}
            for number, ticket, instant, by, reason in voids
        ],
        "out_of_order": [
            {"ticket": o.ticket, "at": inquiry.text(o.instant), "before": o.before, "before_at":
             inquiry.text(o.before_instant)}
            for o in numbers.out_of_order(*span)
        ],
        "sheets": list(_sheets(inquiry, span)), "alike": list(_alike(inquiry, span)),
    }  # fmt: skip


def _prefixes(numbers: Numbers) -> Iterator[Document]:
    for prefix in sorted(numbers.used):
        counters = numbers.used[prefix]
        low, high = min(counters), max(counters)
        yield {"prefix": prefix, "first": counters[low], "last": counters[high], "used": len(counters),
               "missing": high - low + 1 - len(counters)}  # fmt: skip


def _gap(gap: Gap) -> Document:
    return {"prefix": gap.prefix, "first": gap.first, "last": gap.last, "numbers": gap.numbers}


def _sheets(inquiry: Inquiry, span: tuple[int, int]) -> Iterator[Document]:
    """Yield what is odd of count sheets: one without a number, a number twice in a count, a number left out."""
    by_count: dict[tuple[str, str, str], list[tuple[str | None, str]]] = {}
    for area, count, team, sheet, ticket in inquiry.connection.execute(_SHEETS, span):
        by_count.setdefault((area, count, team), []).append((sheet, ticket))
    for (area, count, team), sheets in by_count.items():
        place = {"area": area, "count": count, "team": team or None}
        names = [sheet for sheet, _ in sheets if sheet]
        for sheet, ticket in sheets:
            if not sheet and len(sheets) > 1:
                yield {**place, "sheet": None, "ticket": ticket, "what": "no sheet number"}
            elif sheet and names.count(sheet) > 1:
                yield {**place, "sheet": sheet, "ticket": ticket, "what": "sheet number twice"}
        for sheet in _left_out(names):
            yield {**place, "sheet": sheet, "ticket": None, "what": "sheet number left out"}


def _left_out(names: list[str]) -> list[str]:
    """Return the numbers left out between the first and the last sheet of each prefix, ``A2`` between A1 and A3."""
    by_prefix: dict[str, list[int]] = {}
    for name in names:
        digits = name[len(name.rstrip("0123456789")) :]
        if digits:
            by_prefix.setdefault(name[: -len(digits)], []).append(int(digits))
    return [f"{prefix}{n}" for prefix, known in sorted(by_prefix.items())
            for n in range(min(known), max(known)) if n not in known]  # fmt: skip


def _alike(inquiry: Inquiry, span: tuple[int, int]) -> Iterator[Document]:
    """Yield pairs of tickets of one kind that read the same masses to the last digit: one event entered twice?

    Two readings at least, or a receipt, within two months: a single mass comes again by chance.
    """
    seen: dict[tuple[str, str], list[tuple[str, int]]] = {}
    for number, kind, instant, body in inquiry.connection.execute(_BODIES, span):
        said = json.loads(body)
        readings = sorted(_readings(said))
        if len(readings) > 1 or (kind == "receive" and readings):
            who = str(said.get("party") or said.get("area") or (said.get("from"), said.get("to")))
            seen.setdefault((kind, json.dumps([who, readings])), []).append((number, instant))
    for (kind, _), tickets in seen.items():
        for one, other in pairwise(tickets):
            if other[1] - one[1] > _NEAR:
                continue
            yield {"kind": kind, "ticket": one[0], "at": inquiry.text(one[1]), "other": other[0],
                   "other_at": inquiry.text(other[1])}  # fmt: skip


def _readings(said: dict[str, Any]) -> Iterator[str]:
    for side in ("lots", "in", "out"):
        for line in said.get(side) or ():
            yield from (str(line[key]) for key in ("mass", "gross") if key in line)
