"""Fine metal of a lot was changed for base metal: gross closes, fine does not."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from ledger.causes.case import Direction
from ledger.causes.determined import Determined, determined
from ledger.causes.earlier import by_assay, day_of
from ledger.causes.evidence import Component
from ledger.causes.proposals import Proposal, View
from ledger.quantities.mass import mass_text

_MOST = 0.3


@dataclass(frozen=True, slots=True)
class Change:
    """A lot with less of a metal in it from an instant on than was determined: one of so many chances."""

    lot: Determined
    metal: str
    since: int
    direction: Direction
    chances: int


def propose(view: View) -> Iterator[Proposal]:
    """Yield each lot with less in it than was determined, from any of its uses on; and lots since assayed."""
    yield from _awaited(view)
    for change in view.worth("changes", lambda: list(_changes(view)), lambda each: each.direction):
        yield _since(view, change)


def _awaited(view: View) -> Iterator[Proposal]:
    """Yield each lot whose assay found less than what went into it: it may have been changed before."""
    assays = [(p, c) for p, c in view.singles if c.kind == "revaluation" and c.metal and c.value > 0]
    for place, component in assays:
        ticket = view.evidence.tickets.get(component.ticket)
        if ticket is not None and ticket.kind == "assay":
            yield _before(view, place, component)


def _before(view: View, place: int, component: Component) -> Proposal:
    lot, metal = view.lot(component.lot), view.evidence.metals[component.metal]

    def say(size: float) -> str:
        mass = mass_text(round(size))
        return f"{lot}: about {mass} g of its {metal} was not there when it was assayed, though its mass was"

    sigma = view.case.sigma(place)
    return Proposal(
        "substituted",
        ("assayed", component.ticket, component.metal),
        {place: 1.0},
        view.rates["substituted"] / _lots_of(view),
        say,
        f"assay {lot} again, from a new sample; who had it between its making and {component.number}?",
        earlier=lambda size: by_assay(view, component.lot, size, sigma),
        least=2 * sigma,
        most=max(50 * sigma, abs(component.value)),
        way=1,
        tickets=(component.number,),
        lots=(lot,),
        of_size=view.bears(component),
    )


#: A month's rate is of a plant's month: of fewer lots than these each has its share of it, and no more.
_FEW = 100


def _lots_of(view: View) -> int:
    return max(len(_lots(view)), _FEW)


def _lots(view: View) -> list[Determined]:
    return [one for one in determined(view) if one.kind != "estimated" and any(one.fineness.values())]


def _changes(view: View) -> Iterator[Change]:
    """Yield each lot as changed before each ticket that touches it: what was made of it earlier is as it was."""
    touched, begun = _touched(view)
    for one in _lots(view):
        metal = max(one.columns, key=lambda m: one.fineness.get(m, 0.0))
        found: dict[int, Direction] = {}
        for since in touched.get(one.lot, ()):
            column = one.columns[metal]
            direction: Direction = {i: c for i, c in column.items() if _is_later(view, i, one.lot, since, begun)}
            if direction and len(direction) not in map(len, found.values()):  # ever fewer: as many are the same
                found[since] = direction
        for since, direction in found.items():
            yield Change(one, metal, since, direction, len(found))


def _touched(view: View) -> tuple[dict[str, list[int]], dict[int, int]]:
    """Return the instants of the tickets that touch each lot, by its number; and when each lot began this period."""
    touched: dict[str, dict[int, None]] = {}
    begun: dict[int, int] = {}
    for ticket in sorted(view.evidence.tickets.values(), key=lambda t: (t.instant, t.seq)):
        for line in ticket.lines:
            touched.setdefault(view.lot(line.lot), {})[ticket.instant] = None
            begun.setdefault(line.lot, ticket.instant)
    return {lot: list(instants) for lot, instants in touched.items()}, begun


def _is_later(view: View, place: int, lot: str, since: int, begun: Mapping[int, int]) -> bool:
    """Return whether a difference is of a lot itself, or of what was made of it, from an instant on."""
    component = view.evidence.components[place]
    of_itself = component.lot is None or view.lot(component.lot) == lot
    return component.instant >= since and (of_itself or begun.get(component.lot or 0, since) >= since)


def _since(view: View, change: Change) -> Proposal:
    one, since = change.lot, change.since
    sd = view.evidence.tape.source(one.sources[change.metal]).variance ** 0.5

    def say(size: float) -> str:
        mass = mass_text(round(size * one.mass))
        gone = f"about {mass} g of its {change.metal} is not there"
        return f"{one.lot}: {gone}, though its mass is: changed for other metal?"

    return Proposal(
        "substituted",
        (one.ticket, one.line, since),
        change.direction,
        view.rates["substituted"] / (_lots_of(view) * change.chances),
        say,
        f"assay what is left of {one.lot} for every metal, and weigh its density; when was it last sealed?",
        earlier=lambda size: (
            f"an assay of {one.lot} for every metal by {day_of(view, since)}, when it was next used: what is gone is "
            f"{abs(size) / sd:.0f} σ of its determination"
        ),
        least=2 * sd,
        most=max(_MOST, 2 * sd),
        way=1,
        tickets=(),
        lots=(one.lot,),
        of_size=tuple(one.mass if m == change.metal else 0.0 for m in view.evidence.metals),
    )
