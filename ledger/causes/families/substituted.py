"""Fine metal of a lot was changed for base metal: gross closes, fine does not."""

from __future__ import annotations

from collections.abc import Iterator

from ledger.causes.case import Direction
from ledger.causes.determined import Determined, determined
from ledger.causes.earlier import by_assay, day_of
from ledger.causes.evidence import Component
from ledger.causes.proposals import Proposal, View
from ledger.quantities.mass import mass_text

_MOST = 0.3


def propose(view: View) -> Iterator[Proposal]:
    """Yield each lot with less in it than was determined, from any of its uses on; and lots since assayed."""
    yield from _awaited(view)
    for one in view.worth("substitutable", lambda: _lots(view), lambda d: d.any_column):
        metal = max(one.columns, key=lambda m: one.fineness.get(m, 0.0))
        column = one.columns[metal]
        dates = sorted({view.evidence.components[i].instant for i in column})
        for since in dates:
            yield _since(
                view,
                one,
                metal,
                {i: c for i, c in column.items() if view.evidence.components[i].instant >= since},
                since,
                len(_lots(view)) * len(dates),
            )


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
        view.rates["substituted"] / _CHANCES,
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


#: Assays a month beside which one lot's is to stand out.
_CHANCES = 20


def _lots(view: View) -> list[Determined]:
    return [one for one in determined(view) if one.kind != "estimated" and any(one.fineness.values())]


def _since(view: View, one: Determined, metal: str, column: Direction, since: int, chances: int) -> Proposal:
    sd = view.evidence.tape.source(one.sources[metal]).variance ** 0.5

    def say(size: float) -> str:
        mass = mass_text(round(size * one.mass))
        return f"{one.lot}: about {mass} g of its {metal} is not there, though its mass is: changed for other metal?"

    return Proposal(
        "substituted",
        (one.ticket, one.line, since),
        column,
        view.rates["substituted"] / max(chances, 1),
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
        of_size=tuple(one.mass if m == metal else 0.0 for m in view.evidence.metals),
    )
