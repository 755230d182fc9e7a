"""What stands on an estimate: sweeps, slag, filters, in a column of their own."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from ledger.balance.daily.bins import begun
from ledger.book.amounts import Amounts
from ledger.book.lots import Origin
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
    return {lot: estimated_share(origin_from(origin), index) for lot, origin, _ in rows}


@dataclass(frozen=True, slots=True)
class OpenEstimate:
    """A lot whose content rests, wholly or in part, on an estimate: where it is, and since when it does.

    ``origins``: whose dust or difference it is, (class, area) → share of the content by metal, gross 0; empty where
    the estimate came in from outside.
    """

    area: str
    lot: str
    lot_class: str | None
    since: int
    origins: Origin
    amounts: Amounts

    def content(self, index: int) -> int:
        """Return the content that is an estimate, in nanograms of one metal."""
        return round(estimated_share(self.origins, index) * self.amounts[index])


def estimated_share(origins: Origin, index: int) -> Fraction:
    """Return the share of an estimated lot's content that is an estimate: all of it where no origin is kept."""
    return sum((shares[index] for shares in origins.values()), Fraction(0)) if origins else Fraction(1)


def open_estimates(
    connection: sqlite3.Connection, places: Iterable[tuple[str, str, Amounts]], instant: int | None = None
) -> list[OpenEstimate]:
    """Return which of the lots (area, number, amounts) rest on an estimate, now or at an instant, oldest first.

    The age is the estimate's own, not the lot's: a part split off keeps it; of a bin it is the oldest estimated
    addition's since the bin was last emptied or assayed.
    """
    found = []
    for area, lot, amounts in places:
        since, lot_class, origin = None, None, None
        start = None
        for kind, class_, of, basis, made, valued in connection.execute(_VALUATIONS, (lot, instant)):
            if start is None:
                start = (begun(connection, lot, area, instant) if kind == "bin" else None) or -(2**62)
            if valued < start or (of is None and basis != "estimated"):
                break
            if since is None:
                lot_class, origin = class_, of
            since = made if since is None else min(since, made)
        if since is not None:
            found.append(OpenEstimate(area, lot, lot_class, since, origin_from(origin), amounts))
    return sorted(found, key=lambda e: (e.since, e.area, e.lot))


_VALUATIONS = """
    SELECT lot.kind, lot.class, v.origin, d.basis, coalesce(made.instant, t.instant), t.instant FROM lot
    JOIN valuation AS v ON v.lot = lot.id JOIN ticket AS t ON t.seq = v.ticket
    LEFT JOIN determination AS d ON d.id = v.determination LEFT JOIN ticket AS made ON made.seq = d.ticket
    WHERE lot.number = ?1 AND (?2 IS NULL OR t.instant <= ?2) ORDER BY v.id DESC"""
