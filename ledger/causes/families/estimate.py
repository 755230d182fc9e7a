"""An estimate was not borne out: slag, sweeps or filters that held more or less; dust that did not come back."""

from __future__ import annotations

from collections.abc import Iterator

from ledger.causes.case import Direction
from ledger.causes.earlier import in_place_of_estimate
from ledger.causes.evidence import Component
from ledger.causes.proposals import Proposal, View
from ledger.quantities.mass import mass_text


def propose(view: View) -> Iterator[Proposal]:
    """Yield each estimated lot that was assayed, settled or thrown away, and each clean-out."""
    for place, component in view.singles:
        if component.kind == "revaluation" and _was_estimated(view, component):
            yield _lot(view, place, component)
    for area, direction in view.worth("clean-outs", lambda: _clean_outs(view).items(), lambda each: each[1]):
        yield _dust(view, area, direction)


def _clean_outs(view: View) -> dict[str, Direction]:
    """Return, by area cleaned out, the dust that was accrued, in all metals: what a share of it not coming does."""
    found: dict[str, dict[int, float]] = {}
    for i in view.case.place:
        component = view.evidence.components[i]
        if component.kind == "clean-out" and component.expected:
            found.setdefault(component.area, {})[i] = component.expected
    return dict(found)


def _was_estimated(view: View, component: Component) -> bool:
    """Return whether the lot stood on an estimate before the ticket."""
    row = view.evidence.connection.execute(
        "SELECT v.origin, d.basis FROM valuation AS v LEFT JOIN determination AS d ON d.id = v.determination "
        "WHERE v.lot = ? AND v.ticket < ? ORDER BY v.id DESC LIMIT 1",
        (component.lot, component.ticket),
    ).fetchone()
    return row is not None and (row[0] is not None or row[1] == "estimated")


def _lot(view: View, place: int, component: Component) -> Proposal:
    lot, metal = view.lot(component.lot), view.evidence.metals[component.metal]

    def say(size: float) -> str:
        way = "much" if size > 0 else "little"
        return f"{lot} was estimated at about {mass_text(round(abs(size)))} g of {metal} too {way}"

    sigma = view.case.sigma(place)
    return Proposal(
        "estimate",
        (component.ticket, component.line, component.metal),
        {place: 1.0},
        view.rates["estimate"] / 25,
        say,
        f"how was {lot} sampled? `lemel estimates` shows how this stream has settled before",
        earlier=lambda _: in_place_of_estimate(view, component.lot),
        least=sigma,
        most=20 * sigma,
        tickets=(component.number,),
        lots=(lot,),
        of_size=view.bears(component),
    )


def _dust(view: View, area: str, direction: Direction) -> Proposal:
    def say(size: float) -> str:
        way = "did not come" if size > 0 else "came beyond what was accrued"
        return f"about {abs(size):.0%} of the dust of {area} {way} at its clean-out"

    of_metal = {view.evidence.components[i].metal: ng for i, ng in direction.items()}
    return Proposal(
        "estimate",
        ("dust", area),
        direction,
        view.rates["estimate"],
        say,
        f"where does the dust of {area} go? filters, drains, drums of other areas; settle its sweeps apart",
        earlier=lambda _: f"a sample of each drum swept in {area}, assayed by ourselves before the drum is sealed",
        least=0.1,
        most=1.0,
        what={"area": area},
        of_size=tuple(of_metal.get(i, 0.0) for i in range(len(view.evidence.metals))),
    )
