"""A period's postings in one metal, read once: flows by ticket and area, dust, stock by lot, and what was shipped."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any, Final

from ledger.balance.flows.evidence import NOT_OF_THE_PERIOD, DustPosting, Flow

#: Content by area and lot, in ng of one metal.
LotSums = dict[tuple[str, int], int]

#: The postings but those to the plant's own stake; a reversal's bear the kind of the ticket that it reverses.
_POSTED: Final = """
    SELECT p.class, p.ticket, coalesce(r.kind, t.kind), r.seq, p.area, p.ng, p.lot, coalesce(p.origin, p.cause, ''),
           p.prior, p.line, p.instant
    FROM posting AS p CROSS JOIN ticket AS t ON t.seq = p.ticket LEFT JOIN ticket AS r ON r.seq = t.reverses
    WHERE p.period = ? AND p.metal = ? AND p.class <> 'own' ORDER BY p.id"""


@dataclass(slots=True)
class _Gathering:
    kind: str
    sign: int
    place: int = 0
    difference: dict[str, int] = field(default_factory=dict)
    prior: int = 0
    agreed: int = 0
    discarded: int = 0
    carried: int = 0


class Posted:
    """The postings of a period in one metal, in the order of their recording."""

    def __init__(self, connection: sqlite3.Connection, period: str, metal: str) -> None:
        self._of_class: dict[str, list[tuple[Any, ...]]] = {}
        for row in connection.execute(_POSTED, (period, metal)):
            self._of_class.setdefault(row[0], []).append(row)

    def _of(self, class_: str) -> list[tuple[Any, ...]]:
        return self._of_class.get(class_, [])

    def flows(self) -> list[Flow]:
        """Return what every ticket did in every area."""
        gathered: dict[tuple[int, str], _Gathering] = {}
        for class_ in ("place", "difference", "loss"):
            for _, ticket, kind, reverses, area, ng, _, origin, prior, _, _ in self._of(class_):
                into = gathered.get((ticket, area))
                if into is None:
                    into = gathered[ticket, area] = _Gathering(kind, 1 if reverses is None else -1)
                if class_ == "place":
                    into.place += ng
                    into.carried += ng
                elif class_ == "difference":
                    into.difference[origin] = into.difference.get(origin, 0) + ng
                    if origin not in NOT_OF_THE_PERIOD:
                        into.carried += ng
                        into.prior += ng if prior else 0
                elif origin == "discard":
                    into.agreed += ng
                    into.discarded += ng
        settled = self._settled()
        return [
            Flow(ticket, g.kind, g.sign, area, g.place, g.difference, g.prior, g.agreed + settled.get(ticket, 0),
                 g.discarded, g.carried)
            for (ticket, area), g in sorted(gathered.items(), key=lambda each: each[0])
        ]  # fmt: skip

    def _settled(self) -> dict[int, int]:
        """Return A of every settlement: what is the refiner's by agreement, and what he keeps."""
        found: dict[int, int] = {}
        for class_ in ("party", "retained"):
            for _, ticket, kind, _, _, ng, *_ in self._of(class_):
                if kind == "settle":
                    found[ticket] = found.get(ticket, 0) + ng
        return found

    def dust(self) -> list[DustPosting]:
        """Return the postings to dust, by date."""
        rows = sorted(self._of("dust"), key=lambda row: row[-1])
        return [DustPosting(area, kind, instant, ng) for _, _, kind, _, area, ng, *_, instant in rows]

    def of_at_least(self, least: Fraction, area: str, normal: Mapping[int, int]) -> list[int]:
        """Return the tickets, and their reversals, a single difference of which in an area may be so large, in ng.

        ``normal``: by ticket, what its work was to lose, and is taken off.
        """
        sums: dict[int, int] = {}
        tickets: dict[int, set[int]] = {}
        for _, ticket, _, reverses, of, ng, _, _, prior, _, _ in self._of("difference"):
            if of == area and not prior:
                whose = ticket if reverses is None else reverses
                sums[whose] = sums.get(whose, 0) + abs(ng)
                tickets.setdefault(whose, set()).add(ticket)
        large = (whose for whose, ng in sums.items() if ng + abs(normal.get(whose, 0)) >= least)
        return sorted(ticket for whose in large for ticket in tickets[whose])

    def by_lot(self, class_: str) -> LotSums:
        """Return what was posted to places, or on the way, by area and lot."""
        found: LotSums = {}
        for _, _, _, _, area, ng, lot, _, _, _, _ in self._of(class_):
            found[area, lot] = found.get((area, lot), 0) + ng
        return found

    def given_away(self) -> tuple[int, int]:
        """Return content given away and content under-delivered, each its own sum, never netted; in ng."""
        by_line: dict[tuple[int, int], int] = {}
        for _, ticket, _, reverses, _, ng, _, _, prior, line, _ in self._of("give-away"):
            if not prior:
                key = (ticket if reverses is None else reverses, line)
                by_line[key] = by_line.get(key, 0) + ng
        sums = by_line.values()
        return sum(ng for ng in sums if ng > 0), -sum(ng for ng in sums if ng < 0)
