"""A shipment's metal: mark against assay, what was given away, and what its making wasted.

Actual content is the lot's own determination × the mass shipped; the mark's is what was billed. Waste is traced: of
each work ticket on the way to the lot, the part of its own difference that goes with what came to the lot.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from fractions import Fraction
from typing import Any, NamedTuple

from ledger.audit.inquiry import Document, Inquiry, money_text
from ledger.audit.passages import lots_by_id, passages
from ledger.audit.purity import determined
from ledger.audit.tracing import Step, Trace, came
from ledger.audit.uncertainty import Worth, worth_of
from ledger.book.stored import composition_from
from ledger.quantities.fineness import parse_fraction_mark, per_mille_text
from ledger.quantities.mass import grams_text
from ledger.refusals import QuantityRefused, WrongUsage

#: A content is below its mark where even this many standard uncertainties more would not reach it.
COVERAGE = 2

_SHIPPED = """
    SELECT t.seq, t.number, t.instant, record.body, r.number FROM ticket AS t JOIN record ON record.seq = t.seq
    LEFT JOIN ticket AS r ON r.reverses = t.seq WHERE t.kind = 'ship' AND (t.number = ?1 OR EXISTS (
        SELECT 1 FROM line AS l JOIN lot ON lot.id = l.lot WHERE l.ticket = t.seq AND l.side = 'out'
        AND lot.number = ?1)) ORDER BY t.instant DESC, t.seq DESC"""

_LINES = """
    SELECT l.number, l.lot, lot.number, lot.layer, l.content, l.given FROM line AS l JOIN lot ON lot.id = l.lot
    WHERE l.ticket = ? AND l.side = 'out' ORDER BY l.id"""

#: Assays on the way to a lot: of the lots that its metal came through.
_ASSAYS = """
    SELECT t.number, lot.number, t.instant, json_extract(record.body, '$.method'),
           json_extract(record.body, '$.results')
    FROM ticket AS t JOIN record ON record.seq = t.seq JOIN line AS l ON l.ticket = t.seq AND l.side = 'assay'
    JOIN lot ON lot.id = l.lot WHERE t.kind = 'assay' AND t.instant <= ?2
    AND lot.id IN (SELECT value FROM json_each(?1)) AND NOT EXISTS (SELECT 1 FROM ticket AS r WHERE r.reverses = t.seq)
    GROUP BY t.seq ORDER BY t.instant DESC LIMIT 10"""


class _Line(NamedTuple):
    number: int
    lot: int
    name: str
    layer: str | None
    content: list[int]
    billed: list[int]


def shipment_document(inquiry: Inquiry, asked: str) -> Document:
    """Return a shipment by its ticket, or the last one of a lot; raises WrongUsage where there is none."""
    if inquiry.index == 0:
        mend = "give one of " + ", ".join(inquiry.facts.metals)
        raise WrongUsage("a mark speaks of fine metal", mend, field="--metal")
    rows = inquiry.connection.execute(_SHIPPED, (asked,)).fetchall()
    standing = [row for row in rows if row[4] is None]
    if not standing:
        raise WrongUsage(f"nothing was shipped as {asked[:64]!r}", "give a ship ticket, or a lot that was shipped",
                         field="TICKET")  # fmt: skip
    seq, number, instant, body, _ = standing[0]
    said = json.loads(body)
    worth = worth_of(inquiry, seq, instant)
    every = passages(inquiry.connection, inquiry.index)
    lines = [_Line(n, lot, name, layer, json.loads(content), json.loads(given or content))
             for n, lot, name, layer, content, given in inquiry.connection.execute(_LINES, (seq,))]  # fmt: skip
    return {
        "metal": inquiry.metal, "ticket": number, "at": inquiry.text(instant), "party": said["party"],
        "terms": said["terms"], "by": said["by"], "witness": said.get("witness"), "currency": inquiry.facts.currency,
        "lots": [_lot(inquiry, line, said["lots"][line.number - 1], worth.lines if worth else [], instant,
                      came(every, line.lot)) for line in lines],
    }  # fmt: skip


def _lot(inquiry: Inquiry, line: _Line, said: dict[str, Any], worth: Sequence[Worth], instant: int, way: Trace
         ) -> Document:  # fmt: skip
    index = inquiry.index
    content, billed, mass = line.content[index], line.billed[index], line.content[0]
    own = next((w for w in worth if w.line.lot == line.lot and w.line.side == "out"), None)
    u = own.u_content if own else 0.0
    return {
        "lot": line.name, "gross": grams_text(mass), "contents": inquiry.grams(line.content),
        "fine": grams_text(content), "u_fine": round(u / 10**9, 9), "fineness": _per_mille(content, mass),
        "billed_as": said.get("billed"), "billed": grams_text(billed), "billed_fineness": _per_mille(billed, mass),
        "given_away": grams_text(content - billed), "verdict": _verdict(inquiry, content, billed, u, said),
        **_ratio(inquiry, line, said), "determination": determined(inquiry, line.name, instant),
        "assays": _assays(inquiry, way, instant), **_waste(inquiry, way, line, instant),
        "value": money_text(inquiry.value(line.content, instant)),
    }  # fmt: skip


def _per_mille(fine: int, mass: int) -> str | None:
    return per_mille_text(Fraction(fine, mass)) if mass else None


def _speaks(inquiry: Inquiry, said: dict[str, Any]) -> bool:
    """Return whether what a line is billed as says something of the metal; a bare mark is of the plant's first."""
    billed = said.get("billed")
    return inquiry.metal in billed if isinstance(billed, dict) else bool(billed) and inquiry.index == 1


