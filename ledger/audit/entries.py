"""Entries that an auditor reads first: reversals, late paper, after a close, at odd hours, and round numbers."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import Any

from ledger.audit.bounds import binomial_at_most
from ledger.audit.inquiry import Document, Inquiry
from ledger.plant.calendar import DAY

#: An hour of the clock in which fewer than this share of a book's tickets fall is an odd one.
ODD_SHARE = 0.005

#: Probability below which round readings on a scale, or by a person, are more than chance would bring.
ODDS = 0.001

#: Days after which a ticket was recorded late. Common practice, no source.
TWO_DAYS = 2

#: Readings below this number say nothing of round numbers.
FEW = 50

_REVERSALS = """
    SELECT t.number, t.instant, record.body, o.number, o.kind, o.instant, r.body, c.number, t.seq - o.seq
    FROM ticket AS t JOIN record ON record.seq = t.seq JOIN ticket AS o ON o.seq = t.reverses
    JOIN record AS r ON r.seq = o.seq LEFT JOIN ticket AS c ON c.corrects = o.seq
    WHERE t.instant BETWEEN ? AND ? ORDER BY t.instant, t.seq"""

#: A ticket dated before one recorded earlier, by how much; reversals and corrections are late by nature.
_LATE = """
    SELECT number, kind, instant, behind, body FROM (
        SELECT t.seq, t.number, t.kind, t.instant, t.reverses, t.corrects, record.body,
               max(t.instant) OVER (ORDER BY t.seq ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING) AS behind
        FROM ticket AS t JOIN record ON record.seq = t.seq WHERE t.kind <> 'close')
    WHERE instant BETWEEN ? AND ? AND behind > instant AND reverses IS NULL AND corrects IS NULL
    ORDER BY behind - instant DESC"""

_AFTER_CLOSE = """
    SELECT t.number, t.kind, t.instant, t.period, c.period, record.body, record.recorded_at
    FROM ticket AS t JOIN record ON record.seq = t.seq LEFT JOIN ticket AS o ON o.seq = t.reverses
    JOIN close AS c ON c.seq < t.seq AND c.ends = (SELECT min(d.ends) FROM close AS d
        WHERE d.ends > min(t.instant, coalesce(o.instant, t.instant)))
    WHERE t.kind <> 'close' ORDER BY t.seq"""

#: What was recorded at a time before the record before it: the computer's clock was put back in between.
_CLOCK_BACK = """
    SELECT t.number, r.seq, r.recorded_at, r.before FROM (
        SELECT seq, recorded_at, lag(recorded_at) OVER (ORDER BY seq) AS before FROM record) AS r
    LEFT JOIN ticket AS t USING (seq) WHERE r.recorded_at < r.before ORDER BY r.seq"""

_ALL = """
    SELECT t.number, t.kind, t.instant, record.body, record.recorded_at
    FROM ticket AS t JOIN record ON record.seq = t.seq
    WHERE t.instant BETWEEN ? AND ? AND t.kind <> 'close' ORDER BY t.instant, t.seq"""


def entries_document(inquiry: Inquiry, period: str | None) -> Document:
    """Return the entries of a period, or of all, that deserve a look, each with its reason and its hands."""
    span = inquiry.span(period)
    rows = inquiry.connection.execute(_ALL, span).fetchall()
    tickets = [(number, kind, instant, json.loads(body)) for number, kind, instant, body, _ in rows]
    reversals = [_reversal(inquiry, row) for row in inquiry.connection.execute(_REVERSALS, span)]
    odd, hours = _odd_hours(inquiry, tickets)
    return {
        "period": period, "tickets": len(tickets), "reversals": reversals,
        "reversed_by": _by_person(r["by"] for r in reversals),
        "recorded": _recorded(inquiry, [(number, instant, at) for number, _, instant, _, at in rows]),
        "late": [_late(inquiry, row) for row in inquiry.connection.execute(_LATE, span)],
        "clock_back": [dict(zip(("ticket", "record", "recorded_at", "before"), row, strict=True))
                       for row in inquiry.connection.execute(_CLOCK_BACK)],
        "after_close": list(_after_close(inquiry)), "hours": hours, "odd_hours": odd,
        "round": list(_round_numbers(tickets)),
    }  # fmt: skip


def _by_person(codes: Iterator[str | None]) -> list[Document]:
    return [{"person": code, "times": n} for code, n in Counter(c or "" for c in codes).most_common()]


def _reversal(inquiry: Inquiry, row: Sequence[Any]) -> Document:
    number, _, body, of, kind, at, original, corrected_by, later = row
    said, first = json.loads(body), json.loads(original)
    return {"ticket": number, "of": of, "kind": kind, "of_at": inquiry.text(at), "recorded_later": later,
            "by": said.get("by"), "of_by": first.get("by"), "corrected_by": corrected_by, "reason": said.get("reason"),
            "said_at": said.get("at")}  # fmt: skip


def _recorded(inquiry: Inquiry, rows: Sequence[tuple[str, int, str]]) -> Document:
    """Return how long after their date tickets were recorded: how many later than two days, and the latest of all."""
    delays = [((datetime.fromisoformat(at).timestamp() * 1e6 - instant) / DAY, number) for number, instant, at in rows]
    days, number = max(delays, default=(0.0, None))
    return {"later_than_two_days": sum(d > TWO_DAYS for d, _ in delays), "most_days": round(days, 2), "ticket": number,
            "at_once": max(Counter(at[:16] for *_, at in rows).values(), default=0)}  # fmt: skip


def _late(inquiry: Inquiry, row: Sequence[Any]) -> Document:
    number, kind, instant, behind, body = row
    return {"ticket": number, "kind": kind, "at": inquiry.text(instant), "by": json.loads(body).get("by"),
            "hours": round((behind - instant) / 3.6e9, 2)}  # fmt: skip


def _after_close(inquiry: Inquiry) -> Iterator[Document]:
    """Yield what was recorded of a period after it was closed; it counts in the open one, as prior period."""
    for number, kind, instant, counts, closed, body, recorded_at in inquiry.connection.execute(_AFTER_CLOSE):
        said = json.loads(body)
        yield {"ticket": number, "kind": kind, "at": inquiry.text(instant), "closed": closed, "counts_in": counts,
               "by": said.get("by"), "reason": said.get("reason"), "recorded_at": recorded_at}  # fmt: skip


# ---------------------------------------------------------------------------------------------------------- odd hours


def _odd_hours(inquiry: Inquiry, tickets: Sequence[tuple[str, str, int, dict[str, Any]]]
               ) -> tuple[list[Document], list[int]]:  # fmt: skip
    """Return the tickets in hours of the clock, or on days of the week, that hardly any other ticket falls in."""
    walls = [datetime.fromisoformat(said["at"]) for *_, said in tickets]
    hours, days = Counter(w.hour for w in walls), Counter(w.weekday() for w in walls)
    few = max(1.0, ODD_SHARE * len(tickets))
    odd = []
    for (number, kind, instant, said), wall in zip(tickets, walls, strict=True):
        why = [f"{wall:%H} h"] if hours[wall.hour] < few else []
        why += [f"{wall:%A}"] if days[wall.weekday()] < few else []
        if why:
            odd.append({"ticket": number, "kind": kind, "at": inquiry.text(instant), "by": said.get("by"),
                        "why": ", ".join(why)})  # fmt: skip
    return odd, [hours[h] for h in range(24)]


# ------------------------------------------------------------------------------------------------------ round numbers


def _round_numbers(tickets: Sequence[tuple[str, str, int, dict[str, Any]]]) -> Iterator[Document]:
    """Yield for each scale, and each person, how many readings end in two zeros, and how likely so many are.

    The last two digits written are taken as even over a hundred values: one in a hundred is two zeros. A lot that reads
    the same again says nothing new.
    """
    found: dict[tuple[str, str], list[bool]] = {}
    seen: set[tuple[str, str]] = set()
    for *_, said in tickets:
        for line in (*(said.get("lots") or ()), *(said.get("in") or ()), *(said.get("out") or ())):
            reading = line.get("gross") or line.get("mass")
            which = (line.get("lot") or line.get("bin") or "", reading or "")
            digits = which[1].partition(" ")[0].replace(".", "")
            if reading and line.get("scale") and len(digits) > 2 and which not in seen:
                seen.add(which)
                for key in (("scale", line["scale"]), ("person", said.get("by", ""))):
                    found.setdefault(key, []).append(digits.endswith("00"))
    for (what, code), values in sorted(found.items()):
        n, twos = len(values), sum(values)
        chance = 1 - binomial_at_most(twos - 1, n, 0.01) if twos else 1.0
        yield {"of": what, "code": code, "readings": n, "round": twos, "expected": round(n / 100, 2),
               "p": float(f"{chance:.6g}"), "more_than_chance": n >= FEW and chance < ODDS}  # fmt: skip
