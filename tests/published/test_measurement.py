"""Weighing, propagation and balances against published and recomputed values; the source stands beside each check.

S: read in a copy of the source, or of a public file that attributes it. M: from memory, agreed when recomputed.
C: computed from first principles, not published.
"""

from __future__ import annotations

from math import cos, sin, sqrt
from typing import Any

import numpy as np
import pytest

from ledger.balance.measurement.covariance import covariance
from ledger.balance.measurement.forms import Form, Source, Tape, combined
from ledger.balance.months.month import Ledger
from ledger.plant.measuring import Scale
from tests.book.plants import Book, Document, bought, lot, ticket


def source(tape: Tape, sd: float) -> Form:
    return {tape.single(Source("reading", "", sd**2)): 1.0}


def rows(tape: Tape, *outputs: Form) -> list[Form]:
    return tape.rows(outputs)


# ------------------------------------------------------------------------------------------------------- readings


def test_resolution_and_a_net_of_two_readings() -> None:
    """d = 0.01 g: d/√12 = 2.887 mg, two readings 4.082 mg. GUM 4.3.7, rectangular distribution (S)."""
    scale = Scale.model_validate({"code": "S", "division": "0.01 g", "repeatability": "0 g"})
    assert scale.weighing_sd_ng / 1e6 == pytest.approx(2.887, abs=5e-4)
    tape = Tape()
    net = combined(((source(tape, scale.weighing_sd_ng), 1.0), (source(tape, scale.weighing_sd_ng), -1.0)))
    assert tape.sigma(net) / 1e6 == pytest.approx(4.082, abs=5e-4)


def test_a_weighing_budget() -> None:
    """0.3240 g: s 0.00017, drift ±0.0002, readability ±0.00005: u = 0.000207525 g. University of Tartu (S)."""
    scale = Scale.model_validate({"code": "S", "division": "0.0001 g", "repeatability": "0.00017 g"})
    tape = Tape()
    mass = combined(((source(tape, scale.weighing_sd_ng / 1e9), 1.0), (source(tape, 0.0002 / sqrt(3)), 1.0)))
    assert tape.sigma(mass) == pytest.approx(0.000207525, abs=5e-10)


def test_correlated_inputs() -> None:
    """R 127.732/0.071, X 219.847/0.295, Z 254.260/0.236; without correlation u(R) is 2.7 times. JCGM 100 H.2 (M)."""
    readings = np.array([
        [5.007, 4.994, 5.005, 4.990, 4.999],
        [19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3],
        [1.0456, 1.0438, 1.0468, 1.0428, 1.0433],
    ])  # fmt: skip
    v, i, phi = readings.mean(axis=1)
    of_means = np.cov(readings) / 5
    u = np.sqrt(np.diag(of_means))
    tape = Tape()
    independent = [source(tape, 1.0) for _ in u]
    lower = np.linalg.cholesky(of_means)
    inputs = [tape.node(combined(zip(independent, map(float, row), strict=True))) for row in lower]
    z, (c, s) = v / i, (cos(phi), sin(phi))
    slopes = {
        "R": (z * c, (c / i, -z * c / i, -z * s), 127.732, 0.071),
        "X": (z * s, (s / i, -z * s / i, z * c), 219.847, 0.295),
        "Z": (z, (1 / i, -z / i, 0.0), 254.260, 0.236),
    }
    for value, slope, expected, sigma in slopes.values():
        assert value == pytest.approx(expected, abs=5e-4)
        found = tape.sigma(combined(zip(inputs, slope, strict=True)))
        assert found == pytest.approx(sigma, abs=6e-4)  # of X 0.2956
    alone = sqrt(sum((c * x) ** 2 for c, x in zip(slopes["R"][1], u, strict=True)))
    assert alone / 0.071 == pytest.approx(2.7, abs=0.06)


# ------------------------------------------------------------------------------------- shared errors, in a real book

PLANT = """\
[plant]
name = "Invented Balance Works"
metals = ["gold"]
timezone = "UTC"
[[area]]
code = "STORE"
[[party]]
code = "SUP"
role = "supplier"
[[person]]
code = "W"
may = ["weigh", "count"]
""" + "".join(
    f'[[scale]]\ncode = "S{n}"\ndivision = "0.0001 g"\nrepeatability = "0.05 g"\nsensitivity = "0.02%"\n'
    for n in range(24)
)


def balance(scale_of: Any) -> float:
    """σ in grams of 12 receipts of 500 g, 11 issues and one closing item; each reading on ``scale_of(n, what)``."""
    names = [f"L{n}" for n in range(12)]
    lots = [lot(name, "500.00", fineness="999‰", scale=scale_of(n, "in")) for n, name in enumerate(names)]
    out = [lot(name, "500.00", all=True, scale=scale_of(12 + n, "out")) for n, name in enumerate(names[:11])]
    documents: list[Document] = [
        bought(1, "STORE", *lots),
        ticket(2, "ship", from_="STORE", party="SUP", terms="sold", lots=out),
        ticket(3, "count", area="STORE", lots=[lot("L11", "500.00", scale=scale_of(23, "close"))], ended=False),
    ]
    ledger = Ledger(Book(documents, PLANT).connection, "gross")
    return ledger.month("2026-10").sigma("STORE").total / 1e9


