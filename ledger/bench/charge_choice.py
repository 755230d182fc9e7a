"""Which sources to take, and how much of each: the exact optimum, before anything is rounded.

For x the masses taken, c what a source holds of a metal, φ the fume and f the fineness wanted of the poured alloy:

    Σ x = M,    Σ x·(c − f·(1 − φ)) = 0   for each metal wanted exactly, ≥ 0 and ≤ 0 at the ends of a window

since the fume leaves with no fine metal, and what is lost beyond it is lost at the mean. The base metal that the fume
consists of, where it is wanted too, lies φ lower.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Final, Literal

from ledger.bench.charge_forms import FINE, Source, Wanted
from ledger.bench.charge_programme import Bounds, Programme, Row
from ledger.bench.charge_start import start

#: What goes first where there is a choice: as little bought fine metal as can be, or the oldest scrap.
First = Literal["least", "oldest"]

_NOTHING: Final = Bounds(Fraction(0), Fraction(0))


def usable(wanted: Wanted, sources: Sequence[Source]) -> tuple[list[Source], list[tuple[Source, str]]]:
    """Return the sources that state every metal wanted, in their order, and the others with what they do not state."""
    unstated = [(s, [metal for metal in wanted.windows if s.share(metal) is None]) for s in sources]
    taken = [source for source, missing in unstated if not missing]
    return taken, [(source, f"its {' and '.join(m)} is not stated") for source, m in unstated if m]


def programme(wanted: Wanted, sources: Sequence[Source], *, at_most: bool = False) -> Programme:
    """Return the programme of a charge; with ``at_most`` the mass wanted is a limit only."""
    bounds = [_bounds(source, wanted.poured_ng is None) for source in sources]
    rows = [row for metal in wanted.windows for row in _rows_of(metal, wanted, sources)]
    if wanted.poured_ng is not None:
        mass = wanted.furnace.charge_for(wanted.poured_ng)
        total = Bounds(Fraction(0) if at_most else mass, mass)
        rows.append(Row((Fraction(1),) * len(sources), total))
    return Programme(bounds, rows)


def _bounds(source: Source, everything: bool) -> Bounds:
    if source.on_hand_ng is None:
        return Bounds()
    mass = Fraction(source.on_hand_ng)
    return Bounds(mass if everything else Fraction(0), mass)


def _rows_of(metal: str, wanted: Wanted, sources: Sequence[Source]) -> Iterator[Row]:
    """Yield the rows of one metal: one for an exact fineness, else one for each end of its window."""
    window = wanted.windows[metal]
    if window.exact:
        yield Row(_excess(metal, window.low, wanted, sources), _NOTHING)
        return
    yield Row(_excess(metal, window.low, wanted, sources), Bounds(Fraction(0)))
    yield Row(_excess(metal, window.high, wanted, sources), Bounds(None, Fraction(0)))


def _excess(metal: str, fineness: Fraction, wanted: Wanted, sources: Sequence[Source]) -> tuple[Fraction, ...]:
    needed = fineness * wanted.furnace.poured_share + fumed(metal, wanted)
    return tuple((source.share(metal) or Fraction(0)) - needed for source in sources)


def fumed(metal: str, wanted: Wanted) -> Fraction:
    """Return the share of the charge that leaves of a metal as fume."""
    return wanted.furnace.fume if metal == wanted.furnace.fumes else Fraction(0)


def choose(wanted: Wanted, sources: Sequence[Source], first: First) -> tuple[Fraction, ...] | None:
    """Return the mass, exact, in nanograms, to take of each source, or None where the target cannot be met.

    Sources on hand stand oldest first. ``least``: the least of the marked metal bought, then the least of it from fine
    metal on hand, then the oldest scrap; ``oldest``: the oldest scrap first, lot by lot, then the same. Scrap is what
    holds the marked metal and is not fine. Alloying metal comes last: what is on hand before what is bought.
    """
    problem = programme(wanted, sources)
    costs = list(_costs(wanted, sources, first))
    if not start(problem, costs[0]):
        remainders = range(len(sources) + len(problem.rows), len(problem.values))
        if problem.minimise(dict.fromkeys(remainders, Fraction(1))):
            return None
    problem.forbid_shortfalls()
    for cost in costs:
        problem.minimise(cost)
    return tuple(problem.values[: len(sources)])


def _costs(wanted: Wanted, sources: Sequence[Source], first: First) -> Iterator[dict[int, Fraction]]:
    """Yield what is minimised, one after the other."""
    share = {place: source.share(wanted.metal) or Fraction(0) for place, source in enumerate(sources)}
    bought = [p for p, source in enumerate(sources) if source.bought]
    on_hand = [p for p, source in enumerate(sources) if not source.bought]
    fresh = [{p: share[p] for p in group} for group in (bought, [p for p in on_hand if share[p] >= FINE])]
    ages = [{p: Fraction(-1)} for p in on_hand if 0 < share[p] < FINE]
    yield from (*fresh, *ages) if first == "least" else (*ages, *fresh)
    yield dict.fromkeys(bought, Fraction(1))
    yield from ({p: Fraction(-1)} for p in on_hand)
