"""Σ⁻¹ of sparse and low-rank parts against the plain inverse of the whole matrix (numpy)."""

from __future__ import annotations

import random

import numpy as np
import pytest
from scipy import sparse

from ledger.causes import precision as module
from ledger.causes.precision import Precision


def _rows(seed: int, n: int = 60) -> tuple[list[dict[int, float]], dict[int, float]]:
    """Rows with a reading of their own, one shared with the next, and three that all share."""
    chance = random.Random(seed)
    rows = []
    for i in range(n):
        row = {-(i + 1): 1.0, -(i + 2): -1.0, -1001: chance.uniform(-5, 5), -1002: chance.uniform(0, 3)}
        rows.append(row | ({-1003: chance.uniform(1, 2)} if i % 2 else {}))
    return rows, {r: chance.uniform(0.5, 2.0) for row in rows for r in row}


def _dense(rows: list[dict[int, float]], variances: dict[int, float]) -> np.ndarray:
    columns = sorted({r for row in rows for r in row})
    a = np.array([[row.get(r, 0.0) * variances[r] ** 0.5 for r in columns] for row in rows])
    return a @ a.T


@pytest.mark.parametrize("whole", [True, False], ids=["whole inverse", "sparse and low rank"])
@pytest.mark.parametrize("seed", range(4))
def test_solving_is_multiplying_with_the_inverse(seed: int, whole: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    if not whole:
        monkeypatch.setattr(module, "_WHOLE", 0)
    rows, variances = _rows(seed)
    found = Precision(rows, variances)
    covariance = _dense(rows, variances)
    scaled = covariance / np.outer(found.scale, found.scale)
    vectors = np.random.default_rng(seed).normal(size=(len(rows), 5))
    assert found.solve(vectors) == pytest.approx(np.linalg.solve(scaled, vectors), rel=1e-7, abs=1e-9)
    squares = np.einsum("ij,ij->j", vectors, np.linalg.solve(scaled, vectors))
    assert found.squares(sparse.csc_matrix(vectors)) == pytest.approx(squares, rel=1e-7)


def test_what_follows_from_the_others_is_left_out_and_nothing_is_added() -> None:
    rows, variances = _rows(9, 6)
    both = {r: rows[0].get(r, 0.0) + rows[1].get(r, 0.0) for r in {**rows[0], **rows[1]}}
    found = Precision([*rows, both], variances)
    assert len(found.kept) == 6
    assert found.scale == pytest.approx(np.sqrt(np.diag(_dense([*rows, both], variances)))[found.kept])


def test_a_component_without_variance_is_no_evidence() -> None:
    assert list(Precision([{-1: 1.0}, {}, {-2: 0.0}], {-1: 4.0, -2: 1.0}).kept) == [0]
