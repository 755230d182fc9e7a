"""How the fineness of what is on hand is known, lot by lot: basis, method, laboratory, date, samples, replicates."""

from __future__ import annotations

import json
from fractions import Fraction
from typing import Any

from ledger.audit.inquiry import Document, Inquiry, share
from ledger.book.holdings import Held, stock
from ledger.quantities.fineness import per_mille_text
from ledger.quantities.mass import grams_text

#: From the poorest to the best: what a content rests on.
BASES = ("measured", "calculated", "nominal", "estimated")

_DETERMINED = """
    SELECT d.id, d.basis, d.method, d.composition, d.sd, t.number, t.instant, t.kind, record.body, v.origin
    FROM lot JOIN valuation AS v ON v.lot = lot.id JOIN ticket AS t0 ON t0.seq = v.ticket
    JOIN determination AS d ON d.id = v.determination JOIN ticket AS t ON t.seq = d.ticket
    JOIN record ON record.seq = d.ticket
    WHERE lot.number = ?1 AND (?2 IS NULL OR t0.instant <= ?2) ORDER BY v.id DESC LIMIT 1"""

#: The determinations that a calculated one was calculated from, to the last: their basis, and how many. What holds none
#: of the metal is left out: base metal holds none by kind, and no assay stands behind it.
_RESTS_ON = """
    WITH RECURSIVE behind (id) AS (
        SELECT source FROM derivation WHERE determination = ?
        UNION SELECT n.source FROM derivation AS n JOIN behind ON n.determination = behind.id)
    SELECT d.basis, count(*) FROM behind JOIN determination AS d ON d.id = behind.id
    WHERE d.basis <> 'calculated' AND json_extract(d.composition, ?) <> '0' GROUP BY d.basis"""


def purity_document(inquiry: Inquiry, instant: int | None, area: str | None) -> Document:
    """Return each lot on hand with how its fineness is known, and what share of the content rests on what."""
    held = stock(inquiry.connection, inquiry.facts, area, instant)
    rows = [_lot(inquiry, each, instant) for each in held]
    sums = {basis: sum(h.amounts[inquiry.index] for h in held if h.basis == basis) for basis in BASES}
    whole = sum(h.amounts[inquiry.index] for h in held)
    return {
        "metal": inquiry.metal, "at": instant and inquiry.text(instant), "area": area,
        "by_basis": [{"basis": b, "lots": sum(h.basis == b for h in held), "fine": grams_text(ng),
                      "share": share(ng, whole)} for b, ng in sums.items()],
        "fine": grams_text(whole), "lots": rows,
    }  # fmt: skip


def _lot(inquiry: Inquiry, held: Held, instant: int | None) -> Document:
    row = {"area": held.area, "lot": held.described.lot, "what": held.described.what,
           "gross": grams_text(held.amounts[0]), "fine": grams_text(held.amounts[inquiry.index])}  # fmt: skip
    return {**row, **determined(inquiry, held.described.lot, instant)}


def determined(inquiry: Inquiry, lot: str, instant: int | None = None) -> Document:
    """Return how a lot's fineness is known, now or at an instant; all null where it is not."""
    found = inquiry.connection.execute(_DETERMINED, (lot, instant)).fetchone()
    nothing = ("basis", "method", "laboratory", "fineness", "ticket", "at", "kind", "samples", "determinations")
    if found is None:
        return {**dict.fromkeys(nothing), "rests_on": {}}
    id_, basis, method, composition, sd, ticket, at, kind, body, origin = found
    known = inquiry.setups.at(at).methods.get(method or "")
    samples = _results(json.loads(body), kind, lot).get(inquiry.metal, [])
    behind = inquiry.connection.execute(_RESTS_ON, (id_, f"$[{inquiry.index}]")) if basis == "calculated" else ()
    fineness = Fraction(json.loads(composition)[inquiry.index]) if inquiry.index else None
    return {
        "basis": "estimated" if origin is not None and basis != "measured" else basis, "method": method,
        "laboratory": known.laboratory if known else None,
        "fineness": None if fineness is None else per_mille_text(fineness), "sd": sd, "ticket": ticket,
        "at": inquiry.text(at), "kind": kind, "samples": len(samples) or None,
        "determinations": sum(map(len, samples)) or None, "rests_on": dict(behind),
    }  # fmt: skip


def _results(body: dict[str, Any], kind: str, lot: str) -> dict[str, list[list[str]]]:
    if kind == "assay":
        return body.get("results") or {}
    own: dict[str, Any] = next((line for line in body.get("lots") or () if line.get("lot") == lot), {})
    return own.get("results") or {}
