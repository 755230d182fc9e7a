"""An operation's normal loss differs from what is set."""

from __future__ import annotations

from collections.abc import Iterator

from ledger.causes.case import Direction
from ledger.causes.proposals import Proposal, View

_LEAST, _MOST = 0.02, 1.0


def by_operation(view: View) -> dict[str, Direction]:
    """Return, by operation, its tickets' normal loss: what as much again does to their differences, and to dust."""
    found: dict[str, dict[int, float]] = {}
    for i in view.case.place:
        component = view.evidence.components[i]
        if component.kind == "work" and component.expected > 0:
            found.setdefault(component.operation, {})[i] = component.expected
    for i in view.case.place:
        component = view.evidence.components[i]
        for code in found if component.kind == "clean-out" else ():
            more = view.evidence.dust.get((code, component.area, component.metal), 0.0)
            if more:
                found[code][i] = -more
    return dict(found)


def propose(view: View) -> Iterator[Proposal]:
    """Yield each operation with a rate of its own this month."""
    for code, direction in view.worth("rates", lambda: by_operation(view).items(), lambda each: each[1]):
        yield _proposal(view, code, direction)


def _proposal(view: View, code: str, direction: Direction) -> Proposal:
    def say(size: float) -> str:
        way = "more" if size > 0 else "less"
        return f"{code} loses about {abs(size):.0%} {way} than its set rate, ticket after ticket"

    return Proposal(
        "loss_rate",
        (code,),
        direction,
        view.rates["loss_rate"],
        say,
        f"look at what changed in {code} (tooling, material, people), at its sweeps, and at `lemel rates --propose`",
        least=_LEAST,
        most=_MOST,
        what={"operation": code},
        of_size=whole(view, direction),
    )


def whole(view: View, direction: Direction) -> tuple[float, ...]:
    """Return the sum of a direction over all areas, in ng of each metal."""
    size = len(view.evidence.metals)
    sums = [0.0] * size
    for i, coefficient in direction.items():
        for metal, share in enumerate(view.bears(view.evidence.components[i])):
            sums[metal] += coefficient * share
    return tuple(sums)