def test_what_shares_a_scale_adds_up_and_what_comes_back_cancels() -> None:
    """0.05 g random, 2·10⁻⁴ shared: one scale 0.2449 g, as if independent 0.5477, issues on a second 1.5748.

    C; formula: sums of squares of sums (Jaech; Sanborn 1987).
    """
    assert balance(lambda n, what: "S0") == pytest.approx(0.2449, abs=5e-5)
    assert balance(lambda n, what: f"S{n}") == pytest.approx(0.5477, abs=5e-5)
    assert balance(lambda n, what: "S1" if what == "out" else "S0") == pytest.approx(1.5748, abs=5e-5)


# ------------------------------------------------------------------------------------------- balances in sequence


def test_standardised_independent_residuals() -> None:
    """σ_R = σ_I = 1, shared 0.5, MUF (1, −.5, 2, 1.5) → (.5547, −.1535, 1.0621, 1.0747), squares 2.6143.

    Cumulative ÷ σ (.5547, .2236, .9285, 1.2649). C; Pike & Woods, Picard, Seifert; Avenhaus & Jaech.
    """
    tape, shared_of = Tape(), 0.5
    shared = source(tape, shared_of)
    counts = [source(tape, 1.0) for _ in range(5)]
    forms = [
        combined(((counts[t], 1.0), (source(tape, 1.0), 1.0), (counts[t + 1], -1.0), (shared, 1.0))) for t in range(4)
    ]
    c = np.array(covariance(tape, rows(tape, *forms)))
    assert c[0, 1] == pytest.approx(-1 + shared_of**2)  # a closing count is the next opening
    muf = np.array([1, -0.5, 2, 1.5])
    residuals = np.linalg.solve(np.linalg.cholesky(c), muf)
    assert residuals == pytest.approx([0.5547, -0.1535, 1.0621, 1.0747], abs=5e-5)
    assert residuals @ residuals == pytest.approx(2.6143, abs=5e-5)
    assert muf @ np.linalg.solve(c, muf) == pytest.approx(2.6143, abs=5e-5)
    cumulative = [muf[: t + 1].sum() / tape.sigma(combined((f, 1.0) for f in forms[: t + 1])) for t in range(4)]
    assert cumulative == pytest.approx([0.5547, 0.2236, 0.9285, 1.2649], abs=5e-5)


# --------------------------------------------------------------------------------------------- a network of balances

#: Heat exchangers with a bypass: six streams, V = I. Narasimhan & Jordache 2000, Example 1-1 (S).
READ = np.array([101.91, 64.45, 34.65, 64.20, 36.44, 98.88])
NODES = np.array([[1, -1, -1, 0, 0, 0], [0, 1, 0, -1, 0, 0], [0, 0, 1, 0, -1, 0], [0, 0, 0, 1, 1, -1]], dtype=float)


def joint(nodes: np.ndarray[Any, Any]) -> tuple[np.ndarray[Any, Any], np.ndarray[Any, Any]]:
    """Return Cov(streams, balances) and C of the balances, from the sources that their rows share."""
    tape = Tape()
    streams = [source(tape, 1.0) for _ in READ]
    balances = [combined(zip(streams, map(float, node), strict=True)) for node in nodes]
    c = np.array(covariance(tape, rows(tape, *streams, *balances)))
    return c[:6, 6:], c[6:, 6:]


def adjusted(nodes: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
    cross, c = joint(nodes)
    return np.asarray(READ - cross @ np.linalg.solve(c, nodes @ READ))


def test_a_network_adjusted_to_its_balances() -> None:
    assert adjusted(NODES) == pytest.approx([100.22, 64.50, 35.72, 64.50, 35.72, 100.22], abs=6e-3)


def test_a_network_with_two_streams_unmeasured() -> None:
    """Balances are joined until the unmeasured streams 3 and 4 stand in none: 100.494 64.252 36.242 (S)."""
    without = np.array([NODES[0] + NODES[2], NODES[1] + NODES[3]])
    assert adjusted(without)[[0, 1, 4]] == pytest.approx([100.494, 64.252, 36.242], abs=6e-4)


def test_tests_for_a_gross_error() -> None:
    """+4 in stream 2: global 16.674, nodal 3.005 (M), measurement 3.2047 (C).

    The same example's first order statistics; the largest nodal test is node 2's.
    """
    true = np.array([100, 64, 36, 64, 36, 100], dtype=float)
    read = READ + np.array([0, 4, 0, 0, 0, 0])
    assert true @ NODES.T == pytest.approx(np.zeros(4))
    cross, c = joint(NODES)
    r = NODES @ read
    assert r @ np.linalg.solve(c, r) == pytest.approx(16.674, abs=5e-4)
    assert max(abs(r) / np.sqrt(np.diag(c))) == pytest.approx(3.005, abs=5e-4)
    adjustment = cross @ np.linalg.solve(c, r)
    w = cross @ np.linalg.solve(c, cross.T)
    assert abs(adjustment[1]) / sqrt(w[1, 1]) == pytest.approx(3.2047, abs=5e-5)
