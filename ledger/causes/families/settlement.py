"""A refiner agrees to less than is there, lot after lot."""

from __future__ import annotations

from collections.abc import Iterator
from statistics import median

from ledger.balance.daily.settlements import settlements
from ledger.causes.case import Direction
from ledger.causes.earlier import by_lots
from ledger.causes.families.loss_rate import whole
from ledger.causes.proposals import Proposal, View

_LEAST, _MOST = 1e-4, 0.03


def propose(view: View) -> Iterator[Proposal]:
    """Yield each refiner as out by a share of the content."""
    for (party, metal), direction in view.worth("refiners", lambda: _by_refiner(view).items(), lambda each: each[1]):
        yield _proposal(view, party, view.evidence.metals[metal], direction)


def _by_refiner(view: View) -> dict[tuple[str, int], Direction]:
    """Return the settled lots by refiner and metal: of this period all, of earlier ones those of our own assay."""
    measured = _measured(view)
    found: dict[tuple[str, int], dict[int, float]] = {}
    for i in view.case.place:
        component = view.evidence.components[i]
        if component.kind == "settled before" and (component.number, component.area) in measured:
            found.setdefault((component.operation, component.metal), {})[i] = component.expected
        ticket = view.evidence.tickets.get(component.ticket)
        if component.kind == "revaluation" and ticket is not None and ticket.kind == "settle" and component.metal:
            line = next((x for x in ticket.lines if x.number == component.line and x.lot == component.lot), None)
            if line is not None:
                content = float((line.recorded or line.content)[component.metal])
                found.setdefault((ticket.document.get("party", ""), component.metal), {})[i] = content
    return dict(found)


def _measured(view: View) -> set[tuple[str, str]]:
    return {
        (lot.ticket, lot.lot)
        for index in range(1, len(view.evidence.metals))
        for refiner in settlements(view.evidence.connection, index)
        for lot in refiner.lots
        if lot.basis == "measured"
    }


def _proposal(view: View, party: str, metal: str, direction: Direction) -> Proposal:
    sigma = median(view.case.sigma(i) / abs(content) for i, content in direction.items() if content)

    def say(size: float) -> str:
        way = "less" if size > 0 else "more"
        return f"{party} agrees to about {abs(size):.3%} {way} {metal} than the book has, over {len(direction)} lots"

    return Proposal(
        "settlement",
        (party, metal),
        direction,
        view.rates["settlement"],
        say,
        f"split the next sample with {party} and an umpire; `lemel estimates` shows the sign of every lot",
        earlier=lambda size: by_lots(size, sigma, len(direction)),
        least=_LEAST,
        most=_MOST,
        what={"party": party},
        of_size=whole(view, {i: x for i, x in direction.items() if view.evidence.components[i].bears}),
    )
