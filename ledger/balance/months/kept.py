"""What past periods left, as the book keeps it: read, written, and how a kept row is told from another.

The tables `carried`, `carried_rows` and `carried_balance` only save time: every row follows from the tickets dated
before the end of its period, and `verify` derives it again. A ticket dated before such an end lets go of it, and of all
later ones (`ledger.book.writing`). What another writer left (`WRITER`) is not read: its figures may be others.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final, Generic, NamedTuple, TypeVar

from ledger import __version__
from ledger.balance.measurement.carrying import Document, Flat, unreadable
from ledger.balance.months.standing import Stock
from ledger.book.schema import KEPT_TABLES
from ledger.book.store import connect
from ledger.refusals import BookUnusable

T = TypeVar("T")

#: Who wrote a row, and read it: the version of the program, and a number to raise whenever a figure that is kept, its
#: last digit or its place in a row becomes another one. Rows of another writer are derived anew, and not compared.
WRITER: Final = f"{__version__} 2"

#: The plant's own balance, among those of its areas.
PLANT: Final = ""

#: The rows of one area's past months that later months can share, oldest first: of U, and of U + P where P is not 0.
Rows = list[tuple[Flat, Flat | None]]


class Balance(NamedTuple):
    """A past month of one area in one metal, in ng: all that later months ask of it.

    ``counted``: when its last count ended; ``dust``: H at its end; ``covariances``: of U with the U of the months
    before it, nearest first, beginning with its own variance; ``whole``: so of U + P, of no more than twelve.
    """

    unexplained: int = 0
    prior_period: int = 0
    unrated: bool = False
    counted: int | None = None
    dust: int = 0
    covariances: Sequence[float] = ()
    whole: Sequence[float] = ()


@dataclass(frozen=True)
class PastMonth:
    """A past period in one metal, of every area; ``ledger.balance.judging.series.Monthly``."""

    period: str
    areas: Mapping[str, Balance]

    def columns(self, area: str) -> Balance:
        """Return an area's balance; nothing of an area that the set-up did not yet have."""
        return self.areas.get(area, Balance())

    def counted(self, area: str) -> int | None:
        """Return when the count that closes an area's period ended, if there is one."""
        return self.columns(area).counted

    def covariances(self, area: str, earlier: Sequence[object]) -> list[float]:
        """Return the covariances of U with those of the months before it, oldest first, and then its variance."""
        known = self.columns(area).covariances[: len(earlier) + 1]
        return [0.0] * (len(earlier) + 1 - len(known)) + list(reversed(known))


class _Read(dict[str, T], Generic[T]):
    """What is known by metal, each read when first asked for."""

    def __init__(self, read: Callable[[str], T]) -> None:
        super().__init__()
        self.read = read

    def __missing__(self, metal: str) -> T:
        self[metal] = self.read(metal)
        return self[metal]


@dataclass(frozen=True)
class Ending:
    """What the book's periods left at the end of one of them.

    ``ends``: the first instant after it; ``record``: the last record it follows from; ``periods``: how many of the
    book's periods it closes. ``stock``: content by area and lot, ``transit``: by sending area and lot, in ng by metal;
    ``jobs``: those not done. ``months``: the past months that later ones look back on, oldest first, by metal;
    ``rows``: by metal and area what of their rows is alive, in the same order.
    """

    period: str
    ends: int
    record: int
    periods: int
    state: Document
    stock: Stock
    transit: Stock
    jobs: list[int]
    months: dict[str, list[PastMonth]] = field(default_factory=dict)
    rows: dict[str, dict[str, Rows]] = field(default_factory=dict)


class Kept(NamedTuple):
    """The rows of one ending, by table, as the book keeps them."""

    ends: int
    period: str
    carried: list[tuple[Any, ...]]
    carried_rows: list[tuple[Any, ...]]
    carried_balance: list[tuple[Any, ...]]


def rows_of(ending: Ending) -> Kept:
    """Return an ending as rows; of its months only the last one's balances, as earlier endings have the others."""
    state = {
        "state": ending.state,
        "stock": [[*key, amounts] for key, amounts in ending.stock.items()],
        "transit": [[*key, amounts] for key, amounts in ending.transit.items()],
        "jobs": ending.jobs,
    }
    head = (ending.ends, ending.period, ending.record, ending.periods, WRITER, _text(state))
    rows = [(ending.ends, metal, _text(areas)) for metal, areas in ending.rows.items()]
    balances = [
        (ending.ends, metal, area, *b[:2], int(b.unrated), b.counted, b.dust, _text(b.covariances), _text(b.whole))
        for metal, months in ending.months.items()
        for area, b in months[-1].areas.items()
    ]
    return Kept(ending.ends, ending.period, [head], rows, balances)


