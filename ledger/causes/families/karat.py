"""A line states the wrong karat, alloy or side count."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from ledger.causes.determined import Determined, determined
from ledger.causes.proposals import Proposal, View


def propose(view: View) -> Iterator[Proposal]:
    """Yield each line that states a composition by name, with every other name of the set-up."""
    for one in view.worth("named", lambda: [d for d in determined(view) if d.named], lambda d: d.any_column):
        for code, fineness in _names(view).items():
            direction = one.direction(fineness)
            if code != one.named and direction:
                yield _proposal(view, one, code, direction, view.rates["karat"] / max(len(_names(view)) - 1, 1))


def _names(view: View) -> dict[str, dict[str, Fraction]]:
    setup = view.evidence.setup
    names = {alloy.code: dict(alloy.fineness) for alloy in setup.alloy}
    names.update({clad.code: setup.clad_fineness(clad.code) for clad in setup.clad})
    return names


def _proposal(view: View, one: Determined, code: str, direction: dict[int, float], prior: float) -> Proposal:
    def say(_: float) -> str:
        return f"{one.ticket}: {one.lot} was booked as {one.named}; it is {code}"

    return Proposal(
        "karat",
        (one.ticket, one.line, code),
        direction,
        prior,
        say,
        f"assay what is left of {one.lot}, or look at its papers",
        theta=1.0,
        tickets=(one.ticket,),
        lots=(one.lot,),
        of_size=one.content_at(view, code, _names(view)[code]),
        mend=_mend(view, one, code),
        relative=_RELATIVE,
    )


#: Another karat is no small change: what follows from it is so only to first order.
_RELATIVE = 0.3


def _mend(view: View, one: Determined, code: str) -> dict[str, object] | None:
    """Return the corrected line; a composition stated otherwise than by alloy or clad is for a person to write."""
    field = next((name for name in ("alloy", "clad") if name in one.document), None)
    known = view.evidence.setup.alloys if field == "alloy" else view.evidence.setup.clads
    return {"ticket": one.ticket, "line": one.line, "set": {field: code}} if field and code in known else None
