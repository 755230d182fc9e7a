"""A ticket bears the wrong date: what left before the count was booked after it."""

from __future__ import annotations

from collections.abc import Iterator

from ledger.causes.missing import TOLD, Missing, missing
from ledger.causes.proposals import Proposal, View


def propose(view: View) -> Iterator[Proposal]:
    """Yield each lot that a count did not find and a ticket soon after takes out."""
    for lot in missing(view):
        later = lot.later_by_paper()
        if later:
            yield _proposal(view, lot, later, view.rates["wrong_period"] * TOLD)


def _proposal(view: View, lot: Missing, later: str, prior: float) -> Proposal:
    component = lot.component
    return Proposal(
        "wrong_period",
        (later, component.ticket, component.line),
        {lot.place: 1.0},
        prior,
        lambda _: f"{lot.lot} left before the count; {later}, which takes it out, is dated after it",
        f"compare the date of {later} with its delivery note",
        theta=component.value,
        give=view.case.sigma(lot.place),
        tickets=(later, component.number),
        lots=(lot.lot,),
        of_size=view.bears(component),
    )
