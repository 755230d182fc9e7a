"""Rolling a count forward: what was counted, what tickets did since, and what the book then has."""

from __future__ import annotations

from dataclasses import dataclass, field

from ledger.audit.inquiry import Document, Inquiry
from ledger.book.holdings import TICKET_STANDS
from ledger.quantities.mass import grams_text

_LAST = f"""
    SELECT c.area, t.number, t.instant, max(t.seq) FROM count_sheet AS c JOIN ticket AS t ON t.seq = c.ticket
    WHERE c.ended = 1 AND t.instant <= ?1 AND {TICKET_STANDS.format('t')}
    AND t.instant = (SELECT max(u.instant) FROM count_sheet AS d JOIN ticket AS u ON u.seq = d.ticket
        WHERE d.area = c.area AND d.ended = 1 AND u.instant <= ?1 AND {TICKET_STANDS.format('u')}) GROUP BY c.area"""

_PLACES = """
    SELECT p.area, p.ticket, t.kind, p.instant, sum(p.ng) FROM posting AS p JOIN ticket AS t ON t.seq = p.ticket
    WHERE p.class = 'place' AND p.metal = ? AND p.instant <= ? GROUP BY p.area, p.ticket, p.instant, p.ng > 0"""


@dataclass(slots=True)
class _Roll:
    """An area: what stood after its last count, and by kind of ticket since: tickets, in, out."""

    counted: int = 0
    closing: int = 0
    kinds: dict[str, tuple[set[int], int, int]] = field(default_factory=dict)


def rolled_forward(inquiry: Inquiry, instant: int) -> Document:
    """Return, for each area, its last ended count up to an instant and the way from there to it.

    ``counted`` is what stood right after the count; counted + in − out is the closing, to the nanogram. An area that
    was never counted is rolled from nothing.
    """
    last = {area: (number, at, seq) for area, number, at, seq in inquiry.connection.execute(_LAST, (instant,))}
    rolls: dict[str, _Roll] = {}
    for area, ticket, kind, at, ng in inquiry.connection.execute(_PLACES, (inquiry.metal, instant)):
        roll = rolls.setdefault(area, _Roll())
        roll.closing += ng
        count = last.get(area)
        if count is not None and (at, ticket) <= count[1:]:
            roll.counted += ng
        else:
            tickets, came, left = roll.kinds.get(kind, (set(), 0, 0))
            roll.kinds[kind] = (tickets | {ticket}, came + max(ng, 0), left + max(-ng, 0))
    areas = [_area(inquiry, area.code, last.get(area.code), rolls.get(area.code, _Roll()))
             for area in inquiry.setups.at(instant).area]  # fmt: skip
    return {"metal": inquiry.metal, "at": inquiry.text(instant), "areas": areas}


def _area(inquiry: Inquiry, area: str, count: tuple[str, int, int] | None, roll: _Roll) -> Document:
    kinds = [
        {"kind": kind, "tickets": len(tickets), "in": grams_text(came), "out": grams_text(left)}
        for kind, (tickets, came, left) in sorted(roll.kinds.items())
    ]
    return {
        "area": area, "count": count and count[0], "counted_at": count and inquiry.text(count[1]),
        "counted": grams_text(roll.counted) if count else None, "by_kind": kinds,
        "tickets": sum(k["tickets"] for k in kinds),
        "in": grams_text(sum(came for _, came, _ in roll.kinds.values())),
        "out": grams_text(sum(left for _, _, left in roll.kinds.values())), "closing": grams_text(roll.closing),
    }  # fmt: skip
