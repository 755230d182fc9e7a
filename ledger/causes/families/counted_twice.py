"""A lot is on the count twice."""

from __future__ import annotations

from collections.abc import Iterator

from ledger.causes.evidence import Component
from ledger.causes.proposals import Proposal, View


def propose(view: View) -> Iterator[Proposal]:
    """Yield each counted lot that is over and is listed more than once in its area's counts of the period."""
    for place, component in view.singles:
        if component.kind == "count" and component.value < 0:
            lines, way = _listed(view, component), -1
        elif component.kind in _WEIGHED and component.value > 0:
            lines, way = _before(view, component), 1
        else:
            continue
        if len(lines) > 1:
            yield _proposal(view, place, component, lines, way)


_WEIGHED = frozenset(("reweighing", "count", "missed"))


def _before(view: View, component: Component) -> list[tuple[str, int]]:
    """Return the lines of the lot's last count before a weighing that shows less."""
    rows = view.evidence.connection.execute(
        "SELECT t.number, l.weighed_ng, t.instant FROM line AS l JOIN ticket AS t ON t.seq = l.ticket WHERE l.lot = ? "
        "AND l.side = 'count' AND t.instant < ? AND t.instant > ? AND l.weighed_ng IS NOT NULL "
        "ORDER BY t.instant DESC, l.id",
        (component.lot, component.instant, component.instant - _BACK),
    ).fetchall()
    return [(number, ng) for number, ng, instant in rows if rows[0][2] - instant < 86_400_000_000]


_BACK = 70 * 86_400_000_000


def _listed(view: View, component: Component) -> list[tuple[str, int]]:
    """Return tickets and gross readings of the area's count lines for the lot within a day of this one."""
    found = []
    for ticket in view.evidence.tickets.values():
        if ticket.kind == "count" and abs(ticket.instant - component.instant) < 86_400_000_000:
            found += [
                (ticket.number, line.weighed_ng or 0)
                for line in ticket.lines
                if line.lot == component.lot and line.side == "count" and line.area == component.area
            ]
    return found


def _proposal(view: View, place: int, component: Component, lines: list[tuple[str, int]], way: int) -> Proposal:
    lot = view.lot(component.lot)
    sheets = tuple(dict.fromkeys(number for number, _ in lines))
    return Proposal(
        "counted_twice",
        (component.ticket, component.line),
        {place: 1.0},
        view.rates["counted_twice"] * 30,
        lambda _: f"{lot} {'is' if way < 0 else 'was'} counted twice: {' and '.join(sheets)}",
        f"strike {lot} from one of the sheets",
        theta=way * float(lines[-1][1]),
        give=view.case.sigma(place),
        tickets=sheets,
        lots=(lot,),
        of_size=view.bears(component),
    )
