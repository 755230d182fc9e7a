"""A lot stood there and is on no count sheet."""

from __future__ import annotations

from collections.abc import Iterator

from ledger.causes.missing import TOLD, UNTOLD, Missing, missing
from ledger.causes.proposals import Proposal, View


def propose(view: View) -> Iterator[Proposal]:
    """Yield each lot that a count did not find, likelier where it turned up again."""
    for lot in missing(view):
        later = lot.found_later()
        told = TOLD if later else UNTOLD
        factor = 1.0 if lot.elsewhere() is not None or lot.later_by_paper() else told
        yield _proposal(view, lot, later[0] if later else None, view.rates["uncounted"] * factor)


def _proposal(view: View, lot: Missing, later: str | None, prior: float) -> Proposal:
    component = lot.component
    again = f"; {later} handles it afterwards" if later else ""
    return Proposal(
        "uncounted",
        (component.ticket, component.line),
        {lot.place: 1.0},
        prior,
        lambda _: f"{lot.lot} stood in {component.area} and is on no sheet of the count{again}",
        f"look for {lot.lot} in {component.area} and count it",
        theta=component.value,
        give=view.case.sigma(lot.place),
        tickets=(component.number,),
        lots=(lot.lot,),
        of_size=view.bears(component),
    )
