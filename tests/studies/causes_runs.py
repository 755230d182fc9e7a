"""The rows of the study of causes: what is planted in each, and what came of a run."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import partial
from gc import collect
from random import Random
from time import perf_counter
from typing import Any

from ledger.causes.priors import RATES
from ledger.refusals import LemelError
from tests.studies.evaluation_page import note
from tests.studies.fault_worlds import named, poorer
from tests.studies.fault_worlds.base import Base
from tests.studies.fault_worlds.books import book_of
from tests.studies.fault_worlds.planting import PLANNERS, Case, planted
from tests.studies.fault_worlds.truth import LARGE, SMALL, Band, Fault
from tests.studies.fault_worlds.world import Floor, simulated

#: Families that a month can show; a refiner's settlements come in the third.
OF_A_MONTH = tuple(family for family in PLANNERS if family not in ("settlement", "salted"))
OF_ALL = (*OF_A_MONTH, "settlement")
#: Families whose size can lie between three and five σ: not those of a whole lot, a whole tare, another unit or alloy.
OF_ANY_SIZE = (
    "transposed", "digit", "mass", "scale", "determination", "loss_rate", "estimate", "substituted", "unticketed",
)  # fmt: skip
MONTHS = {"settlement": 3, "salted": 3}
#: Sizes in thin records, of what can have any.
THIN = Band(3.0, 60.0)
#: The runs of a seed: each a case, and what else is true of it.
Runs = Iterator[tuple[Case, list[Fault]]]
#: Causes of an answer that are kept.
_KEPT = 12


@dataclass(frozen=True)
class Outcome:
    """One answer against the truth.

    ``right``: the first, or first group, is one of the faults; ``first``: so it is with chance set aside. ``found``: of
    each fault whether it is named (more than half, with what cannot be told apart from it). ``false``: groups named
    that are none of the faults. ``also``: what else was true of the run without being planted:
    it is neither right nor false.
    """

    row: str
    seed: int
    faults: list[Fault]
    causes: list[dict[str, Any]]
    right: bool
    first: bool
    found: list[bool]
    named: int
    false: int
    unticketed: bool
    seconds: float
    error: str = ""
    also: list[Fault] = field(default_factory=list)

    @property
    def sound(self) -> bool:
        """Whether there is nothing to look into."""
        return self.right and not self.false and not self.error if self.faults else not self.false and not self.error

    def told(self) -> dict[str, Any]:
        """Return it as a document."""
        return vars(self) | {
            "faults": [fault.told() for fault in self.faults], "also": [fault.told() for fault in self.also],
        }  # fmt: skip

    @staticmethod
    def of(told: dict[str, Any]) -> Outcome:
        """Return it from a document."""
        faults = {name: [Fault.of(one) for one in told[name]] for name in ("faults", "also")}
        return Outcome(**(told | faults))


@dataclass(frozen=True)
class Row:
    """One row of the table. ``cases``: the runs of one seed; ``each``: how many they are; ``runs``: in the page."""

    name: str
    says: str
    seed: int
    each: int
    runs: int
    cases: Callable[[int], Runs]

    def seeds_for(self, runs: int) -> int:
        """Return how many seeds give so many answers."""
        return -(-runs // self.each)


def outcomes_of(name: str, seed: int) -> list[Outcome]:
    """Return the outcomes of one seed of a row."""
    found = []
    try:
        for case, also in ROWS[name].cases(seed):
            found.append(_asked(name, case, also))
    except LemelError as refused:  # the honest world's own paper, once in hundreds of months: no book, no answer
        note(f"{name}, seed {seed}: the book refuses {refused}")
    collect()  # worlds and their plans refer to one another: a hundred of them are gigabytes
    return found


def _asked(row: str, case: Case, also: list[Fault]) -> Outcome:
    from ledger.causes.answer import causes

    begun = perf_counter()
    try:
        found = causes(case.connection, case.period, _area_of(case))["causes"]
    except Exception as error:  # a crash is an answer that is not right; the study goes on
        return Outcome(row, case.seed, case.faults, [], False, False, [False] * len(case.faults), 0, 0, False,
                       perf_counter() - begun, repr(error), also)  # fmt: skip
    seconds = perf_counter() - begun
    true = [*case.faults, *also]
    said = named.named(found)
    asked = [cause for cause in found if not any(named.tells(cause, fault) for fault in also)]
    rest = [cause for cause in asked if cause["family"] != "chance"]
    hits = [any(named.tells(c, fault) for g in said for c in g) for fault in case.faults]
    false = [g for g in said if not any(named.tells(c, fault) for c in g for fault in true)]
    return Outcome(
        row, case.seed, case.faults, found[:_KEPT], named.right(asked, case.faults),
        named.right(rest, case.faults), hits, len(said), len(false),
        any(g[0]["family"] == "unticketed" for g in false), seconds, also=also,
    )  # fmt: skip


def _area_of(case: Case) -> str | None:
    """Return the area that is asked about: the one that shows a single fault; else the whole plant."""
    return case.faults[0].shown_in or None if len(case.faults) == 1 else None


def _chance(*names: object) -> Random:
    return Random("/".join(map(str, names)))


def _honest(base: Base) -> Case:
    return Case(base.world.seed, base.last_period, [], base.connection, [])


def _one_each(families: tuple[str, ...], band: Band, each: int, seed: int, **world: Any) -> Runs:
    """Yield a seed's runs: so many families in turn, each planted alone in the same world."""
    bases: dict[int, Base] = {}
    for k in range(each):
        family = families[(seed * each + k) % len(families)]
        months = MONTHS.get(family, 1)
        if months not in bases:
            bases[months] = Base.of(seed, months, **world)
        case = planted(bases[months], [family], band, _chance(seed, family, band.low))
        if case is not None:
            yield case, []


