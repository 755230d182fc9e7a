"""What the set-up could state instead: learned rates drawn towards those in force, where the tickets contradict these.

A change is proposed and never made. What is within the interval is kept: chance is no reason to change a rate.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, log10, sqrt
from typing import Any, Final

from ledger.balance.rates.found import Found, Look
from ledger.balance.rates.learned import Deviation
from ledger.balance.rates.shrinkage import shrinkage
from ledger.balance.rates.ticket_rates import ANY, Material
from ledger.plant.process import DRIFT_OF_SPREAD, SPREAD_OF_LOSS

#: By how much of itself a spread or drift has to be off before it is worth a change.
WORTH_A_CHANGE: Final = 1 / 3

_MOST_DIGITS: Final = 6
_GRAM: Final = 1_000_000_000


@dataclass(frozen=True, slots=True)
class Trust:
    """How far the stated rates of a plant are off, as a multiple of what one ticket of one month varies by.

    ``off`` is learned over ``operations`` rates; 1 where they are too few (``learned`` false): a stated rate then
    weighs as much as one ticket of one month.
    """

    off: float
    operations: int
    learned: bool


@dataclass(frozen=True, slots=True)
class Proposal:
    """What is said of one rate: keep, raise, lower, state (none is), change (not the share, but what goes with it),
    derived, or too few (nothing gives an interval).

    ``drawn``: the learned rate drawn towards the one in force. ``values``: what the set-up would state, key by key;
    ``found`` as learned beside a fixed part that would change.
    """

    found: Found
    says: str
    drawn: float
    values: Mapping[str, str]

    @property
    def material(self) -> Material:
        """The alloy or class that the rate is for."""
        return self.found.material

    @property
    def raises(self) -> bool:
        """Whether it allows more than what is in force, by its share, its fixed part, or its scatter."""
        in_force = self.found.in_force
        if in_force.stated is None or in_force.scatter is None:
            return False
        now = {"loss": float(in_force.stated), "each": in_force.each / _GRAM, "spread": in_force.scatter.spread,
               "drift": in_force.scatter.drift}  # fmt: skip
        return any(_number(text) > now[key] for key, text in self.values.items())


def propose(seen: Look) -> tuple[list[Proposal], list[Proposal], Trust]:
    """Return the proposal for each rate, for each material that wants one of its own, and the trust in those stated."""
    found = [_with_each(one) for one in seen.rates]
    trust, drawn = _drawn(found)
    rates = [_proposal(one, rate) for one, rate in zip(found, drawn, strict=True)]
    by_operation = {p.found.operation: p for p in rates if p.material == ANY}
    materials = [_of_material(one, by_operation[one.operation]) for one in seen.materials]
    return rates, [p for p in materials if p.says != "keep"], trust


def _with_each(found: Found) -> Found:
    """Return it with the fixed part as learned, where tickets contradict the one in force and it matters."""
    each = proposed_each(found)
    return found if each is None else found.with_each(each)


def proposed_each(found: Found) -> int | None:
    """Return the fixed part to state, in ng; None where the one in force will do.

    It is to lie outside the interval, and to move the middle ticket's rate by more than half the rate's own interval.
    """
    slope, interval, stated = found.each, found.learned.interval, found.in_force.each
    if slope is None or interval is None or found.in_force.how != "stated" or slope.low <= stated <= slope.high:
        return None
    sd = max((slope.high - slope.low) / 4 / _GRAM, 1e-9)
    each = round(Fraction(_rounded(max(slope.slope, 0.0) / _GRAM, sd)) * _GRAM)
    matters = abs(each - stated) / found.middle_input > (interval[1] - interval[0]) / 2
    return each if matters else None


def _drawn(found: Sequence[Found]) -> tuple[Trust, list[float]]:
    """Return each learned rate drawn towards the one in force, but never out of its own interval.

    Deviations are measured in what one ticket of one month varies by, as in force; their own variance among a plant's
    operations says what its stated rates are worth.
    """
    known = [one for one in found if _unit(one) and one.in_force.how == "stated" and one.learned.degrees]
    values = [(one.learned.centre - (one.in_force.loss or 0.0)) / sqrt(_unit(one)) for one in known]
    shrunk = shrinkage(values, [one.learned.variance / _unit(one) for one in known], 0.0)
    trust = Trust(1.0, len(known), False) if shrunk is None else Trust(sqrt(shrunk.between), len(known), True)
    kept = {} if shrunk is None else {id(one): part for one, part in zip(known, shrunk.kept, strict=True)}
    return trust, [_towards(one, one.in_force.loss, kept.get(id(one))) for one in found]


def _unit(found: Found) -> float:
    """Return the variance of one ticket's rate in one month, as in force."""
    scatter = found.in_force.scatter
    return scatter.spread**2 + scatter.drift**2 if scatter else 0.0


