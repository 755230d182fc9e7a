"""Changes of the set-up, key by key: who decided, who recorded, when; and who looked up names in it, by code."""

from __future__ import annotations

import json
from dataclasses import asdict
from itertools import pairwise

from ledger.audit.inquiry import Document, Inquiry
from ledger.book.looking_up import looked_up
from ledger.plant.changes import apply_change
from ledger.plant.setup import Setup

_SETUPS = """
    SELECT record.seq, v.since, record.recorded_at, record.recorded_by, record.body, v.document
    FROM setup_version AS v JOIN record ON record.seq = v.seq ORDER BY record.seq"""

_BEFORE = "SELECT count(*), max(instant) FROM ticket WHERE seq < ?"


def changes_document(inquiry: Inquiry) -> Document:
    """Return every set-up after the first, with the tickets recorded and dated before it, and every look at names."""
    rows = inquiry.connection.execute(_SETUPS).fetchall()
    changes = []
    for (*_, before), (seq, since, recorded_at, by, body, _) in pairwise(rows):
        change = json.loads(body)
        _, differences = apply_change(Setup.from_document(json.loads(before)), change)
        tickets, latest = inquiry.connection.execute(_BEFORE, (seq,)).fetchone()
        changes.append({
            "record": seq, "from": change["from"], "by": change["by"], "reason": change["reason"],
            "recorded_at": recorded_at, "recorded_by": by, "tickets_before": tickets,
            "backdated": latest is not None and since <= latest,
            "keys": [{"key": d.key, "before": d.before, "after": d.after} for d in differences],
        })  # fmt: skip
    first = rows[0] if rows else None
    return {"first": first and {"record": first[0], "recorded_at": first[2], "recorded_by": first[3]},
            "changes": changes, "looked_up": [asdict(one) for one in looked_up(inquiry.connection)]}  # fmt: skip
