"""Cut-off: the last and the first numbers around a period's end, and what was on its way, in work or missing then."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

from ledger.audit.inquiry import Document, Inquiry
from ledger.balance.daily.exceptions import aged_jobs, day_of, sent
from ledger.book.holdings import TICKET_STANDS
from ledger.book.tickets.common import split_number
from ledger.quantities.mass import grams_text

#: Kinds that carry metal over a border, and how many of each are shown on both sides of the end.
KINDS = ("receive", "ship", "settle", "move", "arrive", "discard")
SHOWN = 3

_AROUND = f"""
    SELECT t.number, t.kind, t.instant, record.body,
           (SELECT sum(json_extract(l.content, ?4)) FROM line AS l
            WHERE l.ticket = t.seq AND l.side IN ('out', 'receive')),
           (SELECT sum(json_extract(l.content, ?4)) FROM line AS l WHERE l.ticket = t.seq AND l.side = 'in')
    FROM ticket AS t JOIN record ON record.seq = t.seq
    WHERE t.kind = ?1 AND t.instant {{side}} ?2 AND {TICKET_STANDS.format('t')}
    ORDER BY t.instant {{way}}, t.seq {{way}} LIMIT ?3"""

_NUMBERS = """
    SELECT number, instant, kind FROM ticket WHERE kind <> 'close' AND reverses IS NULL AND corrects IS NULL
    AND NOT EXISTS (SELECT 1 FROM ticket AS r WHERE r.reverses = ticket.seq) ORDER BY instant, seq"""

_FOUND_LATER = f"""
    SELECT lot.number, l.area, m.number, m.instant, t.number, t.kind, t.instant, json_extract(l.content, ?3)
    FROM line AS l JOIN ticket AS t ON t.seq = l.ticket JOIN lot ON lot.id = l.lot
    JOIN line AS n ON n.lot = l.lot AND n.area = l.area AND n.side = 'not found'
    JOIN ticket AS m ON m.seq = n.ticket AND m.instant BETWEEN ?1 AND ?2
    WHERE l.side = 'found' AND t.instant > ?2 AND {TICKET_STANDS.format('t')} AND {TICKET_STANDS.format('m')}
    ORDER BY t.instant"""


def cutoff_document(inquiry: Inquiry, period: str) -> Document:
    """Return the paper on both sides of a period's end, and what stood between places then."""
    start, end = inquiry.span(period)
    last_day = inquiry.setups.calendar.days_of(period)[1] - timedelta(days=1)
    day = day_of(inquiry.connection, inquiry.setups, last_day)
    assert day is not None
    return {
        "metal": inquiry.metal, "period": period, "end": inquiry.text(end), "prefixes": list(_prefixes(inquiry, end)),
        "around": [row for kind in KINDS for row in _around(inquiry, kind, end)],
        "in_transit": [
            {"lot": s.lot, "move": s.move, "from": s.from_, "to": s.to, "since": inquiry.text(s.since),
             "fine": grams_text(s.amounts[inquiry.index])}
            for s in sent(inquiry.connection, day, inquiry.metals)
        ],
        "open_jobs": [
            {"job": j.job, "area": j.area, "operation": j.operation, "since": inquiry.text(j.since),
             "fine": grams_text(j.amounts[inquiry.index])}
            for j in aged_jobs(inquiry.connection, day, inquiry.metals)
        ],
        "found_later": [
            {"lot": lot, "area": area, "count": count, "missed_at": inquiry.text(missed), "ticket": ticket,
             "kind": kind, "at": inquiry.text(at), "fine": grams_text(ng)}
            for lot, area, count, missed, ticket, kind, at, ng in inquiry.connection.execute(
                _FOUND_LATER, (start, end, f"$[{inquiry.index}]"))
        ],
    }  # fmt: skip


def _around(inquiry: Inquiry, kind: str, end: int) -> Iterator[Document]:
    at = f"$[{inquiry.index}]"
    before = inquiry.connection.execute(_AROUND.format(side="<=", way="DESC"), (kind, end, SHOWN, at)).fetchall()
    after = inquiry.connection.execute(_AROUND.format(side=">", way="ASC"), (kind, end, SHOWN, at)).fetchall()
    for where, rows in (("before", reversed(before)), ("after", iter(after))):
        for number, _, instant, body, out, came in rows:
            said: dict[str, Any] = json.loads(body)
            lots = [line.get("lot") or line.get("bin") for line in said.get("lots") or ()]
            yield {"side": where, "kind": kind, "ticket": number, "at": inquiry.text(instant),
                   "from": said.get("from") or said.get("area"), "to": said.get("to"), "party": said.get("party"),
                   "lots": lots, "fine": grams_text(came if out is None else out or 0)}  # fmt: skip


def _prefixes(inquiry: Inquiry, end: int) -> Iterator[Document]:
    """Yield, for each prefix, the highest number dated before the end, the lowest after it, and those that cross."""
    before: dict[str, list[tuple[int, str]]] = {}
    after: dict[str, list[tuple[int, str]]] = {}
    for number, instant, _ in inquiry.connection.execute(_NUMBERS):
        prefix, counter = split_number(number, checked=inquiry.setup.plant.check_character)
        (before if instant <= end else after).setdefault(prefix, []).append((counter, number))
    for prefix in sorted(before.keys() | after.keys()):
        last, first = max(before.get(prefix, ()), default=None), min(after.get(prefix, ()), default=None)
        crossing = []
        if last and first and first[0] < last[0]:
            crossing = sorted(number for counter, number in after[prefix] if counter < last[0])
        yield {"prefix": prefix, "last_before": last and last[1], "first_after": first and first[1],
               "lower_numbers_dated_after": crossing}  # fmt: skip
