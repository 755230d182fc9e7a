"""Lots that a count did not find, or found where they are not recorded: what else the book says of each."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from ledger.book.tickets.common import split_number
from ledger.causes.evidence import Component
from ledger.causes.proposals import View

#: Days after a count in which a ticket of before it may turn up.
_SOON = 6
#: How many times likelier a cause is when the book itself says so, and when it could and does not.
TOLD, UNTOLD = 60.0, 0.25
_DAY = 86_400_000_000
_OUTWARD = frozenset(("ship", "move", "settle", "discard"))


@dataclass(frozen=True, slots=True)
class Missing:
    """One lot that a count did not find."""

    view: View
    place: int
    component: Component

    @property
    def lot(self) -> str:
        """Its number."""
        return self.view.lot(self.component.lot)

    def found_later(self) -> tuple[str, str, int] | None:
        """Return ticket, kind and instant of the first later ticket that handles it there.

        None where more of it is brought first: what is handled after that may be the new part.
        """
        row = self.view.evidence.connection.execute(
            "SELECT t.number, t.kind, t.instant, "
            "(t.kind IN ('move', 'arrive', 'receive') AND l.side IN ('in', 'receive')) "
            "FROM line AS l JOIN ticket AS t ON t.seq = l.ticket "
            "WHERE l.lot = ? AND l.area = ? AND t.instant > ? AND t.kind <> 'reverse' "
            "AND NOT EXISTS (SELECT 1 FROM ticket AS r WHERE r.reverses = t.seq) ORDER BY t.instant, t.seq LIMIT 1",
            (self.component.lot, self.component.area, self.component.instant),
        ).fetchone()
        return None if row is None or row[3] else (row[0], row[1], row[2])

    def later_by_paper(self) -> str | None:
        """Return the number of an outward ticket that takes it out of the area within days of the count."""
        later = self.found_later()
        if later and later[1] in _OUTWARD and later[2] - self.component.instant <= _SOON * _DAY:
            return later[0]
        return None

    def elsewhere(self) -> tuple[int, Component] | None:
        """Return the count line of another area that lists it where it is not recorded."""
        for place in self.view.case.place:
            other = self.view.evidence.components[place]
            if other.kind == "count" and other.lot == self.component.lot and other.area != self.component.area:
                lines = self.view.evidence.lines(other.ticket, other.line)
                if not any((line.recorded or (0,))[0] for line in lines if line.lot == other.lot):
                    return place, other
        return None


def missing(view: View) -> Iterator[Missing]:
    """Yield the lots that counts did not find, as far as nothing taken as true explains them yet."""
    for place, component in view.singles:
        if component.kind == "missed":
            yield Missing(view, place, component)


def number_missing(view: View) -> list[str]:
    """Return the ticket numbers between those of the period that are neither recorded nor voided."""
    return view.once("numbers missing", lambda: _missing(view.evidence.connection, view.evidence.period))


def _missing(connection: sqlite3.Connection, period: str) -> list[str]:
    used: dict[str, list[int]] = {}
    shown: dict[str, str] = {}
    numbers = connection.execute("SELECT number FROM ticket WHERE period = ? AND kind <> 'close'", (period,))
    for (number,) in numbers:
        prefix, counter = split_number(number)
        used.setdefault(prefix, []).append(counter)
        shown[prefix] = number
    found = []
    for prefix, counters in used.items():
        counters.sort()
        width = len(shown[prefix]) - len(prefix)
        for low, high in pairwise(counters):
            if 1 < high - low <= _FEW:
                found += [f"{prefix}{n:0{width}d}" for n in range(low + 1, high)]
    return [number for number in found if not _known(connection, number)]


#: A longer run of numbers without a ticket is another pad, not lost paper.
_FEW = 4


def _known(connection: sqlite3.Connection, number: str) -> bool:
    row = connection.execute(
        "SELECT 1 FROM ticket WHERE number = ?1 UNION ALL SELECT 1 FROM void_number WHERE number = ?1", (number,)
    ).fetchone()
    return row is not None
