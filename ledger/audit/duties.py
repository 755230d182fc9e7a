"""Who did what, who may, and where one person did two things that control each other. Codes only."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator
from typing import Any, NamedTuple

from ledger.audit.inquiry import Document, Inquiry
from ledger.book.holdings import TICKET_STANDS

#: What people do on tickets, in the order of columns.
DID = ("weighed", "witnessed", "worked", "counted", "ended counts", "assayed", "settled", "wrote off", "reversed",
       "closed")  # fmt: skip

#: Rights that should not meet in one person: who sets rates or counts should not answer for what they hide.
_APART = (("set", "close"), ("set", "count"), ("count", "accept"))


class Act(NamedTuple):
    """One ticket that stands, or a reversal: what was done, where, and what the set-up says of the area."""

    number: str
    kind: str
    instant: int
    said: dict[str, Any]
    reverses: str | None


_ACTS = f"""
    SELECT t.number, t.kind, t.instant, record.body, r.body FROM ticket AS t JOIN record ON record.seq = t.seq
    LEFT JOIN record AS r ON r.seq = t.reverses
    WHERE t.instant BETWEEN ? AND ? AND (t.reverses IS NOT NULL OR ({TICKET_STANDS.format('t')}))
    ORDER BY t.instant, t.seq"""

_FLAGS = """
    SELECT t.number, t.instant, f.flag, f.words FROM flag AS f JOIN ticket AS t ON t.seq = f.ticket
    WHERE t.instant BETWEEN ? AND ? AND f.flag IN ('not entitled', 'one person alone') ORDER BY t.instant, f.id"""


def duties_document(inquiry: Inquiry, period: str | None) -> Document:
    """Return what each person may do and did in a period, or in all, and the conflicts among their duties."""
    span = inquiry.span(period)
    acts = [Act(n, k, i, json.loads(b), r and json.loads(r)["by"])
            for n, k, i, b, r in inquiry.connection.execute(_ACTS, span)]  # fmt: skip
    counts: dict[str, Counter[str]] = {}
    for act in acts:
        for who, what in _done(act):
            counts.setdefault(who, Counter())[what] += 1
    persons = inquiry.setup.persons
    codes = sorted({*persons, *counts})
    return {
        "period": period,
        "people": [
            {"person": code, "may": sorted(persons[code].may) if code in persons else None,
             "keeps": [a.code for a in inquiry.setup.area if a.keeper == code],
             "did": {what: counts.get(code, Counter())[what] for what in DID}}
            for code in codes
        ],
        "conflicts": list(_conflicts(inquiry, acts)), "rights": list(_rights(inquiry)),
        "not_entitled": [
            {"ticket": n, "at": inquiry.text(i), "flag": flag, "words": words}
            for n, i, flag, words in inquiry.connection.execute(_FLAGS, span)
        ],
        "without_witness": dict(sorted(Counter(
            act.kind for act in acts if act.kind in ("receive", "ship", "discard", "move", "sweep")
            and not act.said.get("witness")).items())),
    }  # fmt: skip


def _done(act: Act) -> Iterator[tuple[str, str]]:
    said, by = act.said, act.said.get("by")
    kinds = {"count": "counted", "assay": "assayed", "settle": "settled", "writeoff": "wrote off",
             "reverse": "reversed", "close": "closed"}  # fmt: skip
    if by:
        yield by, kinds.get(act.kind, "weighed")
        if act.kind == "count" and said.get("ended", True) and not said.get("spot"):
            yield by, "ended counts"
    if said.get("witness"):
        yield said["witness"], "witnessed"
    if act.kind == "close" and said.get("with"):
        yield said["with"], "closed"
    for worker in said.get("workers") or ():
        yield worker, "worked"


def _conflicts(inquiry: Inquiry, acts: list[Act]) -> Iterator[Document]:
    """Yield each sort of conflict, by person, with how often it was and the first and last ticket."""
    found: dict[tuple[str, str], list[Act]] = {}
    weighed: dict[str, set[str]] = {}
    for act in acts:
        for what, who in _crossing(inquiry, act, weighed):
            found.setdefault((what, who), []).append(act)
        for line in (act.said.get("lots") or ()) if act.kind == "sweep" else act.said.get("out") or ():
            weighed.setdefault(line.get("lot") or "", set()).update((act.said["by"], *(act.said.get("workers") or ())))
    for (what, who), own in sorted(found.items()):
        yield {"what": what, "person": who, "times": len(own), "first": own[0].number, "last": own[-1].number,
               "first_at": inquiry.text(own[0].instant), "last_at": inquiry.text(own[-1].instant)}  # fmt: skip


def _crossing(inquiry: Inquiry, act: Act, weighed: dict[str, set[str]]) -> Iterator[tuple[str, str]]:
    said, by = act.said, act.said.get("by", "")
    area = inquiry.setups.at(act.instant).areas.get(said.get("area", ""))
    keeper = area.keeper if area else None
    if act.kind == "count" and keeper:
        if by == keeper:
            yield "counted the area they keep", by
        if said.get("witness") == keeper:
            yield "witnessed the count of the area they keep", keeper
    if act.kind == "assay" and by in weighed.get(said.get("lot", ""), set()):
        yield "assayed a lot that they made", by
    if act.kind == "writeoff" and keeper == by:
        yield "wrote off in the area they keep", by
    if act.kind == "reverse" and act.reverses == by:
        yield "reversed a ticket of their own", by
    if said.get("witness") and said["witness"] in (said.get("workers") or ()):
        yield "witnessed work that they did", said["witness"]


def _rights(inquiry: Inquiry) -> Iterator[Document]:
    for person in inquiry.setup.person:
        for one, other in _APART:
            if {one, other} <= person.may:
                yield {"person": person.code, "rights": [one, other]}
        if "count" in person.may and any(a.keeper == person.code for a in inquiry.setup.area):
            yield {"person": person.code, "rights": ["keep", "count"]}
