"""The answer: what happened, ranked, each a sentence with its share, its size, and the check that would settle it."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any, Final

from ledger.balance.months.chain import Chain
from ledger.causes.case import Case
from ledger.causes.evidence import Component, Evidence
from ledger.causes.gathering import gather
from ledger.causes.priors import RATES, confirmed, rates
from ledger.causes.search import Search, Slot, Weighed
from ledger.quantities.mass import decimal_text, grams_text
from ledger.refusals import WrongUsage

#: Causes below this share are not named; so many at most for one thing that happened.
_NAMED: Final = 0.01
_RIVALS: Final = 8
#: Directions as parallel as this say the same; which of them is true the figures cannot tell. Nor can they where the
#: expected gain in log likelihood is below this: odds of seven to one.
_PARALLEL: Final = 0.999
_TOLD_APART: Final = 2.0


def causes(connection: sqlite3.Connection, period: str, area: str | None, metal: str | None = None) -> dict[str, Any]:
    """Return the ranked causes of a period's differences, of an area or (None) of all.

    Raises WrongUsage for an area or metal that is not there.
    """
    return examined(connection, period, area, metal).document


@dataclass(frozen=True)
class Examined:
    """The answer as a document, and the weighed cause behind each of its ranks (None: chance)."""

    document: dict[str, Any]
    behind: list[Weighed | None]


def examined(
    connection: sqlite3.Connection, period: str, area: str | None, metal: str | None = None, chain: Chain | None = None
) -> Examined:
    """Return the answer with what is behind it; ``chain``: what earlier periods left, where the caller keeps it."""
    evidence = gather(connection, period, chain)
    metal = metal or evidence.metals[1]
    if metal not in evidence.metals:
        raise WrongUsage(f"{metal} is not booked here", f"give one of {', '.join(evidence.metals)}")
    if area is not None and area not in evidence.setup.areas:
        raise WrongUsage(f"there is no area {area}", f"give one of {', '.join(evidence.setup.areas)}")
    known = rates(connection)
    case, slots = looked_for(evidence, known)
    return _Answer(evidence, case, area, metal, known).told(slots)


def looked_for(evidence: Evidence, known: Mapping[str, float]) -> tuple[Case, list[Slot]]:
    """Return the case and what happened; scatter is judged again once the first causes are set aside."""
    case = Case.of(evidence)
    if not len(case.r):
        return case, []
    search = Search(case, known)
    chosen = search.look()
    if chosen and any(abs(factor - 1) > _FAR for factor in case.dispersion.values()):
        case = Case.of(evidence, search.given(chosen).explained())
        search = Search(case, known)
        chosen = search.look()
    return case, search.told(chosen)


#: How far from 1 a factor of scatter must be for the search to be made again.
_FAR: Final = 0.3


@dataclass
class _Row:
    """One cause on its way into the answer."""

    weighed: Weighed | None
    share: float
    fields: dict[str, Any]
    like: list[_Row] = field(default_factory=list)


@dataclass(frozen=True)
class _Answer:
    evidence: Evidence
    case: Case
    area: str | None
    metal: str
    known: Mapping[str, float]

    @property
    def index(self) -> int:
        return list(self.evidence.metals).index(self.metal)

    @property
    def price(self) -> Fraction | None:
        return _price(self.evidence, self.metal)

    def told(self, slots: Sequence[Slot]) -> Examined:
        """Return the answer: all things that happened, each with its rivals, by share; and chance."""
        rows: list[_Row] = []
        chance = 1.0
        for slot in slots:
            group = self._group(slot)
            if group:
                chance *= slot.chance
            rows = _merged(rows, group)
        rows.append(_Row(None, chance, _CHANCE | {"share": round(chance, 4)}))
        rows.sort(key=lambda row: -row.share)
        for rank, row in enumerate(rows, 1):
            row.fields["rank"] = rank
        for row in rows:
            others = sorted((o for o in row.like if o in rows), key=lambda o: o.fields["rank"])
            row.fields["inseparable_from"] = [o.fields["rank"] for o in others]
            row.fields["parts"] = [o.fields["rank"] for o in others if o.fields["check"] != row.fields["check"]]
        families = [row.fields["family"] for row in rows if row.weighed]
        document = {
            "area": self.area,
            "period": self.evidence.period,
            "metal": self.metal,
            "components": len(self.case.r),
            "causes": [row.fields for row in rows],
            "before": self._before(families),
        }
        return Examined(document, [row.weighed for row in rows])

    def _group(self, slot: Slot) -> list[_Row]:
        kept = [
            (w, share)
            for w, share in zip(slot.rivals, slot.shares, strict=True)
            if share >= _NAMED and (self.area is None or self.area in self._areas(w))
        ][:_RIVALS]
        group: list[_Row] = []
        for w, share in kept:
            row = _Row(w, share, self._fields(w, share))
            for other in group:
                if other.weighed and _inseparable(self.case, w, other.weighed):
                    row.like.append(other)
                    other.like.append(row)
            group.append(row)
        return group

    def _areas(self, w: Weighed) -> list[str]:
        """Return the areas whose balance a cause moves."""
        touched = (self.evidence.components[i] for i in w.proposal.direction)
        return list(dict.fromkeys(area for one in touched for area in (one.bears or _of_dust(one))))

    def _fields(self, w: Weighed, share: float) -> dict[str, Any]:
        p = w.proposal
        size = round(w.theta * p.of_size[self.index]) if p.of_size else 0
        price = self.price
        return {
            "rank": 0,
            "cause": p.says(w.theta),
            "family": p.family,
            "share": round(share, 4),
            "size": grams_text(size),
            "money": None if price is None else decimal_text(size * price, 2),
            "tickets": list(p.tickets),
            "lots": [lot for lot in p.lots if lot],
            "what": dict(p.what),
            "areas": self._areas(w),
            "balances": self._balances(w),
            "inseparable_from": [],
            "parts": [],
            "residual_z": round(abs(w.theta) * w.q**0.5, 2),
            "check": p.check,
            "earlier": p.earlier(w.theta) if p.earlier else None,
        }

    def _balances(self, w: Weighed) -> dict[str, dict[str, str]]:
        """Return what is unexplained in each area it moves, as it stands and as it would stand without it."""
        found = {}
        for area in self._areas(w):
            moved = sum(
                coefficient * w.theta * self.evidence.components[i].bears[area][self.index]
                for i, coefficient in w.proposal.direction.items()
                if area in self.evidence.components[i].bears
            )
            now = self._unexplained(area)
            found[area] = {"unexplained": grams_text(now), "without_it": grams_text(now - round(moved))}
        return found

    def _unexplained(self, area: str) -> int:
        return self.evidence.unexplained(self.metal).get(area, 0)

    def _before(self, families: Sequence[str]) -> list[dict[str, Any]]:
        """Return what was taken as probable before, of the families named, with how often the plant confirmed them."""
        counted = confirmed(self.evidence.connection)
        return [
            {"family": name, "rate": self.known[name], "of": RATES[name].of, "confirmed": counted.get(name, 0)}
            for name in dict.fromkeys(families)
        ]


_CHANCE: Final[dict[str, Any]] = {
    "rank": 0,
    "cause": "measurement and normal loss alone",
    "family": "chance",
    "share": 0.0,
    "size": grams_text(0),
    "money": None,
    "tickets": [],
    "lots": [],
    "what": {},
    "areas": [],
    "balances": {},
    "inseparable_from": [],
    "parts": [],
    "residual_z": None,
    "check": "nothing needs doing",
    "earlier": None,
}


def _of_dust(component: Component) -> tuple[str, ...]:
    return (component.area,) if component.kind == "clean-out" else ()


def _merged(rows: list[_Row], group: list[_Row]) -> list[_Row]:
    """Return the rows with a group's, one scale's steps, one refiner's or clean-out's metals, as one cause."""
    kept = list(rows)
    for row in group:
        code = next((row.fields["what"][name] for name in ("scale", "party", "area") if name in row.fields["what"]), "")
        same = (
            r for r in kept if code and code in r.fields["what"].values() and r.fields["family"] == row.fields["family"]
        )
        before = next(same, None)
        if before is None:
            kept.append(row)
        elif row.share > before.share:
            kept[kept.index(before)] = row
    return kept


def _inseparable(case: Case, one: Weighed, other: Weighed) -> bool:
    """Return whether two causes leave the same pattern, or patterns that at this size nobody could tell apart.

    What the true one is expected to gain on the other is half its squared size in σ times 1 − ρ².
    """
    rho = case.given_nothing.corr(one.proposal.direction, other.proposal.direction)
    z2 = min(one.theta**2 * one.q, other.theta**2 * other.q)
    return abs(rho) > _PARALLEL or (rho * one.theta * other.theta > 0 and 0.5 * z2 * (1 - rho * rho) < _TOLD_APART)


def _price(evidence: Evidence, metal: str) -> Fraction | None:
    """Return the money of one nanogram by the latest fixing of the period."""
    fixing = evidence.setup.price(metal, evidence.month.ledger.calendar.day(evidence.end - 1))
    return fixing.per_ng if fixing else None
