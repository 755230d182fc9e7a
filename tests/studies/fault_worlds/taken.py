"""Metal taken without a ticket, or changed for base metal: from lots, from areas, inside work."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import partial
from random import Random
from typing import Any, NamedTuple

from tests.studies.fault_worlds.base import Base
from tests.studies.fault_worlds.plans import NoOccasion, Plan, log_uniform
from tests.studies.fault_worlds.struck import Struck
from tests.studies.fault_worlds.truth import Band
from tests.studies.fault_worlds.world import Course, Floor, Metal, Paper, last_working_day

#: Nobody takes less fine metal than this for its own sake, grams; a book that shows less is better than a month needs.
_LEAST = 0.02
#: At most this part of a lot is taken or changed.
_MOST = 0.3


class Chance(NamedTuple):
    """When metal of a lot lies about: between two papers in an area; and what its next weighing there is worth."""

    area: str
    lot: str
    begins: datetime
    until: datetime
    next: Struck

    @property
    def fineness(self) -> float:
        """Fine metal over mass, as near as σ tells."""
        return sum(self.next.sigmas[1:]) / self.next.sigmas[0]


def chances(base: Base) -> list[Chance]:
    """Return when metal could be taken in the month so that a later weighing of the month shows it."""
    found = []
    last: dict[str, datetime] = {}
    struck: dict[str, list[Struck]] = {}
    for one in base.differences.all:
        if one.kind in ("reweighing", "count") and one.sigmas[0] > 1:
            struck.setdefault(one.number, []).append(one)
    inside = {id(p) for p in base.in_period}
    for paper in base.papers:
        for one in struck.get(paper.number, ()) if id(paper) in inside else ():
            begins = last.get(one.lot)
            if begins is not None and paper.at - begins > timedelta(minutes=20) and one.area != "REFINER":
                found.append(Chance(one.area, one.lot, begins, paper.at, one))
        for lot in paper.lots():
            last[lot] = paper.at
    return [one for one in found if one.fineness > 0.001 and not one.lot.startswith(("SW", "SL", "BATH", "RM"))]


def _moment_in(chance: Random, one: Chance) -> datetime:
    return one.begins + (one.until - one.begins) * chance.uniform(0.2, 0.8)


def _takings(takings: list[tuple[datetime, str, str, float]], floor: Floor) -> None:
    for at, area, lot, mass in takings:
        floor.schedule.begin(_taken(floor, area, lot, mass), at)


def _taken(floor: Floor, area: str, lot: str, mass: float) -> Course:
    there = floor.stock[area].get(lot)
    if there is None or there.mass < mass / _MOST:
        raise NoOccasion
    floor.take(area, lot, mass)
    return
    yield


def unticketed(base: Base, chance: Random, band: Band) -> Plan | None:
    """Plan metal that leaves without a ticket: from a lot, from an area at once, a little each time, inside work."""
    mode = chance.choice(("lot", "lot", "area at once", "a little each time", "work"))
    if mode == "lot":
        return _from_lot(base, chance, band)
    if mode == "work":
        return _inside_work(base, chance, band)
    return _from_area(base, chance, mode)


def _from_lot(base: Base, chance: Random, band: Band) -> Plan | None:
    found = chances(base)
    chance.shuffle(found)
    for one in found:
        mass = log_uniform(chance, band.low, min(band.high, 100.0)) * one.next.sigmas[0] / 1e9
        if mass * one.fineness < _LEAST or mass > _most(base, one):
            continue
        takings = [(_moment_in(chance, one), one.area, one.lot, mass)]
        return Plan("unticketed", "lot", one.area, (one.lot,), size=mass,
                    says=f"{mass:.3f} g of {one.lot} taken at {takings[0][0]:%m-%dT%H:%M}",
                    prepare=partial(_takings, takings), multiple=mass * 1e9 / one.next.sigmas[0])  # fmt: skip
    return None


def _most(base: Base, one: Chance) -> float:
    """Return the most that is taken of a lot: a part of what was there."""
    paper = base.by_number[one.next.number]
    for *_, line in paper.lines():
        if one.lot in (line.get("lot"), line.get("bin")):
            text = line.get("mass") or line.get("gross") or "0 g"
            return _MOST * float(text.split()[0])
    return 0.0


def _from_area(base: Base, chance: Random, mode: str) -> Plan | None:
    by_area: dict[str, list[Chance]] = {}
    for one in chances(base):
        by_area.setdefault(one.area, []).append(one)
    area = chance.choice(sorted(by_area))
    found = by_area[area]
    if mode == "area at once":
        at = _moment_in(chance, chance.choice(found))
        picked = [(at, one) for one in found if one.begins < at < one.until]
        least = 2
    else:
        wanted = chance.sample(found, min(len(found), chance.randint(6, 15)))
        picked, least = [(_moment_in(chance, one), one) for one in wanted], 5
    unique = {one.lot: (at, one) for at, one in picked}
    if len(unique) < least:
        return None

    def sized(each: float) -> Plan:
        takings = [(at, area, one.lot, each * one.next.sigmas[0] / 1e9) for at, one in unique.values()]
        return Plan("unticketed", mode, area, tuple(unique), size=sum(m for *_, m in takings),
                    says=f"{len(takings)} takings in {area}, {each:.2f} σ each",
                    prepare=partial(_takings, takings), diffuse=True)  # fmt: skip

    return replace(sized(8.0), scaled=sized, limits=(0.2, 40.0), unit=8.0)


def _inside_work(base: Base, chance: Random, band: Band) -> Plan | None:
    """Plan metal kept back as it comes out of a work ticket, before it is weighed."""
    found = [
        (paper, one) for paper in base.in_period if paper.kind == "work" and paper.document.get("out")
        for one in base.differences.of_line(paper.number, 0)
        if one.operation not in ("BALING", "BATH-FEED", "BONDING") and one.sigmas[0] > 1
    ]  # fmt: skip
    if not found:
        return None
    paper, one = chance.choice(found)
    mass = log_uniform(chance, band.low, min(band.high, 100.0)) * one.sigmas[0] / 1e9
    fineness = sum(one.sigmas[1:]) / one.sigmas[0]
    if mass * fineness < _LEAST and one.operation not in ("ANNEALING", "SCRAP-MELT"):
        return None
    lots = tuple(str(line.get("lot") or line.get("bin")) for side, _, line in paper.lines() if side == "out")
    kept = _Kept(paper.at, str(one.operation), mass)

    def edit(world: Any) -> list[Paper] | None:
        own = base.find(world, paper)
        return [own] if own is not None and kept.done else None

    return Plan("unticketed", "work", one.area, lots, {"operation": one.operation}, mass,
                says=f"{mass:.3f} g kept back of what {one.operation} made", prepare=kept, edit=edit,
                multiple=mass * 1e9 / one.sigmas[0])  # fmt: skip


@dataclass
class _Kept:
    """Keeps metal back as one ticket's work is done; ``done``: it was, in the world prepared last."""

    at: datetime
    operation: str
    mass: float
    done: bool = False

    def __call__(self, floor: Floor) -> None:
        honest, self.done = floor.lose, False

        def lose(operation: str, area: str, metal: Metal, layer: tuple[float, float] | None = None) -> Metal:
            left = honest(operation, area, metal, layer)
            if floor.now == self.at and operation == self.operation and left.mass > self.mass / _MOST:
                self.done = True
                return left - left.part(self.mass)
            return left

        floor.lose = lose  # type: ignore[method-assign]


