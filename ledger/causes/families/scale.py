"""A scale is out by a factor, since a day."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator

from ledger.causes.case import Direction
from ledger.causes.proposals import Proposal, View
from ledger.causes.reads import Read

_LEAST, _MOST = 2e-5, 5e-3


def propose(view: View) -> Iterator[Proposal]:
    """Yield each scale as out from each of its days on, until it was calibrated again."""
    for code, since, until, direction, days in view.worth("scales", lambda: _scales(view), lambda each: each[3]):
        yield _proposal(view, code, since, until, direction, view.rates["scale"] / days)


def _scales(view: View) -> list[tuple[str, int, int | None, Direction, int]]:
    scales: dict[str, list[Read]] = {}
    for read in view.every_read.all:
        if read.instant >= view.evidence.start:
            scales.setdefault(read.scale, []).append(read)
    return [each for code, reads in scales.items() for each in _of(view, code, reads)]


def _of(view: View, code: str, reads: list[Read]) -> Iterator[tuple[str, int, int | None, Direction, int]]:
    reads = sorted(reads, key=lambda read: read.instant)
    calendar = view.evidence.month.ledger.calendar
    days: dict[str, int] = {}
    for read in reads:
        days.setdefault(str(calendar.day(read.instant)), read.instant)
    mended = _calibrated(view, code)
    for since in days.values():
        at = bisect_left(mended, since + 1)
        until = mended[at] if at < len(mended) else None
        direction: dict[int, float] = {}
        for read in reads:
            if read.instant >= since and (until is None or read.instant < until):
                for i, coefficient in read.column.items():
                    direction[i] = direction.get(i, 0.0) + coefficient * read.ng
        yield code, since, until, direction, len(days)


def _calibrated(view: View, code: str) -> list[int]:
    rows = view.evidence.connection.execute(
        "SELECT t.instant FROM checked AS c JOIN ticket AS t ON t.seq = c.ticket "
        "WHERE c.calibrated = 1 AND c.scale = ? ORDER BY t.instant",
        (code,),
    )
    return [instant for (instant,) in rows]


def _proposal(view: View, code: str, since: int, until: int | None, direction: Direction, prior: float) -> Proposal:
    day = view.evidence.month.ledger.calendar.day(since)

    def say(size: float) -> str:
        way = "high" if size > 0 else "low"
        return f"scale {code} has read about {abs(size):.3%} too {way} since {day}"

    size = len(view.evidence.metals)
    return Proposal(
        "scale",
        (code, since),
        direction,
        prior,
        say,
        f"put a check weight on {code}; weigh a lot that it weighed since {day} on another scale",
        least=_LEAST,
        most=_MOST,
        what={"scale": code},
        of_size=tuple(_whole(view, direction, i) for i in range(size)),
    )


def _whole(view: View, direction: Direction, metal: int) -> float:
    """Return the largest shift of an area's balance for a unit of the factor, in one metal."""
    areas: dict[str, float] = {}
    for i, coefficient in direction.items():
        for area, shares in view.evidence.components[i].bears.items():
            areas[area] = areas.get(area, 0.0) + coefficient * shares[metal]
    return max(areas.values(), key=abs, default=0.0)