def _verdict(inquiry: Inquiry, content: int, billed: int, u: float, said: dict[str, Any]) -> str:
    """Return whether the mark is met, surely or not, by the content's own uncertainty."""
    if not _speaks(inquiry, said):
        return f"of {inquiry.metal} nothing is stated: billed as weighed"
    if abs(content - billed) <= COVERAGE * u:
        return "not told apart from the mark"
    return "met" if content > billed else "not met"


def _ratio(inquiry: Inquiry, line: _Line, said: dict[str, Any]) -> Document:
    """Return the layer's share of the weight, by content ÷ mass ÷ the layer's fineness, against the mark's.

    By the marked metal alone: bonding medium holds others, which are no part of the layer.
    """
    index = inquiry.index
    nothing = {"layer_fineness": None, "layer_share": None, "mark_share": None}
    if not line.layer or not line.content[0] or not _speaks(inquiry, said):
        return nothing
    layer = composition_from(line.layer)[index]
    if not layer:
        return nothing
    share = Fraction(line.content[index], line.content[0]) / layer
    billed = said["billed"]
    try:
        mark = parse_fraction_mark(billed if isinstance(billed, str) else "")[0]
    except QuantityRefused:
        mark = None
    return {"layer_fineness": per_mille_text(layer), "layer_share": round(float(share), 6),
            "mark_share": None if mark is None else str(mark)}  # fmt: skip


def _assays(inquiry: Inquiry, way: Trace, instant: int) -> list[Document]:
    """Return the latest assays on the way to the lot, nearest first."""
    lots = {part.node for step in way.steps for part in step.outs if part.traced and not isinstance(part.node, str)}
    rows = inquiry.connection.execute(_ASSAYS, (json.dumps(sorted(lots)), instant))
    return [
        {"ticket": number, "lot": lot, "at": inquiry.text(at), "method": method,
         "results": (json.loads(results) if results else {}).get(inquiry.metal)}
        for number, lot, at, method, results in rows
    ]


def _waste(inquiry: Inquiry, way: Trace, line: _Line, instant: int) -> Document:
    """Return the part of the work tickets' losses that goes with what was shipped of the lot, by operation."""
    part = line.content[inquiry.index] / way.content if way.content else 0.0
    by_operation: dict[str, float] = {}
    for step in way.steps:
        lost = _lost(step)
        if lost:
            operation = step.passage.operation or step.passage.kind
            by_operation[operation] = by_operation.get(operation, 0.0) + part * lost
    whole = sum(by_operation.values())
    price = inquiry.price(inquiry.metal, instant)
    names = lots_by_id(inquiry.connection)
    sources: dict[tuple[str, str], float] = {}
    for (what, where, _, node), ng in way.ends.items():
        key = (f"{what} {where}".strip(), node if isinstance(node, str) else names[node][0])
        sources[key] = sources.get(key, 0.0) + part * ng
    return {
        "waste": grams_text(round(whole)), "waste_value": money_text(None if price is None else round(whole) * price),
        "waste_by_operation": {o: grams_text(round(ng)) for o, ng in sorted(by_operation.items())},
        "made_of": [{"what": what, "lot": lot, "fine": grams_text(round(ng))} for (what, lot), ng in
                    sorted(sources.items(), key=lambda each: -each[1])],
    }  # fmt: skip


def _lost(step: Step) -> float:
    """Return what of a work ticket's loss goes with what came to the lot: in proportion to its outputs."""
    if step.passage.kind != "work":
        return 0.0
    outs = [part for part in step.outs if not isinstance(part.node, str)]
    whole, traced = sum(part.content for part in outs), sum(part.traced for part in outs)
    dust = sum(part.content for part in step.outs if isinstance(part.node, str))
    return dust * traced / whole if whole else 0.0