def substituted(base: Base, chance: Random, band: Band) -> Plan | None:
    """Plan fine metal of a lot changed for as much base metal: a grain lot in the vault, a bar, a coil."""
    found = list(_melted_or_assayed(base))
    if not found:
        return None
    kinds = sorted({kind for kind, *_ in found})
    kind = chance.choice(kinds)
    _, area, lot, begins, until = chance.choice([one for one in found if one[0] == kind])
    at = begins + (until - begins) * chance.uniform(0.2, 0.8)
    metal = "silver" if lot.startswith(("AG", "SB")) else "gold"

    def sized(fine: float) -> Plan:
        def prepare(floor: Floor) -> None:
            floor.schedule.begin(_changed(floor, area, lot, metal, fine), at)

        return Plan("substituted", kind, area, (lot,), size=fine, metal=metal, prepare=prepare,
                    says=f"{fine:.3f} g of the {metal} of {lot} changed for base metal")  # fmt: skip

    return replace(sized(2.0), scaled=sized, limits=(_LEAST, 150.0))


def _changed(floor: Floor, area: str, lot: str, metal: str, fine: float) -> Course:
    there = floor.stock[area].get(lot)
    if there is None or getattr(there, metal) * _MOST < fine:
        raise NoOccasion
    less = Metal(0.0, fine, 0.0) if metal == "gold" else Metal(0.0, 0.0, fine)
    floor.stock[area][lot] = there - less
    floor.made_of[lot] = floor.stock[area][lot].fineness
    return
    yield


def _melted_or_assayed(base: Base) -> Iterator[tuple[str, str, str, datetime, datetime]]:
    """Yield kind, area, lot and between when what is changed shows in an assay of the month."""
    end = last_working_day(base.world.months)
    made: dict[str, Paper] = {}
    for paper in base.in_period:
        lot = str(paper.document.get("lot", ""))
        if paper.kind == "assay" and lot in made and paper.at.date() <= end:
            yield "assayed", str(made[lot].document["area"]), lot, made[lot].at, paper.at
        to_melt = (paper.document.get("from"), paper.document.get("to")) == ("VAULT", "MELT")
        for side, _, line in paper.lines():
            lot = str(line.get("lot", ""))
            if side == "out" and lot.startswith(("KB", "PL", "SB", "AN", "RB")):
                made[lot] = paper
            if to_melt and lot.startswith(("GB", "KG", "AG")) and paper.at.day < end.day - 4:
                yield "melted", "VAULT", lot, paper.at - timedelta(hours=3), paper.at
