"""What stands at a period's end, exact and lot by lot, from what stood at its beginning and its own postings."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from ledger.balance.daily.estimates import estimated_share
from ledger.balance.flows.evidence import OpenJob
from ledger.balance.flows.posted import LotSums
from ledger.book.stored import origin_from

#: Content by area and lot, in ng by metal, gross first.
Stock = dict[tuple[str, int], list[int]]


class Standing(NamedTuple):
    """What of an area's stock stands apart: estimates on hand and metal on its way, in ng by area; open jobs."""

    estimated: Mapping[str, int]
    in_transit: Mapping[str, int]
    open_jobs: Sequence[OpenJob]


def in_metal(stock: Stock, index: int) -> LotSums:
    """Return a stock in one metal."""
    return {key: amounts[index] for key, amounts in stock.items() if amounts[index]}


def moved(before: LotSums, posted: LotSums) -> LotSums:
    """Return what stands in one metal after a period, from what stood before it; what is nothing is left out."""
    found = dict(before)
    for key, ng in posted.items():
        found[key] = found.get(key, 0) + ng
    return {key: ng for key, ng in found.items() if ng}


def together(by_metal: Sequence[LotSums]) -> Stock:
    """Return stocks of one metal each, in the book's order, as one, by area and lot."""
    found: Stock = {}
    for index, stock in enumerate(by_metal):
        for key, ng in stock.items():
            found.setdefault(key, [0] * len(by_metal))[index] = ng
    return dict(sorted(found.items()))


def by_area(stock: LotSums) -> dict[str, int]:
    """Return a stock in one metal by area."""
    found: dict[str, int] = {}
    for (area, _), ng in stock.items():
        found[area] = found.get(area, 0) + ng
    return found


_LAST_VALUED = """
    SELECT v.origin, d.basis FROM valuation AS v CROSS JOIN ticket AS t ON t.seq = v.ticket
    LEFT JOIN determination AS d ON d.id = v.determination
    WHERE v.lot = ? AND t.instant < ? ORDER BY v.id DESC LIMIT 1"""


def estimated_of(connection: sqlite3.Connection, stock: LotSums, index: int, until: int) -> dict[str, int]:
    """Return, by area, the content of a stock before an instant that rests on estimates, in ng of one metal.

    ``index``: that metal's place in the book's order.
    """
    found: dict[str, int] = {}
    if index == 0:
        return found  # gross is weighed
    for (area, lot), ng in stock.items():
        origin, basis = connection.execute(_LAST_VALUED, (lot, until)).fetchone() or (None, None)
        if basis is not None and (origin is not None or basis == "estimated"):
            share = estimated_share(origin_from(origin), index)
            found[area] = found.get(area, 0) + round(share * ng)
    return found


_LAST_STATE = """
    SELECT l.number, s.area, s.operation, s.opened, s.done, s.mass_in FROM job_state AS s
    CROSS JOIN ticket AS t ON t.seq = s.ticket JOIN lot AS l ON l.id = s.lot
    WHERE s.lot = ? AND t.instant < ? ORDER BY s.id DESC LIMIT 1"""


def open_jobs_of(
    connection: sqlite3.Connection, before: Iterable[int], dated: tuple[int, int]
) -> dict[int, tuple[str, str, str, int]]:
    """Return the jobs not done at the end of a time, of those before it and those of its tickets, oldest first.

    Each with its number, area, operation, and when it was opened.
    """
    worked = connection.execute(
        "SELECT DISTINCT job FROM ticket WHERE instant >= ? AND instant < ? AND job IS NOT NULL", dated
    )
    found = {}
    for lot in sorted({*before, *(job for (job,) in worked)}):
        row = connection.execute(_LAST_STATE, (lot, dated[1])).fetchone()
        if row is not None and not row[4] and row[5] > 0:
            found[lot] = row[:4]
    return dict(sorted(found.items(), key=lambda each: (each[1][3], each[1][0])))


def with_content(jobs: Mapping[int, tuple[str, str, str, int]], stock: LotSums) -> list[OpenJob]:
    """Return open jobs with what is left in each, in ng of one metal."""
    left: dict[int, int] = {}
    for (_, lot), ng in stock.items():
        left[lot] = left.get(lot, 0) + ng
    return [OpenJob(*job, left.get(lot, 0)) for lot, job in jobs.items()]
