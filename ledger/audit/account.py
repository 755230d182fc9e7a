"""A party's metal account over a period: opening, movements, closing, what was given away, and its terms."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from ledger.audit.inquiry import Document, Inquiry
from ledger.book.holdings import stock
from ledger.quantities.mass import grams_text
from ledger.refusals import WrongUsage

#: Accounts on which metal is ours to give back: shown with the sign turned, so that + is theirs.
THEIRS = ("deposited", "leased")

_BEFORE = """
    SELECT terms, sum(ng) FROM posting WHERE class = 'party' AND party = ? AND metal = ? AND instant < ?
    GROUP BY terms"""

_MOVES = """
    SELECT p.terms, t.number, t.kind, p.instant, sum(p.ng), record.body, o.number
    FROM posting AS p JOIN ticket AS t ON t.seq = p.ticket JOIN record ON record.seq = t.seq
    LEFT JOIN ticket AS o ON o.seq = t.reverses
    WHERE p.class = 'party' AND p.party = ?1 AND p.metal = ?2 AND p.instant BETWEEN ?3 AND ?4
    GROUP BY p.terms, t.seq, p.instant HAVING sum(p.ng) <> 0 ORDER BY p.instant, t.seq"""

_GIVEN = """
    SELECT t.number, p.instant, sum(CASE WHEN p.ng > 0 THEN p.ng ELSE 0 END),
           -sum(CASE WHEN p.ng < 0 THEN p.ng ELSE 0 END), record.body
    FROM posting AS p JOIN ticket AS t ON t.seq = p.ticket JOIN record ON record.seq = t.seq
    WHERE p.class = 'give-away' AND p.party = ?1 AND p.metal = ?2 AND p.instant BETWEEN ?3 AND ?4
    GROUP BY t.seq, p.instant ORDER BY p.instant, t.seq"""

_SUMS = """
    SELECT sum(ng) FROM posting WHERE class = ? AND party = ? AND metal = ? AND instant BETWEEN ? AND ?"""


def account_document(inquiry: Inquiry, party: str, period: str) -> Document:
    """Return a party's accounts in one metal over a period; raises WrongUsage for a party that is none.

    Deposited and leased metal is shown as the party's (+ is theirs), pool and settled as the plant's (+ is owed to the
    plant): ``sign`` says which. Opening + movements = closing, to the nanogram.
    """
    known = inquiry.setup.parties.get(party)
    if known is None:
        raise WrongUsage(f"there is no party {party[:64]!r}", "the set-up has " + ", ".join(inquiry.setup.parties),
                         field="PARTY")  # fmt: skip
    start, end = inquiry.span(period)
    key = (party, inquiry.metal)
    opening = dict(inquiry.connection.execute(_BEFORE, (*key, start)))
    moves = inquiry.connection.execute(_MOVES, (*key, start, end)).fetchall()
    terms = sorted({*opening, *(move[0] for move in moves)})
    given = [_given(inquiry, *row) for row in inquiry.connection.execute(_GIVEN, (*key, start, end))]
    retained = inquiry.connection.execute(_SUMS, ("retained", *key, start, end)).fetchone()[0] or 0
    return {
        "plant": inquiry.facts.name, "party": party, "role": known.role, "period": period, "metal": inquiry.metal,
        "from": inquiry.text(start), "to": inquiry.text(end),
        "terms": {"title": known.title, "owed": known.owed, "limit": None if known.limit is None else
                  grams_text(known.limit), "loss_allowance": str(known.loss_allowance)},
        "accounts": [_account(inquiry, t, opening.get(t, 0), [m for m in moves if m[0] == t]) for t in terms],
        "shipped": given, "given_away": _sum(given, "given_away"), "under_delivered": _sum(given, "under_delivered"),
        "retained": grams_text(retained), "allowance": _allowance(known.loss_allowance, moves),
        "segregated": [
            {"area": h.area, "lot": h.described.lot, "fine": grams_text(h.amounts[inquiry.index])}
            for h in stock(inquiry.connection, inquiry.facts, None, end if end < inquiry.last_instant() else None)
            if h.described.owner == party
        ],
    }  # fmt: skip


def _account(inquiry: Inquiry, terms: str, opening: int, moves: list[tuple[Any, ...]]) -> Document:
    sign = -1 if terms in THEIRS else 1
    closing = opening + sum(move[4] for move in moves)
    return {
        "terms": terms, "sign": "theirs" if sign < 0 else "owed to the plant", "opening": grams_text(sign * opening),
        "movements": list(_movements(inquiry, moves, sign, sign * opening)), "closing": grams_text(sign * closing),
    }  # fmt: skip


def _movements(inquiry: Inquiry, moves: list[tuple[Any, ...]], sign: int, balance: int) -> Iterator[Document]:
    for _, number, kind, instant, ng, body, reverses in moves:
        said = json.loads(body)
        balance += sign * ng
        yield {"ticket": number, "kind": kind, "at": inquiry.text(instant), "what": _what(said, kind, reverses),
               "lots": [line.get("lot") or line.get("bin") for line in said.get("lots") or ()],
               "mass": grams_text(sign * ng), "balance": grams_text(balance)}  # fmt: skip


def _what(said: dict[str, Any], kind: str, reverses: str | None) -> str:
    """Return a movement in words that the party can compare with its own paper."""
    if reverses:
        return f"reverses {reverses}: {said.get('reason', '')}".rstrip(": ")
    words = [said.get("terms") if kind in ("receive", "ship") else said.get("reason"), said.get("reference")]
    return ", ".join(str(word) for word in words if word) or kind


def _given(inquiry: Inquiry, number: str, instant: int, over: int, under: int, body: str) -> Document:
    said = json.loads(body)
    lines = said.get("lots") or ()
    return {"ticket": number, "at": inquiry.text(instant), "lots": [line.get("lot") for line in lines],
            "billed_as": sorted({str(line["billed"]) for line in lines if line.get("billed")}),
            "given_away": grams_text(over), "under_delivered": grams_text(under)}  # fmt: skip


def _sum(rows: list[Document], key: str) -> str:
    return grams_text(sum(int(row[key].replace(".", "")) for row in rows))


def _allowance(share: Any, moves: list[tuple[Any, ...]]) -> str:
    """Return the loss that the terms allow on what came in over the period."""
    came = sum(-move[4] for move in moves if move[0] in THEIRS and move[2] == "receive")
    return grams_text(round(share * came))
