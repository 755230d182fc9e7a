"""Registered tares: how old each is, and how many weighings rest on it."""

from __future__ import annotations

import json
from typing import NamedTuple

from ledger.audit.inquiry import Document, Inquiry
from ledger.audit.weighed import tared
from ledger.book.holdings import TICKET_STANDS

_BODIES = f"""
    SELECT t.number, t.instant, record.body FROM ticket AS t JOIN record ON record.seq = t.seq
    WHERE t.instant BETWEEN ? AND ? AND instr(record.body, '"container"') > 0 AND {TICKET_STANDS.format('t')}
    ORDER BY t.instant, t.seq"""


class _Use(NamedTuple):
    ticket: str
    instant: int


def tares_document(inquiry: Inquiry, period: str | None) -> Document:
    """Return each container with its tare, its age at the span's end, and the weighings that took it off."""
    span = inquiry.span(period)
    uses: dict[str, list[_Use]] = {}
    for number, instant, body in inquiry.connection.execute(_BODIES, span):
        said = json.loads(body)
        for line in (*(said.get("lots") or ()), *(said.get("in") or ()), *(said.get("out") or ())):
            if line.get("container"):
                uses.setdefault(line["container"], []).append(_Use(number, instant))
    rows = []
    for container in inquiry.setups.at(span[1]).container:
        own = uses.pop(container.code, [])
        last = own[-1] if own else None
        rows.append({**tared(inquiry, container, span[1]), "weighings": len(own), "last_ticket": last and last.ticket,
                     "last_at": last and inquiry.text(last.instant)})  # fmt: skip
    return {"period": period, "containers": rows, "unregistered": sorted(uses)}
