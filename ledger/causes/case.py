"""A case: the evidence as vectors, what has been taken as true so far, and what a direction then still explains."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Final

import numpy as np
from scipy import sparse

from ledger.causes.dispersion import factors
from ledger.causes.evidence import Component, Evidence
from ledger.causes.precision import Precision

Array = Any

#: A direction in components (their places), in ng for each unit of a cause's size.
Direction = Mapping[int, float]

#: No direction that could explain less than this (in log likelihood, at its best size) is looked at.
_WORTH: Final = 3.0
#: Nor one that gains so much less than the best: no prior makes up for it. The best is sought among so many.
_REACH: Final = 60.0
_TOP: Final = 48


@dataclass
class Case:
    """Evidence with its Σ⁻¹; ``taken``: causes taken as true, as (direction vector, known size or None, τ)."""

    evidence: Evidence
    rows: list[dict[int, float]]
    precision: Precision
    r: Array
    u: Array
    place: dict[int, int]
    dispersion: dict[tuple[str, str], float]
    columns: dict[int, dict[int, float]] = field(default_factory=dict)

    @staticmethod
    def of(evidence: Evidence, explained: Mapping[int, float] | None = None) -> Case:
        """Return the case of a period's evidence; ``explained``: what of its components causes are known to explain.

        The scatter that stated figures are judged by is what they leave.
        """
        rows = evidence.tape.rows([component.form for component in evidence.components])
        variances = {r: evidence.tape.source(r).variance for row in rows for r in row}
        dispersion = factors(evidence, rows, variances, explained or {})
        for reference in variances:
            source = evidence.tape.source(reference)
            variances[reference] *= dispersion.get((source.kind, source.of), 1.0)
        precision = Precision(rows, variances)
        values = np.array([evidence.components[i].value for i in precision.kept])
        r = values / precision.scale if len(values) else values
        case = Case(
            evidence,
            rows,
            precision,
            r,
            precision.solve(r) if len(r) else r,
            {int(i): at for at, i in enumerate(precision.kept)},
            dispersion,
        )
        for i in case.place:
            for reference, coefficient in rows[i].items():
                case.columns.setdefault(reference, {})[i] = coefficient
        return case

    @property
    def components(self) -> Sequence[Component]:
        """The components, by place."""
        return self.evidence.components

    def sigma(self, component: int) -> float:
        """Return σ of a component in ng."""
        return float(self.precision.scale[self.place[component]])

    def vectors(self, directions: Sequence[Direction]) -> Any:
        """Return directions as a sparse matrix, n × m, in units of the components' σ."""
        at, across, values = [], [], []
        for j, direction in enumerate(directions):
            for i, coefficient in direction.items():
                place = self.place.get(i)
                if place is not None:
                    at.append(place)
                    across.append(j)
                    values.append(coefficient / self.precision.scale[place])
        return sparse.csc_matrix((values, (at, across)), shape=(len(self.r), len(directions)))

    @cached_property
    def given_nothing(self) -> Given:
        """The case before anything is taken as true."""
        return Given(self, [])


class Bundle:
    """Directions asked about again and again: as a sparse matrix, with what does not depend on the question."""

    def __init__(self, case: Case, directions: Sequence[Direction]) -> None:
        self.case = case
        self.h = case.vectors(directions)
        self.square = np.asarray(self.h.multiply(self.h).sum(axis=0)).ravel()
        through = case.precision.covariance_times(self.h)
        self.variance = np.asarray(through.multiply(through).sum(axis=0)).ravel()
        self._q = np.full(len(directions), np.nan)

    def squares(self, places: Array) -> Array:
        """Return hᵀΣ⁻¹h of some of the directions, each worked out once."""
        new = places[np.isnan(self._q[places])]
        if len(new):
            self._q[new] = self.case.precision.squares(self.h[:, new])
        return self._q[places]


class Taken:
    """A cause taken as true: its direction, its size (0 where that is free), and τ: how far the size may differ."""

    __slots__ = ("proposal", "solved", "tau", "theta", "vector")

    def __init__(self, case: Case, direction: Direction, theta: float, tau: float, proposal: Any = None) -> None:
        self.proposal = proposal
        self.vector = case.vectors([direction]).toarray()[:, 0]
        self.solved = case.precision.solve(self.vector)
        self.theta, self.tau = theta, tau


