"""A month without faults: its papers, its book, and what each line's reading has a part in."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property, partial
from typing import Any, NamedTuple

from tests.studies.fault_worlds.books import book_of
from tests.studies.fault_worlds.poorer import FULL, thinned
from tests.studies.fault_worlds.struck import Differences, Struck
from tests.studies.fault_worlds.world import Document, Floor, Paper, World, moment, simulated

#: When it was written, what it is, where, and its lots: how a paper is known again in another run of the same world.
Signature = tuple[datetime, str, str, frozenset[str]]
DWT = 1.55517384


def signature(paper: Paper) -> Signature:
    """Return what a paper is known by."""
    return paper.at, paper.kind, area_of(paper), frozenset(paper.lots())


def area_of(paper: Paper) -> str:
    """Return the area that a paper is of, or where what it is about came from, or went."""
    return next((str(paper.document[name]) for name in ("area", "from", "to") if name in paper.document), "")


class Reading(NamedTuple):
    """One mass as keyed: the paper, the list, the line's place in it, the line, which field, where it then stands."""

    paper: Paper
    side: str
    place: int
    line: Document
    name: str
    area: str

    @property
    def text(self) -> str:
        """What was keyed."""
        return str(self.line[self.name])

    @property
    def lot(self) -> str:
        """The lot or bin it is about."""
        return str(self.line.get("lot") or self.line.get("bin"))

    @property
    def number(self) -> int:
        """The line's number on its ticket: what went in first."""
        before = len(self.paper.document.get("in", ())) if self.side == "out" else 0
        return before + self.place + 1


def grams(text: str) -> float:
    """Return a mass in grams."""
    number, unit = text.split()
    return float(number) * {"g": 1.0, "dwt": DWT, "ozt": 31.1034768}[unit]


@dataclass
class Base:
    """An honest world with its book; ``thin``: how much is left out of its papers; ``setup``: what the book is told."""

    world: World
    connection: sqlite3.Connection
    differences: Differences
    thin: str
    setup: str | None

    @staticmethod
    def of(seed: int, months: int = 1, thin: str = FULL, setup: str | None = None) -> Base:
        """Simulate, enter, measure."""
        world = simulated(seed, months, None, partial(thinned, how=thin))
        connection = book_of(world.tickets(), setup)
        periods = [f"2026-{month:02d}" for month in range(1, months + 1)]
        return Base(world, connection, Differences(connection, periods), thin, setup)

    def again(self, prepare: Callable[[Floor], object] | None = None) -> World:
        """Run the same world again, with something planted."""
        return simulated(self.world.seed, self.world.months, prepare, partial(thinned, how=self.thin))

    @property
    def last_period(self) -> str:
        """The period that is asked about."""
        return f"2026-{self.world.months:02d}"

    @cached_property
    def papers(self) -> list[Paper]:
        """What was entered, in order."""
        return [paper for paper in self.world.ordered if not paper.lost]

    @cached_property
    def in_period(self) -> list[Paper]:
        """What was entered of the last month, in order, without what was mended and what mended it."""
        first = moment(self.world.months, 1, 12)
        end = moment(self.world.months + 1, 1)
        return [p for p in self.papers if first <= p.at < end and not p.mended and p.kind not in ("open", "void")]

    @cached_property
    def by_number(self) -> dict[str, Paper]:
        """Papers by number."""
        return {paper.number: paper for paper in self.papers}

    @cached_property
    def signatures(self) -> dict[str, Signature]:
        """What each numbered paper is known by."""
        return {paper.number: signature(paper) for paper in self.papers}

    def readings(self) -> Iterator[Reading]:
        """Yield every mass weighed in the month that is kept by weighing alone."""
        for paper in self.in_period:
            if paper.kind in ("sweep", "settle", "discard", "checkweigh"):
                continue
            for side, place, line in paper.lines():
                if "metallic" in line or "moisture" in line or "content" in line:
                    continue
                for name in ("mass", "gross", "received_mass"):
                    if name in line:
                        yield Reading(paper, side, place, line, name, self._stands(paper, name))

    def _stands(self, paper: Paper, name: str) -> str:
        document = paper.document
        if paper.kind == "arrive":
            return str(self.by_number[document["of"]].document["to"])
        return str(document["to"] if name == "received_mass" else area_of(paper))

    def touched(self, reading: Reading) -> list[Struck]:
        """Return the differences that a reading has a part in, as far as they are of the month."""
        paper, found = reading.paper, self.differences
        own = list(found.of_line(paper.number, reading.number))
        if paper.kind == "work":
            own += self._work(paper)
        if not (reading.line.get("all") and reading.name != "received_mass"):
            after = found.next_of(reading.area, reading.lot, paper.number)
            own += [after] if after is not None else []
        own = [one for one in own if not (reading.name == "received_mass" and one.kind == "reweighing"
                                          and one.number == paper.number)]  # fmt: skip
        return [one for one in own if self.in_month(one.number)]

    def in_month(self, number: str) -> bool:
        """Return whether a ticket is of the month that is asked about."""
        return moment(self.world.months, 1, 12) <= self.by_number[number].at < moment(self.world.months + 1, 1)

    def _work(self, paper: Paper) -> list[Struck]:
        job = paper.document.get("job")
        if job is None:
            return self.differences.of_line(paper.number, 0)
        done = next((p for p in self.papers if p.document.get("job") == job and p.document.get("done")), None)
        counted = self.differences.next_of(str(paper.document["area"]), job, paper.number)
        own = [counted] if counted is not None else []
        return own + (self.differences.of_line(done.number, 0) if done is not None else [])

    def best(self, reading: Reading) -> Struck | None:
        """Return the difference in which a wrong reading shows best."""
        return min((one for one in self.touched(reading) if one.sigmas[0] > 1), key=lambda o: o.sigmas[0], default=None)

    def per_gram(self, reading: Reading) -> float:
        """Return by how many σ a reading that is off by a gram stands out where it shows best."""
        best = self.best(reading)
        return 0.0 if best is None else 1e9 / best.sigmas[0]

    def find(self, world: World, paper: Paper) -> Paper | None:
        """Return the same paper in another run of this world."""
        wanted = signature(paper)
        return next((other for other in world.papers if signature(other) == wanted), None)


def lines_of(paper: Paper, lot: str) -> list[tuple[str, int, dict[str, Any]]]:
    """Return the lines of a paper that speak of a lot."""
    return [found for found in paper.lines() if lot in (found[2].get("lot"), found[2].get("bin"))]
