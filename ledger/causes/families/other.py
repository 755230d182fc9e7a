"""None of the families: something that moved one figure, nobody knows what."""

from __future__ import annotations

from collections.abc import Iterator

from ledger.causes.evidence import Component
from ledger.causes.proposals import Proposal, View


def propose(view: View) -> Iterator[Proposal]:
    """Yield every single difference by itself, of either sign."""
    for place, component in view.singles:
        if component.kind not in ("settled before", "clean-out"):
            yield _proposal(view, place, component, view.rates["other"] / max(len(view.case.place), 100))


def _proposal(view: View, place: int, component: Component, prior: float) -> Proposal:
    lot = view.lot(component.lot)
    sigma = view.case.sigma(place)
    return Proposal(
        "other",
        (component.ticket, component.line, component.kind, component.metal),
        {place: 1.0},
        prior,
        lambda _: f"{component.number}{f', {lot}' if lot else ''}: none of the causes known here",
        f"ask everybody who signed {component.number}",
        least=2 * sigma,
        most=max(50 * sigma, abs(component.value)),
        tickets=(component.number,),
        lots=(lot,) if lot else (),
        of_size=view.bears(component),
    )