class Given:
    """What the case says of any direction, given causes taken as true: known sizes subtracted, free ones fitted."""

    def __init__(self, case: Case, taken: Sequence[Taken]) -> None:
        self.case = case
        self.taken = list(taken)
        self.floor = _WORTH
        u = case.u
        for one in taken:
            if one.theta:
                u = u - one.theta * one.solved
        free = [one for one in taken if one.tau]
        if free:
            self._h = np.column_stack([one.vector * one.tau for one in free])
            self._q = np.column_stack([one.solved * one.tau for one in free])
            self._inner = np.linalg.inv(np.eye(len(free)) + self._h.T @ self._q)
            u = u - self._q @ (self._inner @ (self._h.T @ u))
        self._free = bool(free)
        self.u = u

    def explained(self) -> dict[int, float]:
        """Return what the causes taken as true explain of each component, in ng: known sizes, and fitted ones."""
        whole = np.zeros(len(self.u))
        for one in self.taken:
            whole = whole + (one.theta + one.tau**2 * float(one.vector @ self.u)) * one.vector
        ng = whole * self.case.precision.scale
        return {int(i): float(x) for i, x in zip(self.case.precision.kept, ng, strict=True) if x}

    def look_no_lower(self, bundles: Sequence[Bundle]) -> None:
        """Look only at what comes within reach of the best of some directions."""
        best = 0.0
        for bundle in bundles:
            gain = self._bounds(bundle)
            top = np.argsort(-gain)[:_TOP]
            b, q = self._of(bundle, top)
            best = max(best, float(np.max(np.where(q > 0, b * b / np.maximum(2 * q, 1e-300), 0.0), initial=0.0)))
        self.floor = max(_WORTH, best - _REACH)

    def worth(self, bundle: Bundle) -> Array:
        """Return the places of directions that could explain as much as the floor at their best size."""
        return self.weighed(bundle)[0]

    def weighed(self, bundle: Bundle) -> tuple[Array, Array, Array]:
        """Return the places of those directions, with their b and q."""
        likely = np.flatnonzero(self._bounds(bundle) > self.floor)
        b, q = self._of(bundle, likely)
        kept = b * b > 2 * self.floor * q
        return likely[kept], b[kept], q[kept]

    def _of(self, bundle: Bundle, places: Array) -> tuple[Array, Array]:
        h = bundle.h[:, places]
        return np.asarray(h.T @ self.u).ravel(), np.maximum(bundle.squares(places) - self._explained(h), 0.0)

    def _bounds(self, bundle: Bundle) -> Array:
        """Return what each direction can gain at most.

        q = hᵀΣ⁻¹h ≥ (hᵀh)²/(hᵀΣh), so b²·hᵀΣh/(2(hᵀh)²) is a bound of b²/(2q).
        """
        b = np.asarray(bundle.h.T @ self.u).ravel()
        variance = bundle.variance
        if self._free:
            variance = variance + np.square(bundle.h.T @ self._h).sum(axis=1)
        square = bundle.square
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(square > 0, b * b * variance / (2 * square * square), 0.0)

    def weigh(self, directions: Sequence[Direction]) -> tuple[Array, Array]:
        """Return b = hᵀΣ⁻¹r and q = hᵀΣ⁻¹h of each direction, exact; q 0 of one that touches nothing."""
        if not directions:
            return np.zeros(0), np.zeros(0)
        h = self.case.vectors(directions)
        b = np.asarray(h.T @ self.u).ravel()
        q = self.case.precision.squares(h) - self._explained(h)
        return b, np.maximum(q, 0.0)

    def _explained(self, h: Any) -> Array:
        if not self._free:
            return 0.0
        through = (h.T @ self._q).T
        return np.einsum("ij,ij->j", through, self._inner @ through)

    def corr(self, one: Direction, other: Direction) -> float:
        """Return how parallel two directions are as evidence: hᵀΣ⁻¹g over the root of both squares."""
        dense = self.case.vectors([one, other]).toarray()
        solved = self.case.precision.solve(dense)
        gram = dense.T @ solved
        return float(gram[0, 1] / (gram[0, 0] * gram[1, 1]) ** 0.5) if gram[0, 0] > 0 and gram[1, 1] > 0 else 0.0