def _several(seed: int) -> Runs:
    base = Base.of(seed)
    for k in range(2):
        chance = _chance(seed, "several", k)
        families = chance.sample(OF_A_MONTH, chance.randint(2, 4))
        case = planted(base, families, LARGE, chance)
        if case is not None:
            yield case, []


def _mistaken(seed: int) -> Runs:
    setup = poorer.mistaken(seed)
    also = _rates_wrong()
    yield from ((case, also) for case, _ in _one_each(OF_A_MONTH, LARGE, 2, seed, setup=setup))


def _mistaken_honest(seed: int) -> Runs:
    yield _honest(Base.of(seed, setup=poorer.mistaken(seed))), _rates_wrong()


def _rates_wrong() -> list[Fault]:
    """Return that every operation loses otherwise than is stated: named, it is no false cause."""
    return [Fault("loss_rate", "as stated wrong", "", (), (), {"operation": code}) for code in poorer.operations()]


def _thin(seed: int) -> Runs:
    """Yield a thin month as it is, and twice with a fault, of families drawn as often as answers expect them.

    Shares are odds given those rates, which every answer prints: where other things happen, others would be true.
    """
    chance = _chance(seed, "thin")
    base = Base.of(seed, thin=chance.choice((poorer.MOVES, poorer.COUNTS)))
    yield _honest(base), []
    chances = _chances(base)
    expected = [RATES[family].rate * chances[family] for family in OF_A_MONTH]
    for family in chance.choices(OF_A_MONTH, expected, k=2):
        case = planted(base, [family], THIN if family in OF_ANY_SIZE else LARGE, chance)
        if case is not None:
            yield case, []


def _chances(base: Base) -> dict[str, float]:
    """Return what a month has of what each family's rate is a rate of, as far as the study plants it there."""
    papers = Counter("feed" if p.document.get("operation") == "BATH-FEED" else p.kind for p in base.in_period)
    lines = [(p.kind, line) for p in base.in_period for *_, line in p.lines()]
    readings = float(sum(1 for _ in base.readings()))
    counted = float(sum(kind == "count" for kind, _ in lines))
    part_moves = sum(p.kind == "move" and not any(x[2].get("all") for x in p.lines()) for p in base.in_period)
    return dict.fromkeys(("transposed", "digit", "decimal", "unit", "mass"), readings) | {
        "tare": float(sum("container" in line for _, line in lines)),
        "karat": float(sum(kind == "receive" and "alloy" in line for kind, line in lines)),
        "duplicate": float(papers["receive"] + part_moves),
        "missing_ticket": float(papers["ship"] + papers["discard"] + papers["settle"] + papers["feed"]),
        "uncounted": counted, "counted_twice": counted, "wrong_area": float(papers["move"]),
        "wrong_period": (papers["ship"] + papers["discard"]) / 4, "determination": float(papers["assay"]),
        "scale": float(len(poorer.scales())), "loss_rate": float(len(poorer.operations())),
        "estimate": float(len({p.document["area"] for p in base.in_period if p.kind == "sweep"})),
        "substituted": 1.0, "unticketed": 1.0,
    }  # fmt: skip


def _honest_months(seed: int) -> Runs:
    connection = book_of(simulated(seed).tickets())
    yield Case(seed, "2026-01", [], connection, []), []


def _hidden(seed: int) -> Runs:
    """Yield metal changed in a month that an assay shows; sweeps salted that settle in the third month."""
    yield from _one_each(("substituted",), LARGE, 1, seed)
    yield from _one_each(("salted",), LARGE, 1, seed)


def _refiner(seed: int) -> Runs:
    """Yield a year of a refiner who agrees to 0.05 % less than is there, and an honest one; asked about in December."""
    for low in (0.0005, 0.0):
        world = simulated(seed, 12, partial(_refiner_low, low))
        connection = book_of(world.tickets())
        settled = tuple(paper.number for paper in world.papers if paper.kind == "settle")
        fault = Fault("settlement", "0.05 % low", "REFINER", settled, (), {"party": "EDDLE"}, low, "gold",
                      shown_in="REFINER", says=f"EDDLE agrees to {low:.2%} less than is there")  # fmt: skip
        yield Case(seed, "2026-12", [], connection, [fault] if low else []), []


def _refiner_low(low: float, floor: Floor) -> None:
    floor.refiner_low = low


ROWS: dict[str, Row] = {
    row.name: row
    for row in (
        Row("one", "one fault, 5 σ and more", 110_000, 3, 450, partial(_one_each, OF_ALL, LARGE, 3)),
        Row("small", "one fault, 3 to 5 σ", 120_000, 3, 450, partial(_one_each, OF_ANY_SIZE, SMALL, 3)),
        Row("several", "two to four faults", 130_000, 2, 420, _several),
        Row("mistaken", "set-up wrong, one fault", 140_000, 2, 420, _mistaken),
        Row("mistaken-honest", "set-up wrong, no fault", 150_000, 1, 420, _mistaken_honest),
        Row("thin", "thin records", 160_000, 3, 1_050, _thin),
        Row("hidden", "substitution, salted sweeps", 170_000, 2, 400, _hidden),
        Row("refiner", "a refiner 0.05 % low for a year", 175_000, 2, 24, _refiner),
        Row("honest", "no fault", 185_000, 1, 420, _honest_months),
    )
}  # fmt: skip
