"""Metal left without a ticket: from a lot, during work, a little each time, or all of a lot.

An unrecorded return, residue or taking leave this same pattern.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from ledger.causes.case import Direction
from ledger.causes.evidence import Component
from ledger.causes.families.loss_rate import by_operation, whole
from ledger.causes.proposals import Proposal, View
from ledger.quantities.mass import mass_text

#: Of the month's rate: from lots, during work, a little each time in an area or operation, a whole lot.
_LOT, _WORK, _EACH_TIME, _WHOLE = 0.5, 0.2, 0.2, 0.1
#: What a lot of base metal counts for beside one with fine metal in it.
_BASE: Final = 0.05
#: How many times likelier another is in an area where one is already taken as true: it is seldom the only one.
_AGAIN: Final = 30.0
_WEIGHED = frozenset(("reweighing", "transfer", "count"))
CAUTION_NOTE: Final = "an unrecorded return, a residue or a taking all look like this"


def propose(view: View) -> Iterator[Proposal]:
    """Yield takings from every lot weighed, from every work ticket, and a little each time."""
    rate = view.rates["unticketed"]
    chances = _chances(view)
    for place, component in view.singles:
        if component.kind in _WEIGHED:
            share = 1.0 if view.evidence.fine_of(component.lot) else _BASE
            again = 1 + _AGAIN * sum(area == component.area for area in view.taken_from)
            yield _lot(view, place, component, rate * _LOT * share * again / chances["lots"])
        elif component.kind == "work":
            yield _work(view, place, component, rate * _WORK / chances["work"])
        elif component.kind == "missed":
            yield _whole_lot(view, place, component, rate * _WHOLE / chances["lots"])
    yield from _each_time(view, rate * _EACH_TIME)


def _chances(view: View) -> dict[str, int]:
    kinds = [view.evidence.components[i] for i in view.case.place]
    lots = sum(c.kind in _WEIGHED and view.evidence.fine_of(c.lot) for c in kinds)
    return {"lots": max(lots, _FEW), "work": max(sum(c.kind == "work" for c in kinds), _FEW)}


#: A month's rate is of a plant's month: of fewer chances than these each has its share of it, and no more.
_FEW: Final = 100


def _lot(view: View, place: int, component: Component, prior: float) -> Proposal:
    lot = view.lot(component.lot)
    held = _held(view, component)

    def say(size: float) -> str:
        return (
            f"about {mass_text(round(size))} g of {lot} left without a ticket between its last weighing and "
            f"{component.number}: {CAUTION_NOTE}"
        )

    return Proposal(
        "unticketed",
        ("lot", component.ticket, component.line, component.kind),
        {place: 1.0},
        prior,
        say,
        f"who handled {lot} since it was last weighed, and where are its residues? weigh it once more if it stands",
        least=2 * view.case.sigma(place),
        most=max(held, 4 * view.case.sigma(place)),
        way=1,
        tickets=(component.number,),
        lots=(lot,),
        of_size=view.bears(component),
    )


def _held(view: View, component: Component) -> float:
    ticket = view.evidence.tickets.get(component.ticket)
    for line in ticket.lines if ticket else ():
        if line.number == component.line and line.lot == component.lot:
            return float((line.recorded or line.content)[component.metal]) or float(line.content[component.metal])
    return abs(component.value)


def _work(view: View, place: int, component: Component, prior: float) -> Proposal:
    metal = view.evidence.metals[component.metal]

    def say(size: float) -> str:
        return (
            f"{component.number} ({component.operation}) lost about {mass_text(round(size))} g of {metal} beyond its "
            f"normal loss: metal left without a ticket while it was worked; {CAUTION_NOTE}"
        )

    return Proposal(
        "unticketed",
        ("work", component.ticket),
        {place: 1.0},
        prior,
        say,
        f"look for residue of {component.number} at its machine; was all of its output weighed?",
        least=2 * view.case.sigma(place),
        most=max(50 * view.case.sigma(place), 1e9),
        way=1,
        tickets=(component.number,),
        of_size=view.bears(component),
    )


def _whole_lot(view: View, place: int, component: Component, prior: float) -> Proposal:
    lot = view.lot(component.lot)
    return Proposal(
        "unticketed",
        ("whole", component.ticket, component.line),
        {place: 1.0},
        prior,
        lambda _: f"{lot} was not found at the count: all of it left without a ticket; {CAUTION_NOTE}",
        f"search for {lot}; who handled it last?",
        theta=component.value,
        give=view.case.sigma(place),
        tickets=(component.number,),
        lots=(lot,),
        of_size=view.bears(component),
    )


def _each_time(view: View, rate: float) -> Iterator[Proposal]:
    found = view.bundle("each time", lambda: _streams(view), lambda each: each[2])[0]
    for sort, code, direction in view.worth("each time", lambda: _streams(view), lambda each: each[2]):
        yield _little(view, sort, code, direction, rate / max(len(found), 1))


def _streams(view: View) -> list[tuple[str, str, Direction]]:
    found: list[tuple[str, str, Direction]] = []
    areas: dict[str, dict[int, float]] = {}
    for i in view.case.place:
        component = view.evidence.components[i]
        if component.kind in ("reweighing", "count") and view.evidence.fine_of(component.lot):
            areas.setdefault(component.area, {})[i] = 1.0
    found += [("area", area, direction) for area, direction in areas.items() if len(direction) > 2]
    for code, loss in by_operation(view).items():
        work = {i: x for i, x in loss.items() if view.evidence.components[i].kind == "work"}  # what is taken is no dust
        if len(work) > 2:
            found.append(("operation", code, work))
    return found


def _little(view: View, sort: str, code: str, direction: Direction, prior: float) -> Proposal:
    sums = whole(view, direction)

    def say(size: float) -> str:
        where = f"lots in {code}" if sort == "area" else f"work in {code}"
        return f"a little left without a ticket from {where}, time after time; {CAUTION_NOTE}"

    least, most = (1e6, 1e9) if sort == "area" else (0.02, 1.0)
    return Proposal(
        "unticketed",
        ("each time", sort, code),
        direction,
        prior,
        say,
        f"count {code} unannounced, twice within a week; `lemel patterns` over the last months",
        least=least,
        most=most,
        way=1,
        what={"operation": code} if sort == "operation" else {"area": code},
        of_size=sums,
    )