def _text(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"), allow_nan=False)


def read_last(
    connection: sqlite3.Connection, ends: Mapping[int, str], bound: int, looked_back_on: Callable[[int], int]
) -> Ending | None:
    """Return the last ending kept, of those whose instants and periods are given in order; None without one.

    ``bound``: what follows from that record or a later one is not taken. ``looked_back_on``: how many months the next
    statement looks back on after so many.
    """
    if not ends:
        return None
    instants = list(ends)
    rows = connection.execute(
        "SELECT ends, period, record, periods, state FROM carried WHERE ends <= ? AND program = ? AND record < ? "
        "ORDER BY ends DESC", (instants[-1], WRITER, bound)
    )  # fmt: skip
    for at, period, record, periods, state in rows:
        if ends.get(at) == period and instants.index(at) + 1 == periods:
            asked = instants[periods - looked_back_on(periods) : periods]
            return _ending(connection, (period, at, record, periods), state, {end: ends[end] for end in asked})
    return None


def _ending(
    connection: sqlite3.Connection, head: tuple[str, int, int, int], text: str, window: Mapping[int, str]
) -> Ending:
    try:
        said = json.loads(text)
        stock, transit = ({(area, lot): amounts for area, lot, amounts in said[name]} for name in ("stock", "transit"))
        state, jobs = said["state"], said["jobs"]
    except (KeyError, TypeError, ValueError) as error:
        raise unreadable() from error
    return Ending(
        *head, state, stock, transit, jobs,
        _Read(lambda metal: _months(connection, metal, window)), _Read(lambda metal: _rows(connection, metal, head[1])),
    )  # fmt: skip


def _months(connection: sqlite3.Connection, metal: str, window: Mapping[int, str]) -> list[PastMonth]:
    areas: dict[int, dict[str, Balance]] = {ends: {} for ends in window}
    rows = connection.execute(
        "SELECT ends, area, unexplained, prior_period, unrated, counted, dust, covariances, whole FROM carried_balance "
        "WHERE metal = ? AND ends IN (SELECT value FROM json_each(?))", (metal, json.dumps(list(window)))
    )  # fmt: skip
    for ends, area, unexplained, prior, unrated, counted, dust, covariances, whole in rows:
        areas[ends][area] = Balance(
            unexplained, prior, bool(unrated), counted, dust, _numbers(covariances), _numbers(whole)
        )
    return [PastMonth(window[ends], found) for ends, found in areas.items()]


def _rows(connection: sqlite3.Connection, metal: str, ends: int) -> dict[str, Rows]:
    found = connection.execute("SELECT rows FROM carried_rows WHERE metal = ? AND ends = ?", (metal, ends)).fetchone()
    try:
        return {area: [(u, w) for u, w in rows] for area, rows in json.loads(found[0]).items()}
    except (TypeError, ValueError, AttributeError) as error:
        raise unreadable() from error


def _numbers(text: str) -> list[float]:
    try:
        return [float(x) for x in json.loads(text)]
    except (TypeError, ValueError) as error:
        raise unreadable() from error


def keep(path: Path, made: Iterable[Kept], record: int) -> None:
    """Keep what was derived from a book whose last record was ``record``, if that can be done at once.

    Nothing is said where it cannot: the book may be read-only, in use, or further on; the next one to ask derives it
    again.
    """
    made = list(made)
    if not made:
        return
    try:
        with closing(connect(path, patience=0)) as connection:
            connection.execute("PRAGMA synchronous = NORMAL")
            connection.execute("BEGIN IMMEDIATE")
            (last,) = connection.execute("SELECT max(seq) FROM record").fetchone()
            if last == record:
                write(connection, made)
                connection.execute("COMMIT")
    except (sqlite3.Error, BookUnusable):
        return


def write(connection: sqlite3.Connection, made: Iterable[Kept]) -> None:
    """Write endings, each in place of what was kept for its instant; inside the caller's transaction."""
    for kept in made:
        for table in KEPT_TABLES:
            connection.execute(f"DELETE FROM {table} WHERE ends = ?", (kept.ends,))
            rows = getattr(kept, table)
            if rows:
                places = ", ".join("?" * len(rows[0]))
                connection.executemany(f"INSERT INTO {table} VALUES ({places})", rows)
