"""What stands on an estimate: sweeps, slag, filters, in a column of their own."""

from __future__ import annotations

import sqlite3
from fractions import Fraction

from ledger.book.stored import origin_from


def estimated_on_hand(connection: sqlite3.Connection, index: int, metal: str, until: int) -> dict[str, int]:
    """Return, by area, the content on hand before an instant that rests on estimates, in nanograms of one metal."""
    found: dict[str, int] = {}
    if index == 0:
        return found  # gross is weighed
    for lot, share in _estimated_shares(connection, index, until).items():
        rows = connection.execute(
            "SELECT area, sum(ng) FROM posting WHERE ticket IN (SELECT ticket FROM line WHERE lot = ?) AND lot = ? "
            "AND class = 'place' AND metal = ? AND instant < ? GROUP BY area", (lot, lot, metal, until)
        )  # fmt: skip
        for area, ng in rows:
            found[area] = found.get(area, 0) + round(share * ng)
    return found


def _estimated_shares(connection: sqlite3.Connection, index: int, until: int) -> dict[int, Fraction]:
    """Return the estimated share of each lot whose last valuation before an instant rests on an estimate."""
    rows = connection.execute(
        "SELECT v.lot, v.origin, d.basis FROM valuation AS v JOIN determination AS d ON d.id = v.determination "
        "WHERE (v.origin IS NOT NULL OR d.basis = 'estimated') AND v.id = (SELECT max(w.id) FROM valuation AS w "
        "JOIN ticket AS t ON t.seq = w.ticket WHERE w.lot = v.lot AND t.instant < ?)", (until,)
    )  # fmt: skip
    return {lot: _share(origin, index) for lot, origin, _ in rows}


def _share(origin: str | None, index: int) -> Fraction:
    shares = origin_from(origin).values()
    return sum((s[index] for s in shares), Fraction(0)) if shares else Fraction(1)
