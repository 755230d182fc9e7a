"""A number or a step that is not there: metal was moved, shipped or taken in, and no ticket says so."""

from __future__ import annotations

from collections.abc import Iterator

from ledger.causes.evidence import Component
from ledger.causes.missing import TOLD, UNTOLD, missing, number_missing
from ledger.causes.proposals import Proposal, View
from ledger.quantities.mass import mass_text


def propose(view: View) -> Iterator[Proposal]:
    """Yield whole lots gone or come without a ticket, and moves from bin to bin that were not written."""
    gaps = number_missing(view)
    rate = view.rates["missing_ticket"] * (TOLD if gaps else UNTOLD)
    for lot in missing(view):
        told = lot.found_later() is not None or lot.elsewhere() is not None
        prior = rate * (UNTOLD**2 if told else 1.0)
        yield _gone(view, lot.place, lot.component, lot.lot, gaps, prior)
    for place, component in view.singles:
        if component.kind == "count" and component.value < 0 and not _recorded(view, component):
            yield _came(view, place, component, rate / 4)
    yield from _between_bins(view, rate / 4)


def _words(gaps: list[str]) -> str:
    shown = ", ".join(gaps[:3]) + (" …" if len(gaps) > 3 else "")
    return f"; not in the book and not voided: {shown}" if gaps else ""


def _gone(view: View, place: int, component: Component, lot: str, gaps: list[str], prior: float) -> Proposal:
    return Proposal(
        "missing_ticket",
        ("gone", component.ticket, component.line),
        {place: 1.0},
        prior,
        lambda _: f"{lot} went out (shipped, moved or used) and its ticket was never entered{_words(gaps)}",
        f"look for the paper of {lot}: delivery notes, the pad, job tickets{_words(gaps)}",
        theta=component.value,
        give=view.case.sigma(place),
        tickets=(component.number,),
        lots=(lot,),
        of_size=view.bears(component),
        what={"number": gaps[0]} if gaps else {},
    )


def _recorded(view: View, component: Component) -> bool:
    ticket = view.evidence.tickets.get(component.ticket)
    lines = [x for x in (ticket.lines if ticket else ()) if x.lot == component.lot and x.number == component.line]
    return any((line.recorded or (1,))[0] for line in lines)


def _came(view: View, place: int, component: Component, prior: float) -> Proposal:
    lot = view.lot(component.lot)
    return Proposal(
        "missing_ticket",
        ("came", component.ticket, component.line),
        {place: 1.0},
        prior,
        lambda _: f"{lot} came to {component.area} and no ticket says so",
        f"who brought {lot} to {component.area}, and from where?",
        theta=component.value,
        give=view.case.sigma(place),
        tickets=(component.number,),
        lots=(lot,),
        of_size=view.bears(component),
    )


def _between_bins(view: View, rate: float) -> Iterator[Proposal]:
    """Yield pairs of one lot short and another over: metal that went from the one to the other unwritten."""
    weighed = [(p, c) for p, c in view.singles if c.kind in ("reweighing", "count") and view.evidence.fine_of(c.lot)]
    short = [each for each in weighed if each[1].value > 0]
    over = [each for each in weighed if each[1].value < 0]
    pairs = [(a, b) for a in short for b in over if a[1].lot != b[1].lot and 0.5 < -a[1].value / b[1].value < 2]
    for (place, one), (other_place, other) in pairs[:_PAIRS]:
        yield _pair(view, place, one, other_place, other, rate / max(len(pairs), 10))


_PAIRS = 400


def _pair(view: View, place: int, one: Component, other_place: int, other: Component, prior: float) -> Proposal:
    giver, taker = view.lot(one.lot), view.lot(other.lot)

    def say(size: float) -> str:
        return f"about {mass_text(round(size))} g went from {giver} to {taker} and no ticket says so"

    return Proposal(
        "missing_ticket",
        ("between", one.ticket, one.line, other.ticket, other.line),
        {place: 1.0, other_place: -1.0},
        prior,
        say,
        f"who took metal from {giver} to {taker}?",
        least=2 * view.case.sigma(place),
        most=max(1e9, 20 * view.case.sigma(place)),
        way=1,
        tickets=(one.number, other.number),
        lots=(giver, taker),
        of_size=view.bears(one),
    )
