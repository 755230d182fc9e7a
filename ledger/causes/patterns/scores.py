"""Tickets as numbers: independent residuals in units of their scatter, and each level as a column beside them.

The excess of ticket i is a share e of what was put in, e = γ of its stratum + Σ β of its levels + error. V, the
covariance of the errors, is the tickets' own variances and what an operation's tickets of one period share, the drift.
With L⁻¹ of V = LLᵀ before both sides and the strata projected out, ε = M·L⁻¹e and q = M·L⁻¹d of a level d: generalised
least squares makes β = qᵀε ÷ qᵀq (Frisch and Waugh 1933, from memory). A ticket weighs by how precisely it was weighed,
whatever its size.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ledger.balance.rates.robust import BOUND, MAD_TO_SD, mad
from ledger.causes.patterns.tickets import Stratum, Ticket

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

#: Standard deviations, stated or as a stratum scatters, beyond which a ticket says nothing of the drift.
_FAR: Final = 6.0

#: Tickets of an operation, beyond its strata, from which on its scatter is what they show and not what is stated.
_ENOUGH: Final = 10

_TURNS: Final = 60


@dataclass(frozen=True, slots=True)
class Sheet:
    """Tickets as numbers. ``strata``: each one's stratum, by its place in ``names``; ``independent``: L⁻¹e ÷ scatter.

    ``apart``: tickets too far out to say anything of their month's drift;
    ``basis``: orthonormal columns that span L⁻¹ of the strata; ``scatter``: by ticket, what its operation's tickets
    scatter in units of what is stated; ``epsilon``: ε, less the strata's robust location.
    """

    tickets: Sequence[Ticket]
    names: Sequence[Stratum]
    strata: NDArray[np.int64]
    apart: Flags
    scatter: Floats
    independent: Floats
    basis: Floats
    epsilon: Floats

    def columns(self, levels: Floats) -> Floats:
        """Return q of levels, tickets × levels."""
        found = independent(self.tickets, levels, self.apart) / self.scatter[:, None]
        return found - self.basis @ (self.basis.T @ found)


def sheet(tickets: Sequence[Ticket], explained: Floats | None = None) -> Sheet:
    """Return the tickets, in the order of their dates, as numbers.

    ``explained``: by ticket, what levels that were found explain of its excess, as a share of its input: what stands
    apart, and how much an operation scatters, is judged without it.
    """
    names = sorted({ticket.stratum for ticket in tickets})
    strata = np.array([names.index(ticket.stratum) for ticket in tickets])
    shares = np.array([ticket.excess / ticket.put_in for ticket in tickets])
    of_strata = (strata[:, None] == np.arange(len(names))).astype(float)
    less = np.zeros(len(tickets)) if explained is None else explained
    apart = _apart(tickets, shares - less, strata)
    both = independent(tickets, np.column_stack([shares, less, of_strata]), apart)
    values, known, design = both[:, 0], both[:, 1], both[:, 2:]
    scatter = np.ones(len(tickets))
    for operation in {name.operation for name in names}:
        own = np.array([ticket.stratum.operation == operation for ticket in tickets])
        used = design[own][:, [name.operation == operation for name in names]]
        scatter[own] = _scatter(values[own] - known[own], used)
    values, design = values / scatter, design / scatter[:, None]
    rest = values - design @ regression(values, design)
    return Sheet(tickets, names, strata, apart, scatter, values, np.linalg.qr(design)[0], rest)


def _apart(tickets: Sequence[Ticket], shares: Floats, strata: NDArray[np.int64]) -> Flags:
    """Return which tickets lie so far from the middle of their stratum that they say nothing of their month's drift."""
    own = np.array([ticket.sigma / ticket.put_in for ticket in tickets])
    found = np.zeros(len(tickets), dtype=bool)
    for stratum in range(int(strata.max()) + 1):
        inside = strata == stratum
        off = np.abs(shares[inside] - np.median(shares[inside]))
        found[inside] = off > _FAR * np.maximum(own[inside], MAD_TO_SD * np.median(off))
    return found


def independent(tickets: Sequence[Ticket], columns: Floats, apart: Flags | None = None) -> Floats:
    """Return L⁻¹ of columns of shares of input, each with unit variance where the stated figures hold.

    ``apart``: tickets that nothing of the drift is ascribed to.
    """
    shared: dict[tuple[str, str], tuple[Floats, float]] = {}
    found = np.empty_like(columns)
    for i, ticket in enumerate(tickets):
        key = (ticket.stratum.operation, ticket.period)
        mean, variance = shared.get(key, (np.zeros(columns.shape[1]), 1.0))
        own, reach = ticket.sigma / ticket.put_in, ticket.drift / ticket.put_in
        error, total = columns[i] - reach * mean, own * own + reach * reach * variance
        found[i] = error / np.sqrt(total)
        if apart is None or not apart[i]:
            shared[key] = (mean + reach * variance / total * error, variance * own * own / total)
    return found


def _scatter(values: Floats, design: Floats) -> float:
    free = len(values) - design.shape[1]
    if free < _ENOUGH:
        return 1.0
    rest = values - design @ regression(values, design)
    return mad([float(x) for x in rest]) * sqrt(len(values) / free) or 1.0


def regression(values: Floats, design: Floats) -> Floats:
    """Return Huber's regression coefficients: beyond `BOUND` a residual counts in proportion less."""
    weights: Floats = np.ones(len(values))
    coefficients: Floats = np.zeros(design.shape[1])
    for _ in range(_TURNS):
        root = np.sqrt(weights)
        last = coefficients
        found = np.linalg.lstsq(design * root[:, None], values * root, rcond=None)[0]
        coefficients = np.asarray(found, dtype=np.float64)
        off = np.abs(values - design @ coefficients)
        weights = np.minimum(1.0, BOUND / np.maximum(off, BOUND))
        if np.allclose(last, coefficients, rtol=1e-7, atol=0.0):
            break
    return coefficients


def bounded(epsilon: Floats) -> Floats:
    """Return Huber's ψ: ε as far as ± `BOUND`; one mis-keyed ticket weighs no more than one a little out."""
    return np.clip(epsilon, -BOUND, BOUND)
