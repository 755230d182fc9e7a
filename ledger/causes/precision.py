"""Σ⁻¹ of the components: what a direction is worth as evidence.

The components' covariance is Σ = A·diag(v)·Aᵀ over the sources (handbook section 4). A source that few components share
stands in a sparse part, factored once; one that many share (a scale, a laboratory, a drift) is of low rank beside it
(Woodbury's identity). Rows are divided by their own σ. Nothing is added: a component that follows from the others is
left out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

import numpy as np
from scipy import sparse
from scipy.sparse.linalg import splu

#: A source that more components share is taken as of low rank.
_MANY: Final = 12
#: Up to so many components the whole inverse is kept: each question is then a few products.
_WHOLE: Final = 3000
_AT_ONCE: Final = 256
#: A pivot below this share of a row's variance: the row follows from the others.
_FOLLOWS: Final = 1e-9

Array = Any


class Precision:
    """Σ⁻¹ of n components; vectors are in units of the components' own σ.

    ``kept``: the components (their places) that are not functions of others, with a variance; ``scale``: their σ.
    """

    def __init__(self, rows: Sequence[Mapping[int, float]], variances: Mapping[int, float]) -> None:
        whole = _matrix(rows, variances)
        sigma = np.sqrt(np.asarray(whole.multiply(whole).sum(axis=1)).ravel())
        kept = np.flatnonzero(sigma > 0)
        while True:
            scaled = sparse.diags(1 / sigma[kept]) @ whole[kept]
            local, shared = _parted(scaled)
            follows = self._factored(local, shared)
            if not len(follows):
                break
            kept = np.delete(kept, follows)
        self.kept = kept
        self.scale = sigma[kept]
        self.roots = scaled
        self._whole = _inverse(scaled) if 0 < len(kept) <= _WHOLE else None

    def _factored(self, local: Any, shared: Any) -> Array:
        """Factor the sparse part and the small one; returns the rows that follow from others."""
        covariance = (local @ local.T).tocsc()
        if not covariance.shape[0]:
            self._lu, self._low = None, None
            return np.array([], dtype=int)
        lu = splu(covariance, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
        pivots = np.abs(lu.U.diagonal())
        follows = lu.perm_c.argsort()[np.flatnonzero(pivots < _FOLLOWS)[:1]]  # what comes after it is worth nothing
        self._lu = lu
        if len(follows):
            return follows
        self._shared = shared.toarray()
        through = lu.solve(self._shared) if shared.shape[1] else self._shared
        self._low = np.linalg.inv(np.eye(shared.shape[1]) + self._shared.T @ through)
        self._through = through
        return np.array([], dtype=int)

    def solve(self, vectors: Array) -> Array:
        """Return Σ⁻¹ × vectors (n, or n × k)."""
        return self._solve(vectors) if self._whole is None else self._whole @ vectors

    def squares(self, directions: Any) -> Array:
        """Return hᵀΣ⁻¹h of each column of a sparse matrix."""
        if self._whole is not None:
            return np.asarray(directions.multiply((directions.T @ self._whole).T).sum(axis=0)).ravel()
        found = np.empty(directions.shape[1])
        for start in range(0, len(found), _AT_ONCE):
            dense = directions[:, start : start + _AT_ONCE].toarray()
            found[start : start + _AT_ONCE] = np.einsum("ij,ij->j", dense, self._solve(dense))
        return found

    def _solve(self, vectors: Array) -> Array:
        if self._lu is None:
            return vectors
        local = self._lu.solve(np.ascontiguousarray(vectors))
        return local - self._through @ (self._low @ (self._shared.T @ local))

    def covariance_times(self, vectors: Any) -> Any:
        """Return the roots' transpose × vectors: hᵀΣh is the sum of its squares."""
        return self.roots.T @ vectors


def _matrix(rows: Sequence[Mapping[int, float]], variances: Mapping[int, float]) -> Any:
    """Return A·√diag(v), n × sources."""
    columns = {reference: i for i, reference in enumerate(dict.fromkeys(r for row in rows for r in row))}
    at, across, values = [], [], []
    for i, row in enumerate(rows):
        for reference, coefficient in row.items():
            at.append(i)
            across.append(columns[reference])
            values.append(coefficient * variances[reference] ** 0.5)
    return sparse.csr_matrix((values, (at, across)), shape=(len(rows), max(len(columns), 1)))


def _inverse(scaled: Any) -> Array:
    """Return the whole of Σ⁻¹, of as many components as that is quicker for."""
    return np.linalg.inv((scaled @ scaled.T).toarray())


def _parted(scaled: Any) -> tuple[Any, Any]:
    """Return the columns that few rows share, and those that many do and no row stands on alone."""
    columns = scaled.tocsc()
    count = np.diff(columns.indptr)
    many = count > _MANY
    local = columns[:, ~many]
    own = np.asarray(local.multiply(local).sum(axis=1)).ravel()
    bare = np.flatnonzero(own < 1e-6)
    if len(bare):  # rows with nothing of their own: what they share stays in the sparse part
        touched = np.asarray(abs(scaled[bare]).sum(axis=0)).ravel() > 0
        many &= ~touched
        local = columns[:, ~many]
    return local, columns[:, many]
