"""A move names the wrong area: its lot is not found in one and stands in another."""

from __future__ import annotations

from collections.abc import Iterator

from ledger.causes.evidence import Component
from ledger.causes.missing import TOLD, Missing, missing
from ledger.causes.proposals import Proposal, View


def propose(view: View) -> Iterator[Proposal]:
    """Yield each lot that one area's count missed and another's lists."""
    for lot in missing(view):
        found = lot.elsewhere()
        if found is not None:
            yield _proposal(view, lot, *found)


def _move(view: View, lot: Missing) -> str:
    row = view.evidence.connection.execute(
        "SELECT t.number FROM line AS l JOIN ticket AS t ON t.seq = l.ticket WHERE l.lot = ? AND l.area = ? "
        "AND t.instant < ? AND l.side IN ('in', 'receive', 'out') ORDER BY t.instant DESC, t.seq DESC LIMIT 1",
        (lot.component.lot, lot.component.area, lot.component.instant),
    ).fetchone()
    return str(row[0]) if row else lot.component.number


def _proposal(view: View, lot: Missing, place: int, other: Component) -> Proposal:
    number = _move(view, lot)
    here, there = lot.component, other
    return Proposal(
        "wrong_area",
        (number, here.ticket, here.line),
        {lot.place: here.value, place: there.value},
        view.rates["wrong_area"] * TOLD,
        lambda _: f"{lot.lot} went to {there.area}; {number} says {here.area}",
        f"look at the paper of {number}; {lot.lot} stands in {there.area}",
        theta=1.0,
        give=view.case.sigma(lot.place) / abs(here.value or 1.0),
        tickets=(number, there.number, here.number),
        lots=(lot.lot,),
        of_size=tuple(here.value * x for x in view.bears(here)),
        mend={"ticket": number, "set": {"to": there.area}},
    )
