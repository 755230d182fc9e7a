"""What is said when a charge cannot be made: the nearest possible, and what is missing."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Final

from ledger.bench.charge_choice import fumed, programme
from ledger.bench.charge_forms import Figures, Source, Wanted
from ledger.bench.charge_karat import fineness_text, karat_text
from ledger.quantities.fineness import per_mille_text
from ledger.refusals import Impossible

_PRECIOUS: Final = ("gold", "silver", "platinum", "palladium", "rhodium")
_NAMED: Final = 4


def impossible(
    wanted: Wanted, sources: Sequence[Source], left_out: Sequence[tuple[Source, str]], figures: Figures
) -> Impossible:
    """Return the refusal of a target that these sources cannot meet, with the nearest and the mend."""
    short = _short_of(wanted, sources, _nearest(wanted, sources), figures)
    unused = [f"{source.name} is left out, since {why}" for source, why in left_out]
    what = f"{_given(sources, figures)} cannot be made {_target(wanted, figures)}: {'; '.join([*short, *unused])}"
    return Impossible(what, " or ".join(filter(None, (_missing(wanted, sources, figures),
                                                      _at_most(wanted, sources, figures)))))  # fmt: skip


def _given(sources: Sequence[Source], figures: Figures) -> str:
    if not sources:
        return "what is given"
    if len(sources) > _NAMED:
        return f"the {len(sources)} lots given"
    names = [s.name if s.on_hand_ng is None else f"{figures.mass(s.on_hand_ng)} of {s.name}" for s in sources]
    return ", ".join(names[:-1]) + (" and " if names[1:] else "") + names[-1]


def _target(wanted: Wanted, figures: Figures) -> str:
    mark = wanted.name or fineness_text(wanted.metal, wanted.windows[wanted.metal].low)
    return mark if wanted.poured_ng is None else f"{figures.mass(wanted.poured_ng)} of {mark}"


def _nearest(wanted: Wanted, sources: Sequence[Source]) -> list[Fraction]:
    """Return masses that come nearest: in mass first, then in the marked metal, then in the others."""
    problem = programme(wanted, sources)
    n, m = len(sources), len(problem.rows)
    metals = [metal for metal, window in wanted.windows.items() for _ in range(1 if window.exact else 2)]
    groups = [range(len(metals), m), *([r for r, metal in enumerate(metals) if metal == one] for one in wanted.windows)]
    for group in groups:
        remainders = [column for row in group for column in (n + m + row, n + 2 * m + row)]
        problem.minimise(dict.fromkeys(remainders, Fraction(1)))
    return problem.values[:n]


def _short_of(wanted: Wanted, sources: Sequence[Source], nearest: Sequence[Fraction], figures: Figures) -> list[str]:
    """Return in words by what the nearest charge misses the target."""
    said = []
    mass = sum(nearest)
    if wanted.poured_ng is not None and (short := wanted.furnace.charge_for(wanted.poured_ng) - mass) > 0:
        said.append(f"{figures.mass(short)} of metal is missing from the charge")
    for metal, window in wanted.windows.items():
        if not mass:
            break
        held = sum(((s.share(metal) or 0) * x for s, x in zip(sources, nearest, strict=True)), Fraction(0))
        share = (held / mass - fumed(metal, wanted)) / wanted.furnace.poured_share
        if off := window.beyond(share):
            said.append(f"the nearest holds {fineness_text(metal, share)} of {metal} and {_misses(metal, off)}")
    return said or ["its windows cannot all be met at once"]


def _misses(metal: str, off: Fraction) -> str:
    distance = f"{karat_text(abs(off))} karat" if metal == "gold" else f"{per_mille_text(abs(off))} ‰"
    return f"falls {distance} short" if off < 0 else f"is {distance} {'too fine' if metal in _PRECIOUS else 'over'}"


def _missing(wanted: Wanted, sources: Sequence[Source], figures: Figures) -> str:
    """Return what would have to be added, at the least mass, to meet the target."""
    pure = [Source(f"fine {metal}" if metal in _PRECIOUS else metal, {metal: Fraction(1)}) for metal in wanted.windows]
    none_of_them = Source(f"alloy without {' or '.join(wanted.windows)}", dict.fromkeys(wanted.windows, Fraction(0)))
    added = [*pure, none_of_them]
    problem = programme(wanted, [*sources, *added])
    remainders = range(len(problem.sources) + len(problem.rows), len(problem.values))
    if problem.minimise(dict.fromkeys(remainders, Fraction(1))):
        return ""
    problem.forbid_shortfalls()
    problem.minimise({len(sources) + place: Fraction(1) for place in range(len(added))})
    masses = problem.values[len(sources) : len(sources) + len(added)]
    parts = [f"{figures.mass(x)} of {source.name}" for source, x in zip(added, masses, strict=True) if x]
    return "add " + " and ".join(parts) if parts else ""


def _at_most(wanted: Wanted, sources: Sequence[Source], figures: Figures) -> str:
    """Return how much of the alloy could be poured from what is there."""
    if wanted.poured_ng is None:
        return ""
    problem = programme(wanted, sources, at_most=True)
    problem.forbid_shortfalls()
    problem.minimise(dict.fromkeys(range(len(sources)), Fraction(-1)))
    furnace = wanted.furnace
    poured = sum(problem.values[: len(sources)]) * (1 - furnace.fume) * (1 - furnace.loss) - furnace.each_ng
    return f"pour no more than {figures.mass(poured)}" if poured > 0 else ""
