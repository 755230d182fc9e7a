"""Planting: from a seed and the families wanted to the tickets of a month, its book, and the truth about it."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from math import fsum
from random import Random

from ledger.balance.months.statement import reconcile
from ledger.refusals import LemelError
from tests.studies.fault_worlds import happened, keyed, records, taken
from tests.studies.fault_worlds.base import Base, signature
from tests.studies.fault_worlds.books import book_of
from tests.studies.fault_worlds.plans import NoOccasion, Plan, Planner, log_uniform
from tests.studies.fault_worlds.struck import Differences
from tests.studies.fault_worlds.truth import SMALL, Band, Fault
from tests.studies.fault_worlds.world import Document, Floor, World

#: How often another place is tried for a fault before the month is said to have no occasion for it.
_TRIES = 6
#: More σ than this are drawn for nothing whose size is free.
_MOST = 60.0

PLANNERS: dict[str, Planner] = {
    family: partial(keyed.planned, family) for family in ("transposed", "digit", "decimal", "unit", "tare", "mass")
} | {
    "karat": records.karat, "duplicate": records.duplicate, "missing_ticket": records.missing_ticket,
    "uncounted": records.uncounted, "counted_twice": records.counted_twice, "wrong_area": records.wrong_area,
    "wrong_period": records.wrong_period, "determination": records.determination,
    "scale": happened.scale, "loss_rate": happened.loss_rate, "estimate": happened.estimate,
    "settlement": happened.settlement, "substituted": taken.substituted, "unticketed": taken.unticketed,
    "salted": happened.salted,
}  # fmt: skip


@dataclass
class Case:
    """A month with faults: the tickets as entered, the book, and the truth."""

    seed: int
    period: str
    tickets: list[Document]
    connection: sqlite3.Connection
    faults: list[Fault]


def planted(base: Base, families: Sequence[str], band: Band, chance: Random) -> Case | None:
    """Plant one fault of each family into a month; None where it has no occasion for one of them.

    What the book refuses was caught at the door: another place is tried. So it is where the size, measured by entering
    the month with and without, is not in the band.
    """
    for _ in range(_TRIES):
        plans = [_sized(base, PLANNERS[family](base, chance, band), band, chance) for family in families]
        case = _entered(base, [plan for plan in plans if plan is not None]) if None not in plans else None
        if case is None:
            continue
        if len(plans) > 1:
            if all(_shows(base, plan, band) for plan in case.plans):
                return case
            continue
        if band.high <= SMALL.high:
            case.faults = [replace(case.faults[0], together=_together(base, case))]
        multiple, area = case.multiple(base)
        if multiple is None or band.holds(multiple) or multiple > band.high > SMALL.high:
            case.faults = [replace(case.faults[0], multiple=multiple, shown_in=area)]
            return case
    return None


def _shows(base: Base, plan: Plan, band: Band) -> bool:
    """Return whether a fault among several is large enough by itself: a wrong alloy on an untouched lot shows nowhere.

    The size of those that were given one is known, and a whole lot has none.
    """
    if plan.whole or plan.multiple is not None:
        return True
    alone = _entered(base, [plan])
    multiple = alone.multiple(base)[0] if alone is not None else None
    return multiple is not None and multiple >= band.low * 0.99


def _together(base: Base, case: Entered) -> float | None:
    """Return what all differences say of the one fault together; what happens to metal shows once, or was so sized."""
    if case.plans[0].prepare is not None:
        return case.multiple(base)[0]
    return measured(base, case.world, case.connection, diffuse=True)[0]


def _sized(base: Base, plan: Plan | None, band: Band, chance: Random) -> Plan | None:
    """Give a plan its size: where only the book can tell how large it is, by trying it once, large, in proportion.

    Large, because a world in which a little is otherwise rounds many a reading otherwise: that is no evidence of it.
    """
    if plan is None or plan.scaled is None:
        return plan
    tried = _entered(base, [plan])
    multiple, area = tried.multiple(base) if tried is not None else (None, "")
    if not multiple:
        return None
    was = plan.unit or plan.size
    low, high = (multiple * limit / abs(was) for limit in plan.limits)
    low, high = max(band.low * 1.02, low), min(band.high * 0.98, _MOST, high)
    if low >= high:
        return None
    wanted = log_uniform(chance, low, high)
    return replace(plan.scaled(was * wanted / multiple), multiple=wanted, shown_in=area)


@dataclass
class Entered(Case):
    """A case with the world and the plans that it was made of."""

    world: World
    plans: list[Plan]

    def multiple(self, base: Base) -> tuple[float | None, str]:
        """Return how large its first fault is, None of a whole lot, and in which area it shows."""
        plan = self.plans[0]
        if plan.whole or plan.multiple is not None:
            return plan.multiple, plan.shown_in or plan.area
        if plan.dust:
            return dust_moved(base, self.connection, plan.area), plan.area
        return measured(base, self.world, self.connection, diffuse=plan.diffuse)


def _entered(base: Base, plans: list[Plan]) -> Entered | None:
    if len({lot for plan in plans for lot in plan.lots}) < sum(len(plan.lots) for plan in plans):
        return None
    try:
        world = base.again(partial(_prepare, plans))
    except NoOccasion:
        return None
    about = [plan.edit(world) if plan.edit else [] for plan in plans]
    if any(papers is None for papers in about):
        return None
    tickets = world.tickets()
    try:
        connection = book_of(tickets, base.setup)
    except LemelError:
        return None
    faults = [
        Fault(plan.family, plan.mode, plan.area, tuple(paper.number for paper in papers or ()), plan.lots, plan.what,
              plan.size, plan.metal, says=plan.says)
        for plan, papers in zip(plans, about, strict=True)
    ]  # fmt: skip
    return Entered(base.world.seed, base.last_period, tickets, connection, faults, world, plans)


def _prepare(plans: Sequence[Plan], floor: Floor) -> None:
    for plan in plans:
        if plan.prepare is not None:
            plan.prepare(floor)


def measured(
    base: Base, world: World, connection: sqlite3.Connection, *, diffuse: bool = False
) -> tuple[float, str]:
    """Return by how many σ the month with a fault differs from the one without, and in which area it shows most."""
    after = Differences(connection, base.differences.periods)
    known = {paper.number: signature(paper) for paper in world.papers}
    values = {(known[one.number], *one.key): one.values for one in after.all}
    changed = {}
    for place, one in enumerate(base.differences.all):
        found = values.get((base.signatures[one.number], *one.key))
        if found is not None and found != one.values:
            changed[place] = found
    by_area: dict[str, list[float]] = {}
    for place, found in changed.items():
        one = base.differences.all[place]
        if base.in_month(one.number):
            by_area.setdefault(one.area, []).append(one.multiples(found))
    if not by_area:
        return 0.0, ""
    if diffuse:
        return base.differences.deflection(changed), max(by_area, key=lambda a: fsum(x * x for x in by_area[a]))
    area = max(by_area, key=lambda a: max(by_area[a]))
    return max(by_area[area]), area


def dust_moved(base: Base, connection: sqlite3.Connection, area: str) -> float:
    """Return by how many σ a clean-out came out otherwise, in the metal that says most.

    σ of the estimates taken up (20 %, as assumed of an estimate without a standard deviation), of the recoverable share
    and of what was surveyed at the last clean-out.
    """
    return max(_dust_moved(base, connection, area, metal) for metal in ("gold", "silver"))


def _dust_moved(base: Base, connection: sqlite3.Connection, area: str, metal: str) -> float:
    before, after = (_dust(c, base.last_period, area, metal) for c in (base.connection, connection))
    swept = [p for p in base.in_period if p.kind == "sweep" and p.document["area"] == area]
    taken = [float(line["content"][metal].split()[0]) for p in swept for *_, line in p.lines()]
    parts = [0.2 * one for one in taken] + [0.06 * float(before["accrued"]), 0.05 * float(before["opening"])]
    sigma = fsum(part * part for part in parts) ** 0.5
    return abs(float(after["shortfall"]) - float(before["shortfall"])) / sigma if sigma else 0.0


def _dust(connection: sqlite3.Connection, period: str, area: str, metal: str) -> dict[str, str]:
    areas = reconcile(connection, period, metal)["areas"]
    found: dict[str, str] = next(one for one in areas if one["area"] == area)["dust"]
    return found
