"""What is compared: each level of each factor against the other tickets of the same strata, and what is the same thing.

A level that stands beside every ticket of its strata cannot be compared with anything. Two levels whose columns all but
coincide (a worker who is always on one machine, a shift that is one person) are one comparison under several names:
declared inseparable, whatever is found.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from ledger.causes.patterns.scores import Floats, Sheet
from ledger.causes.patterns.tickets import FACTORS, Level

#: Tickets that a level needs, and that the others need beside it, in strata that have both.
FEWEST: Final = 5

#: Correlation of two columns, strata taken out, from which on they are one comparison.
SAME: Final = 0.95


class Name(NamedTuple):
    """A level, everywhere or in one operation only."""

    level: Level
    operation: str | None


class Alias(NamedTuple):
    """Another name of a comparison, the share of each ticket under it, and which way it goes.

    ``way``: ``with`` it, or ``against`` it, where there is no third level.
    """

    name: Name
    share: Floats
    way: str


@dataclass(frozen=True, slots=True)
class Comparison:
    """One comparison: its name, the share of each ticket worked under it, its column q, and its other names."""

    name: Name
    share: Floats
    column: Floats
    aliases: list[Alias] = field(default_factory=list)

    @property
    def named(self) -> list[tuple[Name, Floats]]:
        """All its names, each with the share of the tickets under it."""
        return [(self.name, self.share), *((alias.name, alias.share) for alias in self.aliases)]

    def turned(self) -> Comparison:
        """Return it the other way about, led by the first name that goes against it; itself where none does."""
        lead = next((alias for alias in self.aliases if alias.way == "against"), None)
        if lead is None:
            return self
        rest = [Alias(self.name, self.share, "with"), *(alias for alias in self.aliases if alias is not lead)]
        others = [alias._replace(way="against" if alias.way == "with" else "with") for alias in rest]
        return Comparison(lead.name, lead.share, -self.column, others)


@dataclass(frozen=True, slots=True)
class Untested:
    """A level that was not compared in any operation: it is ``always`` there, or the tickets are ``too few``."""

    level: Level
    operations: list[str]
    why: str
    share: Floats

    @property
    def name(self) -> Name:
        """Its name, as that of a comparison."""
        return Name(self.level, None if len(self.operations) > 1 else self.operations[0])

    def comparison(self, sheet: Sheet) -> Comparison:
        """Return it as a comparison, to be looked at beside one that stands out."""
        return Comparison(self.name, self.share, sheet.columns(self.share[:, None])[:, 0])


def comparisons(sheet: Sheet, first: Sequence[Name] = ()) -> tuple[list[Comparison], list[Untested]]:
    """Return the comparisons that the tickets allow, each once, and the levels that none is possible for.

    ``first``: which of several names is to lead, the others being its aliases.
    """
    operations = np.array([ticket.stratum.operation for ticket in sheet.tickets])
    untested: list[Untested] = []
    names: dict[Name, Floats] = {}
    for level in _levels(sheet):
        share = np.array([ticket.levels.get(level, 0.0) for ticket in sheet.tickets])
        where = sorted(set(operations[share > 0].tolist()))
        possible = [o for o in where if _enough(sheet, np.where(operations == o, share, 0.0))]
        if _enough(sheet, share):
            for operation in [None, *possible] if len(where) > 1 else where:
                own = share if operation is None else np.where(operations == operation, share, 0.0)
                names[Name(level, operation)] = own
        else:
            untested.append(Untested(level, where, "always" if _always(sheet, share) else "too few", share))
    ordered = list(dict.fromkeys([*first, *names]))
    found: list[Comparison] = []
    if ordered:
        columns = sheet.columns(np.column_stack([names[name] for name in ordered]))
        for name, column in zip(ordered, columns.T, strict=True):
            _add(found, Comparison(name, names[name], column))
    return found, untested


def _levels(sheet: Sheet) -> list[Level]:
    levels = {level for ticket in sheet.tickets for level in ticket.levels}
    place = {factor: i for i, factor in enumerate(FACTORS)}
    return sorted(levels, key=lambda level: (place.get(level.factor, len(FACTORS)), level))


def _mixed(sheet: Sheet, share: Floats) -> NDArray[np.bool_]:
    """Return which tickets stand in strata that have the level and something else."""
    mixed = np.zeros(len(share), dtype=bool)
    for stratum in range(len(sheet.names)):
        own = sheet.strata == stratum
        mixed |= own & bool(share[own].sum() > 0 and (1 - share[own]).sum() > 1e-9)
    return mixed


def _enough(sheet: Sheet, share: Floats) -> bool:
    mixed = _mixed(sheet, share)
    return bool(share[mixed].sum() >= FEWEST and (1 - share[mixed]).sum() >= FEWEST)


def _always(sheet: Sheet, share: Floats) -> bool:
    return not _mixed(sheet, share).any()


def _add(found: list[Comparison], one: Comparison) -> None:
    for other in found:
        alike = correlation(one.column, other.column)
        if abs(alike) >= SAME:
            other.aliases.append(Alias(one.name, one.share, "with" if alike > 0 else "against"))
            return
    found.append(one)


def correlation(one: Floats, other: Floats) -> float:
    """Return how alike two columns are, strata taken out: −1 … 1; 0 where one is nothing."""
    size = float(np.linalg.norm(one) * np.linalg.norm(other))
    return float(one @ other) / size if size else 0.0


def matrix(found: Sequence[Comparison]) -> Floats:
    """Return the columns of comparisons, tickets × comparisons."""
    return np.column_stack([c.column for c in found])
