"""Pre-numbered tickets: numbers that are neither recorded nor voided, and numbers out of their order in time."""

from __future__ import annotations

import sqlite3
from bisect import bisect_left
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

from ledger.book.tickets.common import split_number
from ledger.plant.numbering import body_of


@dataclass(frozen=True, slots=True)
class Gap:
    """Numbers of one prefix, from ``first`` to ``last``, of which nothing is known."""

    prefix: str
    first: str
    last: str
    numbers: int


@dataclass(frozen=True, slots=True)
class OutOfOrder:
    """A ticket dated before the one whose number comes before its own; instants."""

    ticket: str
    instant: int
    before: str
    before_instant: int


def _rows(connection: sqlite3.Connection, until: int | None) -> Iterable[tuple[str]]:
    return connection.execute(_ALL) if until is None else connection.execute(_UP_TO, (until,))


def _prints_check_characters(connection: sqlite3.Connection) -> bool:
    row = connection.execute(
        "SELECT json_extract(document, '$.plant.check_character') FROM setup_version "
        "ORDER BY since DESC, seq DESC LIMIT 1"
    ).fetchone()
    return bool(row and row[0])


class Numbers:
    """The numbers used up to an instant (None: all), by prefix. Each number of the book is read once."""

    def __init__(self, connection: sqlite3.Connection, until: int | None = None) -> None:
        self.connection = connection
        self.used: dict[str, dict[int, str]] = {}
        self._checked = _prints_check_characters(connection)
        for (number,) in _rows(connection, until):
            prefix, counter = split_number(number, checked=self._checked)
            self.used.setdefault(prefix, {}).setdefault(counter, number)
        self._sorted = {prefix: sorted(counters) for prefix, counters in self.used.items()}

    def gaps(self) -> list[Gap]:
        """Return the gaps between the lowest and the highest number of each prefix, by prefix and number."""
        found = []
        for prefix in sorted(self.used):
            counters = self._sorted[prefix]
            for low, high in pairwise(counters):
                if high - low > 1:
                    number = self.used[prefix][low]
                    width = len(body_of(number) if self._checked else number) - len(prefix)
                    first, last = (f"{prefix}{n:0{width}d}" for n in (low + 1, high - 1))
                    found.append(Gap(prefix, first, last, high - low - 1))
        return found

    def out_of_order(self, start: int, end: int) -> list[OutOfOrder]:
        """Return the tickets dated from one instant to another that follow, by number, a later-dated one.

        Reversals, corrections and what was reversed are left out: their numbers come late by nature.
        """
        rows = self.connection.execute(
            f"SELECT t.number, t.instant FROM ticket AS t WHERE t.instant BETWEEN ? AND ? AND {_PLAIN} "
            "ORDER BY t.instant, t.seq", (start, end)
        )  # fmt: skip
        found = []
        for number, instant in rows.fetchall():
            before = self._before(number)
            if before is not None and before[1] > instant:
                found.append(OutOfOrder(number, instant, *before))
        return found

    def _before(self, number: str) -> tuple[str, int] | None:
        """Return the nearest lower number of the prefix that an ordinary ticket bears, and its instant."""
        prefix, counter = split_number(number, checked=self._checked)
        counters = self._sorted[prefix]
        for place in range(bisect_left(counters, counter) - 1, -1, -1):
            lower = self.used[prefix][counters[place]]
            row = self.connection.execute(
                f"SELECT t.instant FROM ticket AS t WHERE t.number = ? AND {_PLAIN}", (lower,)
            ).fetchone()  # fmt: skip
            if row is not None:
                return lower, row[0]
        return None


_PLAIN = (
    "t.kind <> 'close' AND t.reverses IS NULL AND t.corrects IS NULL "
    "AND NOT EXISTS (SELECT 1 FROM ticket AS r WHERE r.reverses = t.seq)"
)


#: Closes have no number of a series; told by their name, so that the index of numbers is all that is read.
_ALL = "SELECT number FROM ticket WHERE substr(number, -6) <> ' close' UNION ALL SELECT number FROM void_number"
_UP_TO = """
    SELECT number FROM ticket WHERE kind <> 'close' AND instant <= ?1 UNION ALL SELECT v.number FROM void_number AS v
    JOIN ticket AS t ON t.seq = v.ticket WHERE t.instant <= ?1"""
