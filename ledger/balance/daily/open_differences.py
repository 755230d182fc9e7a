"""Differences of closed periods that nobody has answered for: how much, and since which period.

Normal loss has left a closed period's difference; what stands is short or over, and open until somebody writes it off.
A write-off answers for the oldest of its own sign. Losses and gains are never netted.
"""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from typing import NamedTuple

from ledger.book.holdings import TICKET_STANDS

#: Of closed periods, what is posted to each difference but write-offs; and the write-offs that stand. Both read no more
#: than sums and write-offs: nothing enters a closed period.
_ITEMS = """
    SELECT s.area, c.ends, c.period, sum(s.ng) FROM period_sum AS s CROSS JOIN close AS c ON c.period = s.period
    WHERE s.class = 'difference' AND s.metal = ?1 AND s.origin <> 'write-off' AND c.ends <= ?2
    GROUP BY s.area, c.ends HAVING sum(s.ng) <> 0 ORDER BY s.area, c.ends"""
_WRITTEN_OFF = f"""
    SELECT p.area, sum(CASE WHEN p.ng < 0 THEN -p.ng ELSE 0 END), sum(CASE WHEN p.ng > 0 THEN p.ng ELSE 0 END)
    FROM ticket AS t CROSS JOIN posting AS p ON p.ticket = t.seq
    WHERE t.kind = 'writeoff' AND p.class = 'difference' AND p.metal = ?1 AND t.instant < ?2
    AND {TICKET_STANDS.format("t")} GROUP BY p.area"""


@dataclass(frozen=True, slots=True)
class OpenDifference:
    """What stands open of an area's closed periods, in nanograms of one metal: losses +, gains −.

    ``oldest``: the oldest period of which anything stands, and ``ends`` the first instant after it.
    """

    area: str
    losses: int
    gains: int
    oldest: str
    ends: int


def open_differences(connection: sqlite3.Connection, metal: str, until: int) -> dict[str, OpenDifference]:
    """Return what stood open of periods closed that ended by an instant, by area."""
    items: dict[str, list[_Item]] = {}
    for area, ends, period, ng in connection.execute(_ITEMS, (metal, until)):
        items.setdefault(area, []).append(_Item(ends, period, ng))
    answered = {area: both for area, *both in connection.execute(_WRITTEN_OFF, (metal, until))}
    found = {}
    for area, of in items.items():
        off_losses, off_gains = answered.get(area, (0, 0))
        losses = _left([item for item in of if item.ng > 0], off_losses)
        gains = _left([item._replace(ng=-item.ng) for item in of if item.ng < 0], off_gains)
        if losses or gains:
            oldest = min([*losses, *gains], key=lambda item: item.ends)
            sums = sum(item.ng for item in losses), -sum(item.ng for item in gains)
            found[area] = OpenDifference(area, *sums, oldest.period, oldest.ends)
    return found


class _Item(NamedTuple):
    """What one closed period left in one area's difference."""

    ends: int
    period: str
    ng: int


def _left(items: list[_Item], answered: int) -> list[_Item]:
    """Return what is left of items, oldest first, after so much of them was answered for."""
    left = []
    for item in items:
        taken = min(item.ng, answered)
        answered -= taken
        if item.ng > taken:
            left.append(item._replace(ng=item.ng - taken))
    return left
