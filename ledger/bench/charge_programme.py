"""A linear programme in fractions: how much of each source, within bounds and rows, at the least cost.

HiGHS finds which sources the optimum rests on, in floating point; exact pivots then prove or mend that basis, so that
no answer rests on a tolerance (Applegate, Cook, Dash & Espinoza, Exact solutions to linear programming problems, 2007;
from memory). Pivots follow Bland's rule (New finite pivoting rules for the simplex method, 1977; from memory) and end.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

_ZERO = Fraction(0)


@dataclass(frozen=True, slots=True)
class Bounds:
    """The least and the greatest a variable or a row may be; None: no limit."""

    low: Fraction | None = _ZERO
    high: Fraction | None = None

    def beyond(self, value: Fraction) -> int:
        """Return −1 below the bounds, +1 above, 0 within."""
        if self.low is not None and value < self.low:
            return -1
        return 1 if self.high is not None and value > self.high else 0


@dataclass(frozen=True, slots=True)
class Row:
    """A sum of coefficient × variable that must stay within bounds."""

    coefficients: tuple[Fraction, ...]
    bounds: Bounds


class Programme:
    """Columns 0 … n−1 are the sources, then for each row its sum, and what it may fall short or go over.

    ``values`` always satisfies every row; ``shortfalls`` says which rows are met only with a remainder. A programme is
    solved by ``minimise`` for one cost after another, each kept at its optimum while the next is sought.
    """

    def __init__(self, sources: Sequence[Bounds], rows: Sequence[Row]) -> None:
        self.sources, self.rows = tuple(sources), tuple(rows)
        n, m = len(sources), len(rows)
        self.bounds = [*sources, *(row.bounds for row in rows), *[Bounds()] * (2 * m)]
        self.values = [bound.low or _ZERO for bound in sources] + [_ZERO] * (3 * m)
        self._basis = list(range(n, n + m))
        self._tableau = [self._equation(number) for number in range(m)]
        self._begin()

    def _equation(self, number: int) -> list[Fraction]:
        """Return a row as coefficients that sum to zero over all columns: its sum − Σ a x − short + over = 0."""
        m = len(self.rows)
        unit = [Fraction(number == other) for other in range(m)]
        minus = [-one for one in unit]
        return [*(-a for a in self.rows[number].coefficients), *unit, *minus, *unit]

    def _begin(self) -> None:
        """Start at every source's least, each row met by its own shortfall where it has to be."""
        n, m = len(self.sources), len(self.rows)
        for number, row in enumerate(self.rows):
            total = sum((a * x for a, x in zip(row.coefficients, self.values, strict=False) if x), _ZERO)
            beyond = row.bounds.beyond(total)
            met = (row.bounds.low if beyond < 0 else row.bounds.high) if beyond else total
            assert met is not None
            self.values[n + number] = met
            if beyond:
                column = n + m + number + (m if beyond > 0 else 0)
                self.values[column] = abs(met - total)
                self._pivot(number, column)

    def shortfalls(self) -> list[tuple[Fraction, Fraction]]:
        """Return for each row by how much its sum falls short of its bounds, and by how much it goes over."""
        n, m = len(self.sources), len(self.rows)
        return [(self.values[n + m + number], self.values[n + 2 * m + number]) for number in range(m)]

    def forbid_shortfalls(self) -> None:
        """Keep every remainder at nothing from now on; they have to be at nothing."""
        for column in range(len(self.sources) + len(self.rows), len(self.values)):
            assert not self.values[column]
            self.bounds[column] = Bounds(_ZERO, _ZERO)

    def minimise(self, cost: dict[int, Fraction]) -> Fraction:
        """Minimise a cost by column, and hold it there: whatever would raise it stays where it is from now on."""
        reduced = self._reduced(cost)
        while (entering := self._entering(reduced)) is not None:
            self._enter(*entering)
            reduced = self._reduced(cost)
        for column, rate in enumerate(reduced):
            if rate and column not in self._basis:
                self.bounds[column] = Bounds(self.values[column], self.values[column])
        return sum((rate * self.values[column] for column, rate in cost.items()), _ZERO)

    def _reduced(self, cost: dict[int, Fraction]) -> list[Fraction]:
        rates = [cost.get(column, _ZERO) for column in range(len(self.values))]
        for basic, equation in zip(self._basis, self._tableau, strict=True):
            if basic in cost:
                rates = [rate - cost[basic] * t if t else rate for rate, t in zip(rates, equation, strict=True)]
        return rates

    def _entering(self, reduced: list[Fraction]) -> tuple[int, int] | None:
        """Return the first column by which the cost falls, and the way it moves: Bland's rule."""
        for column, rate in enumerate(reduced):
            if rate and column not in self._basis:
                bound, value = self.bounds[column], self.values[column]
                if rate < 0 and (bound.high is None or value < bound.high):
                    return column, 1
                if rate > 0 and (bound.low is None or value > bound.low):
                    return column, -1
        return None

    def _enter(self, column: int, way: int) -> None:
        """Move a column until it, or a basic one, meets a bound; ties go to the first column."""
        limits = [] if (own := self._room(column, way)) is None else [(own, column, -1)]
        for place, (basic, equation) in enumerate(zip(self._basis, self._tableau, strict=True)):
            pace = -equation[column] * way
            if pace and (room := self._room(basic, 1 if pace > 0 else -1)) is not None:
                limits.append((room / abs(pace), basic, place))
        step, _, leaving = min(limits)
        for basic, equation in zip(self._basis, self._tableau, strict=True):
            self.values[basic] -= equation[column] * way * step
        self.values[column] += way * step
        if leaving >= 0:
            self._pivot(leaving, column)

    def _room(self, column: int, way: int) -> Fraction | None:
        """Return how far a column may move that way; None: without end."""
        bound, value = self.bounds[column], self.values[column]
        limit = bound.high if way > 0 else bound.low
        return None if limit is None else abs(limit - value)

    def _pivot(self, place: int, column: int) -> None:
        """Make a column basic in a row's place; no value changes."""
        pivot = self._tableau[place][column]
        chosen = self._tableau[place] = [t / pivot if t else t for t in self._tableau[place]]
        for other, equation in enumerate(self._tableau):
            factor = equation[column]
            if other != place and factor:
                self._tableau[other] = [t - factor * c if c else t for t, c in zip(equation, chosen, strict=True)]
        self._basis[place] = column

    def start_from(self, basis: Sequence[int], at_high: Sequence[int]) -> bool:
        """Take another basis of sources and sums, with these columns at their greatest; False where it does not hold.

        Where it does not hold exactly, within the bounds, the programme is left as it was.
        """
        kept = self._basis[:], [equation[:] for equation in self._tableau], self.values[:]
        for column in basis:
            if column not in self._basis:
                free = (p for p, b in enumerate(self._basis) if b not in basis and self._tableau[p][column])
                if (place := next(free, None)) is None:
                    break
                self._pivot(place, column)
        else:
            self._settle(at_high)
        if any(self.bounds[column].beyond(self.values[column]) for column in basis) or set(basis) != set(self._basis):
            self._basis, self._tableau, self.values = kept
            return False
        return True

    def _settle(self, at_high: Sequence[int]) -> None:
        """Put each column that is not basic at its bound, and let the basic ones follow."""
        for column, bound in enumerate(self.bounds):
            low = bound.high if column in at_high or bound.low is None else bound.low
            self.values[column] = _ZERO if column in self._basis or low is None else low
        for basic, equation in zip(self._basis, self._tableau, strict=True):
            self.values[basic] = -sum((t * x for t, x in zip(equation, self.values, strict=True) if t and x), _ZERO)
