"""Refiners' settlements: recorded against agreed content, lot by lot, and whether the sign is always the same.

A difference R − A is positive where the refiner found less than the book had. Each one may lie inside the splitting
limit, so that none is disputed, and all of them together still be no chance: that is what the sign test tells. It
takes only lots that the plant knew by its own assay or by calculation; an estimate has an error of its own.
"""

from __future__ import annotations

import json
import sqlite3
from dataclasses import dataclass, field

from ledger.balance.daily.inference import Signs, sign_test
from ledger.book.holdings import TICKET_STANDS


@dataclass(frozen=True, slots=True)
class Settled:
    """One lot of a settlement: R recorded and A agreed, in nanograms of one metal.

    ``basis``: on what R rested: measured, calculated, nominal or estimated (an estimate in part is one).
    """

    ticket: str
    instant: int
    lot: str
    basis: str
    recorded: int
    agreed: int

    @property
    def difference(self) -> int:
        """R − A: + where the refiner found less."""
        return self.recorded - self.agreed

    @property
    def judged(self) -> bool:
        """Whether the sign says something of the refiner."""
        return self.basis in ("measured", "calculated")


@dataclass(slots=True)
class Refiner:
    """One refiner's settled lots, by date."""

    party: str
    lots: list[Settled] = field(default_factory=list)

    @property
    def judged(self) -> list[Settled]:
        """The lots that the sign test takes."""
        return [lot for lot in self.lots if lot.judged]

    @property
    def signs(self) -> Signs:
        """The sign test of R − A over the judged lots; positive: the refiner found less."""
        return sign_test([lot.difference for lot in self.judged])


_SETTLED = f"""
    SELECT t.seq, t.number, t.instant, json_extract(record.body, '$.party'), lot.id, lot.number, l.recorded, l.content
    FROM ticket AS t JOIN record ON record.seq = t.seq JOIN line AS l ON l.ticket = t.seq JOIN lot ON lot.id = l.lot
    WHERE t.kind = 'settle' AND t.instant >= ? AND t.instant < ? AND l.side = 'out' AND {TICKET_STANDS.format('t')}
    ORDER BY t.instant, t.seq, l.id"""

_BASIS = """
    SELECT CASE WHEN v.origin IS NOT NULL THEN 'estimated' ELSE d.basis END FROM valuation AS v
    JOIN determination AS d ON d.id = v.determination WHERE v.lot = ? AND v.ticket < ? ORDER BY v.id DESC LIMIT 1"""


def settlements(
    connection: sqlite3.Connection, index: int, since: int = -(2**62), until: int = 2**62
) -> list[Refiner]:
    """Return the lots settled in [since, until), in one metal (its place in the book's order), by refiner."""
    refiners: dict[str, Refiner] = {}
    rows = connection.execute(_SETTLED, (since, until)).fetchall()
    for seq, ticket, instant, party, lot, number, recorded, agreed in rows:
        basis = connection.execute(_BASIS, (lot, seq)).fetchone()
        settled = Settled(ticket, instant, number, basis[0] if basis else "nominal", json.loads(recorded)[index],
                          json.loads(agreed)[index])  # fmt: skip
        refiners.setdefault(party, Refiner(party)).lots.append(settled)
    return [refiners[party] for party in sorted(refiners)]