def _towards(found: Found, point: float | None, kept: float | None) -> float:
    """Return the learned rate drawn towards a point; without a part to keep, by one ticket of one month."""
    learned = found.learned
    if point is None or learned.interval is None:
        return learned.centre
    if kept is None:
        unit = _unit(found) or learned.spread.sd**2 + learned.drift.sd**2
        kept = unit / (unit + learned.variance) if unit else 0.0
    low, high = learned.interval
    return min(max(point + kept * (learned.centre - point), low), high)


def _proposal(found: Found, drawn: float) -> Proposal:
    in_force, interval = found.in_force, found.learned.interval
    if interval is None or in_force.how == "derived":
        return Proposal(found, "derived" if interval else "too few", drawn, {})
    text = _share_text(max(drawn, 0.0), sqrt(found.learned.variance))
    stated, values = in_force.stated, dict[str, str]()
    if stated is None or not (interval[0] <= float(stated) <= interval[1] or share(text) == stated):
        values["loss"] = text
    each = proposed_each(found)
    if each is not None:
        values["each"] = f"{each / _GRAM:.9f}".rstrip("0").rstrip(".") + " g"
    values |= _scatter_values(found, values)
    if stated is None:
        return Proposal(found, "state", drawn, values)
    if "loss" in values:
        return Proposal(found, "raise" if share(text) > stated else "lower", drawn, values)
    return Proposal(found, "change" if values else "keep", drawn, values)


def _scatter_values(found: Found, values: Mapping[str, str]) -> dict[str, str]:
    """Return the spread and drift to state: where none is, or the tickets contradict it by enough to matter."""
    now, changed = _scatter_after(found, values), dict[str, str]()
    for key in ("spread", "drift"):
        learned: Deviation = getattr(found.learned, key)
        if now is None or (learned.leaves_out(now[key]) and abs(learned.sd - now[key]) > WORTH_A_CHANGE * now[key]):
            sd = (min(learned.high, 3 * learned.sd) - learned.low) / 4
            changed[key] = _share_text(learned.sd, sd)
    return changed


def _scatter_after(found: Found, values: Mapping[str, str]) -> dict[str, float] | None:
    """Return the spread and drift in force once the loss is changed: where they are assumed, they go with it."""
    in_force = found.in_force
    if in_force.scatter is None:
        return None
    spread, drift = in_force.scatter.spread, in_force.scatter.drift
    if "spread" in in_force.assumed and "loss" in values:
        spread = float(share(values["loss"]) * SPREAD_OF_LOSS)
        drift = spread * float(DRIFT_OF_SPREAD) if "drift" in in_force.assumed else drift
    return {"spread": spread, "drift": drift}


def _of_material(found: Found, whole: Proposal) -> Proposal:
    """Return the proposal for a material against what would hold for its operation: kept within its interval."""
    stated = share(whole.values["loss"]) if "loss" in whole.values else whole.found.in_force.stated
    drawn = _towards(found, whole.drawn if stated is None else float(stated), None)
    interval = found.learned.interval
    text = _share_text(max(drawn, 0.0), sqrt(found.learned.variance))
    apart = interval is not None and stated is not None and not interval[0] <= float(stated) <= interval[1]
    if not apart or stated is None or share(text) == stated or found.in_force.how == "derived":
        return Proposal(found, "keep", drawn, {})
    return Proposal(found, "raise" if share(text) > stated else "lower", drawn, {"loss": text})


def share(text: str) -> Fraction:
    """Return the exact share of a text in per cent."""
    return Fraction(text.removesuffix("%")) / 100


def _number(text: str) -> float:
    return float(share(text)) if text.endswith("%") else float(text.removesuffix(" g"))


def _share_text(value: float, sd: float) -> str:
    """Return a share in per cent with as many digits as its standard deviation gives reason for."""
    return _rounded(value * 100, sd * 100) + "%"


def _rounded(value: float, sd: float) -> str:
    digits = max(min(ceil(-log10(sd)), _MOST_DIGITS), 0) if sd > 0 else _MOST_DIGITS
    return f"{value:.{digits}f}"


def change(proposals: Sequence[Proposal], metal: str, head: Mapping[str, str]) -> dict[str, Any]:
    """Return the change of the set-up that the proposals make; ``head`` is its from, by and reason."""
    document: dict[str, Any] = dict(head)
    for proposal in proposals:
        if not proposal.values:
            continue
        values = {key: {metal: text} for key, text in proposal.values.items()}
        found, material = proposal.found, proposal.material
        if material == ANY:
            document.setdefault("operation", []).append({"code": found.operation, **values})
        else:
            of = {"alloy": material.alloy} if material.alloy else {"class": material.class_}
            document.setdefault("rate", []).append({"operation": found.operation, **of, **values})
    return document
