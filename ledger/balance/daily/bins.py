"""Bins, the open lots: since when what is in them has been there, and when they were last assayed."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass

from ledger.book.holdings import TICKET_STANDS


@dataclass(frozen=True, slots=True)
class BinAge:
    """Since when a bin's content has been without an assay, and whether that is since the last one."""

    since: int
    assayed: bool


_STANDS = TICKET_STANDS.format("t")

_EMPTIED = f"""
    SELECT coalesce(max(l.id), 0) FROM line AS l JOIN ticket AS t ON t.seq = l.ticket
    WHERE l.lot = (SELECT id FROM lot WHERE number = ?1) AND l.area = ?2 AND (?3 IS NULL OR l.instant <= ?3)
    AND l.settles = 1 AND l.side IN ('in', 'out') AND {_STANDS}"""

_FIRST_AFTER = f"""
    SELECT l.instant FROM line AS l JOIN ticket AS t ON t.seq = l.ticket
    WHERE l.lot = (SELECT id FROM lot WHERE number = ?1) AND l.area = ?2 AND (?3 IS NULL OR l.instant <= ?3)
    AND l.id > ?4 AND {_STANDS} ORDER BY l.id LIMIT 1"""

_ASSAYED = f"""
    SELECT max(t.instant) FROM valuation AS v JOIN ticket AS t ON t.seq = v.ticket
    WHERE v.lot = (SELECT id FROM lot WHERE number = ?1) AND t.kind = 'assay' AND (?2 IS NULL OR t.instant <= ?2)
    AND {_STANDS}"""


def begun(connection: sqlite3.Connection, number: str, area: str, until: int | None = None) -> int | None:
    """Return the instant of the first addition since the bin was last emptied in the area; None where there is none."""
    (emptied,) = connection.execute(_EMPTIED, (number, area, until)).fetchone()
    row = connection.execute(_FIRST_AFTER, (number, area, until, emptied)).fetchone()
    return row[0] if row else None


def bin_age(connection: sqlite3.Connection, number: str, area: str, until: int | None = None) -> BinAge | None:
    """Return since when the bin's content has been without an assay; None where nothing was put in."""
    since = begun(connection, number, area, until)
    (assay,) = connection.execute(_ASSAYED, (number, until)).fetchone()
    if assay is not None and (since is None or assay >= since):
        return BinAge(assay, True)
    return None if since is None else BinAge(since, False)
