"""A loss as a dated chain: what is known of it, when metal was last seen and first missed, and by which evidence.

Insurance of property often leaves out what only a count shows to be missing; so what rests on a count, and what on
other evidence (a weighing, an arrival, an assay, a settlement, a clean-out), is told apart. Facts of the record, no
finding; what a policy asks for is for counsel and insurer to say.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

from ledger.audit.inquiry import Document, Inquiry
from ledger.balance.daily.ticket_numbers import Numbers
from ledger.quantities.mass import grams_text

#: Kinds whose evidence is the taking of stock itself.
COUNTS = ("count",)

_SINGLES = """
    SELECT t.seq, t.number, t.kind, t.instant, p.area, p.origin, p.line, sum(p.ng), w.seq IS NOT NULL,
           json_extract(record.body, '$.by'), json_extract(record.body, '$.witness')
    FROM posting AS p JOIN ticket AS t ON t.seq = p.ticket JOIN record ON record.seq = t.seq
    LEFT JOIN ticket AS w ON w.reverses = t.seq
    WHERE p.class = 'difference' AND p.metal = ?1 AND t.instant BETWEEN ?2 AND ?3 AND +t.reverses IS NULL
    AND p.origin NOT IN ('take_on', 'write-off', 'close', 'shortfall') AND (?4 IS NULL OR p.area = ?4)
    GROUP BY t.seq, p.area, p.origin, p.line HAVING abs(sum(p.ng)) >= ?5 ORDER BY t.instant, t.seq, p.line"""

_LOT_OF_LINE = """
    SELECT l.lot, lot.number FROM line AS l JOIN lot ON lot.id = l.lot
    WHERE l.ticket = ? AND l.number = ? AND l.area = ? AND l.side NOT IN ('reversed', 'revalued')
    ORDER BY l.id LIMIT 1"""

_SEEN = """
    SELECT t.number, t.kind, t.instant, l.area, l.side, l.weighed_ng IS NOT NULL, json_extract(record.body, '$.by'),
           json_extract(record.body, '$.witness')
    FROM line AS l JOIN ticket AS t ON t.seq = l.ticket JOIN record ON record.seq = t.seq
    WHERE l.lot = ?1 AND (t.instant, t.seq) < (?2, ?3) AND t.kind NOT IN ('reverse', 'assay')
    AND NOT EXISTS (SELECT 1 FROM ticket AS r WHERE r.reverses = t.seq)
    AND l.side NOT IN ('not found', 'found', 'revalued') ORDER BY t.instant DESC, t.seq DESC LIMIT 1"""

_AFTERWARDS = """
    SELECT t.number, t.kind, t.instant, l.area, l.side, json_extract(l.content, ?4) FROM line AS l
    JOIN ticket AS t ON t.seq = l.ticket
    WHERE l.lot = ?1 AND (t.instant, t.seq) > (?2, ?3) AND t.kind <> 'reverse'
    AND NOT EXISTS (SELECT 1 FROM ticket AS r WHERE r.reverses = t.seq) ORDER BY t.instant, t.seq LIMIT 5"""

_FLAGS = """
    SELECT t.number, t.kind, t.instant, f.flag, f.words, json_extract(record.body, '$.by') FROM flag AS f
    JOIN ticket AS t ON t.seq = f.ticket JOIN record ON record.seq = t.seq
    WHERE t.instant BETWEEN ?1 AND ?2 AND NOT EXISTS (SELECT 1 FROM ticket AS r WHERE r.reverses = t.seq)
    AND (?3 IS NULL OR EXISTS (SELECT 1 FROM line AS l WHERE l.ticket = t.seq AND l.area = ?3)
        OR (f.flag = 'out of control' AND EXISTS (SELECT 1 FROM checked AS c JOIN line AS x ON x.scale = c.scale
            WHERE c.ticket = t.seq AND x.area = ?3)))
    ORDER BY t.instant, f.id"""

_PAPER = """
    SELECT t.number, t.kind, t.instant, json_extract(record.body, '$.by'), json_extract(record.body, '$.reason'),
           o.number
    FROM ticket AS t JOIN record ON record.seq = t.seq LEFT JOIN ticket AS o ON o.seq = t.reverses
    WHERE t.kind IN ('void', 'reverse') AND t.instant BETWEEN ?1 AND ?2 AND (?3 IS NULL OR t.kind = 'void'
        OR EXISTS (SELECT 1 FROM line AS l WHERE l.ticket = t.reverses AND l.area = ?3)) ORDER BY t.instant, t.seq"""

_DATED = "SELECT number, instant FROM ticket WHERE number IN (?, ?)"


class _Single(NamedTuple):
    seq: int
    ticket: str
    kind: str
    instant: int
    area: str
    origin: str
    line: int
    ng: int
    reversed_: int
    by: str | None
    witness: str | None


def event_document(inquiry: Inquiry, span: tuple[int, int], area: str | None, least: int) -> Document:
    """Return the chain of a span: each difference of at least so many ng, lot by lot, and what else was on record."""
    rows = inquiry.connection.execute(_SINGLES, (inquiry.metal, *span, area, least))
    singles = [_Single._make(row) for row in rows]
    standing = [s for s in singles if not s.reversed_]
    chain = [*(_difference(inquiry, s) for s in singles), *_beside(inquiry, span, area)]
    return {
        "metal": inquiry.metal, "from": inquiry.text(span[0]), "to": inquiry.text(span[1]), "area": area,
        "least": grams_text(least), "events": [_event(inquiry, s) for s in standing],
        "missing": grams_text(sum(s.ng for s in standing if s.ng > 0)),
        "recovered": grams_text(-sum(s.ng for s in standing if s.ng < 0)),
        "by_count_alone": grams_text(sum(s.ng for s in standing if s.kind in COUNTS)),
        "entries": sorted(chain, key=lambda entry: (entry["at"], entry["ticket"] or "")),
    }  # fmt: skip


def _difference(inquiry: Inquiry, single: _Single) -> Document:
    what = f"{single.origin}: {'missing' if single.ng > 0 else 'more than recorded'}"
    return {"at": inquiry.text(single.instant), "ticket": single.ticket, "kind": single.kind, "area": single.area,
            "lot": _lot(inquiry, single)[1], "what": what + (", reversed since" if single.reversed_ else ""),
            "mass": grams_text(single.ng), "by": single.by, "evidence": _evidence(single)}  # fmt: skip


def _evidence(single: _Single) -> str:
    """Return what shows it: the count, or what else."""
    if single.kind in COUNTS:
        return "count"
    by_origin = {"reweighing": "weighing", "transfer": "two weighings", "work": "work"}
    return by_origin.get(single.origin, single.kind)


def _lot(inquiry: Inquiry, single: _Single) -> tuple[int | None, str | None]:
    found = inquiry.connection.execute(_LOT_OF_LINE, (single.seq, single.line, single.area)).fetchone()
    return found if found else (None, None)


def _event(inquiry: Inquiry, single: _Single) -> Document:
    """Return one difference with when its lot was last seen before, and what happened to the lot afterwards."""
    lot, number = _lot(inquiry, single)
    seen, later = None, []
    if lot is not None:
        row = inquiry.connection.execute(_SEEN, (lot, single.instant, single.seq)).fetchone()
        seen = _seen(inquiry, row) if row else None
        after = inquiry.connection.execute(_AFTERWARDS, (lot, single.instant, single.seq, f"$[{inquiry.index}]"))
        later = [{"ticket": n, "kind": k, "at": inquiry.text(i), "area": a, "side": s, "fine": grams_text(ng)}
                 for n, k, i, a, s, ng in after]  # fmt: skip
    return {
        "area": single.area, "lot": number, "mass": grams_text(single.ng), "last_seen": seen,
        "first_missed": {"ticket": single.ticket, "kind": single.kind, "at": inquiry.text(single.instant),
                         "by": single.by, "witness": single.witness},
        "evidence": _evidence(single), "afterwards": later,
        "found_again": any(step["side"] == "found" for step in later),
    }  # fmt: skip


def _seen(inquiry: Inquiry, row: Sequence[Any]) -> Document:
    number, kind, instant, area, side, weighed, by, witness = row
    return {"ticket": number, "kind": kind, "at": inquiry.text(instant), "area": area, "side": side,
            "weighed": bool(weighed), "by": by, "witness": witness}  # fmt: skip


def _beside(inquiry: Inquiry, span: tuple[int, int], area: str | None) -> Iterator[Document]:
    """Yield what else the record has of the span: flags, spoiled and missing numbers, reversals."""
    nothing = {"area": None, "lot": None, "mass": None, "evidence": None}
    for number, kind, instant, flag, words, by in inquiry.connection.execute(_FLAGS, (*span, area)):
        yield {"at": inquiry.text(instant), "ticket": number, "kind": kind, **nothing, "what": f"{flag}: {words}",
               "by": by}  # fmt: skip
    for number, kind, instant, by, reason, of in inquiry.connection.execute(_PAPER, (*span, area)):
        what = f"reverses {of}: {reason}" if of else f"numbers spoiled: {reason}"
        yield {"at": inquiry.text(instant), "ticket": number, "kind": kind, **nothing, "what": what, "by": by}
    yield from _missing_numbers(inquiry, span)


def _missing_numbers(inquiry: Inquiry, span: tuple[int, int]) -> Iterator[Document]:
    numbers = Numbers(inquiry.connection, span[1])
    for gap in numbers.gaps():
        counters = sorted(numbers.used[gap.prefix])
        first = int(gap.first.removeprefix(gap.prefix).split("-")[0])
        around = [max(c for c in counters if c < first), min(c for c in counters if c > first)]
        dated = dict(inquiry.connection.execute(_DATED, [numbers.used[gap.prefix][c] for c in around]))
        dates = [instant for instant in dated.values() if span[0] <= instant <= span[1]]
        if dates:
            between = " and ".join(numbers.used[gap.prefix][c] for c in around)
            yield {"at": inquiry.text(min(dates)), "ticket": gap.first, "kind": None, "area": None, "lot": None,
                   "mass": None, "evidence": None, "by": None,
                   "what": f"number missing, {gap.numbers} of them, between {between}"}  # fmt: skip
