"""Weighing standards and worked budgets of measurement, against Lemel's scales and linear forms.

S: read in a copy of the source, or of a public file that attributes it. M: from memory, agreed when recomputed.
"""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest
from periodictable import elements

from ledger.balance.measurement.forms import Form, Source, Tape, combined
from ledger.plant.measuring import Scale
from ledger.quantities.fineness import parse_fineness
from ledger.quantities.mass import parse_mass

#: OIML R 76-1, Table 6, as Table 3 bounds the classes (S): load in intervals e up to which ±0.5 e and ±1 e are allowed,
#: and the most intervals of the class; beyond, ±1.5 e. In service twice that.
INTERVALS = {"I": (50_000, 200_000, 1_000_000), "II": (5_000, 20_000, 100_000), "III": (500, 2_000, 10_000)}


def permissible(of_class: str, load: int) -> float:
    """Return the maximum permissible error on initial verification, in intervals e, of a load of so many."""
    half, one, most = INTERVALS[of_class]
    assert load <= most
    return 0.5 if load <= half else 1.0 if load <= one else 1.5


def assumed_sd(load: int) -> float:
    """Return σ in intervals of a load on a scale of which nothing but the division (d = e) is stated."""
    scale = Scale.model_validate({"code": "S", "division": "0.01 g"})
    return sqrt((scale.weighing_sd_ng / 1e7) ** 2 + (float(scale.sensitivity) * load) ** 2)


@pytest.mark.parametrize("of_class", ["I", "II"])
def test_what_is_assumed_of_a_scale_covers_the_errors_that_verification_allows(of_class: str) -> None:
    """OIML R 76-1 Tables 3 and 6 (S): an error anywhere within ±mpe is rectangular, of sd mpe/√3 (GUM 4.3.7)."""
    for load in {n for bound in INTERVALS[of_class] for n in (1, bound // 2, bound, min(bound + 1, 10**6))}:
        if load <= INTERVALS[of_class][-1]:
            assert assumed_sd(load) >= permissible(of_class, load) / sqrt(3)


def test_what_is_assumed_of_a_scale_does_not_cover_a_full_class_iii() -> None:
    """OIML R 76-1 (S): at 10,000 e a class III instrument may be out by 1.5 e: state such a scale's own figures."""
    assert permissible("III", 10_000) == 1.5
    assert assumed_sd(10_000) < permissible("III", 10_000) / sqrt(3)


def test_the_smallest_sample_that_may_be_weighed() -> None:
    """USP <41> (S): 2000 s, s not less than 0.41 d; s = 0.00015 g → 0.300 g, and there 2 s are 0.10 % of it."""
    scale = Scale.model_validate({"code": "S", "division": "0.00001 g", "repeatability": "0.00015 g"})
    smallest = parse_mass("0.300 g")
    assert 2000 * scale.weighing_sd_ng == pytest.approx(smallest, rel=4e-4)  # the rounding of d adds 0.02 %
    assert 2 * scale.weighing_sd_ng / smallest == pytest.approx(0.0010, rel=4e-4)


def test_the_least_standard_deviation_of_a_net_mass() -> None:
    """USP <41> (S): s not less than 0.41 d. Of a net of two readings that only rounding disturbs √2·d/√12 = 0.408 d."""
    scale = Scale.model_validate({"code": "S", "division": "0.001 g", "repeatability": "0 g"})
    tape = Tape()
    readings = [tape.single(Source("reading", "S", scale.weighing_sd_ng**2)) for _ in range(2)]
    assert tape.sigma({readings[0]: 1.0, readings[1]: -1.0}) / 1e6 == pytest.approx(0.41, abs=0.005)


def quotient(tape: Tape, *factors: tuple[float, float, int]) -> tuple[float, float]:
    """Return Π value^power and its σ to first order; a factor is its value, standard uncertainty and power."""
    value = float(np.prod([x**power for x, _, power in factors]))
    forms: list[tuple[Form, float]] = []
    for x, u, power in factors:
        forms.append(({tape.single(Source("measured", "", u * u)): 1.0}, value * power / x))
    return value, tape.sigma(combined(forms))


def test_a_calibration_standard() -> None:
    """QUAM A1 (S): 1000·m·P/V, m 100.28 mg, P 0.9999 ± 0.0001 rectangular, V 100 mL: 1002.7, u 0.9 mg/L."""
    value, sigma = quotient(
        Tape(), (1000.0, 0.0, 1), (100.28, 0.05, 1), (0.9999, 0.0001 / sqrt(3), 1), (100.0, 0.07, -1)
    )
    assert value == pytest.approx(1002.7, abs=0.05)
    assert sigma == pytest.approx(0.9, abs=0.05)


def test_a_titrant() -> None:
    """QUAM A2 (S): 1000·m·P/(M·V): 0.10214 mol/L, u 0.00010; inputs of its table, from memory."""
    value, sigma = quotient(
        Tape(), (1000.0, 0.0, 1), (0.3888, 0.00013, 1), (1.0, 0.00029, 1), (1.0, 0.0005, 1), (204.2212, 0.0038, -1),
        (18.64, 0.013, -1),
    )  # fmt: skip
    assert value == pytest.approx(0.10214, abs=5e-6)
    assert sigma == pytest.approx(0.00010, abs=5e-6)


def test_where_first_order_is_not_enough() -> None:
    """Mass calibration: first order 0.0539, Monte Carlo 0.0754 mg. JCGM 101 9.3 (M).

    At the mean air density the slopes by the densities are nothing: linear forms leave them out, as docs/methods says.
    """
    tape = Tape()
    reference, shift = 100_000.0, 1.234
    sources: list[Form] = [
        {tape.single(Source("measured", "", u * u)): 1.0}
        for u in (0.050, 0.020, 0.2 / sqrt(12), 2000 / sqrt(12), 100 / sqrt(12))
    ]
    air = 1.20 - 1.2
    slopes = (1.0, 1.0, (reference + shift) * (1 / 8000 - 1 / 8000), -(reference + shift) * air / 8000**2, 0.0)
    assert tape.sigma(combined(zip(sources, slopes, strict=True))) == pytest.approx(0.0539, abs=5e-5)
    random, n = np.random.default_rng(20261125), 1_000_000
    buoyancy = 1 / random.uniform(7000, 9000, n) - 1 / random.uniform(7950, 8050, n)
    mass = random.normal(reference, 0.050, n) + random.normal(shift, 0.020, n)
    drawn = mass * (1 + (random.uniform(1.10, 1.30, n) - 1.2) * buoyancy)
    assert drawn.std() == pytest.approx(0.0754, abs=3e-4)


@pytest.mark.parametrize(("karat", "atoms"), [("10K", 20), ("12K", 27), ("14K", 33)])
def test_why_acid_takes_more_than_the_base(karat: str, atoms: float) -> None:
    """10K, 12K, 14K hold about 20, 27, 33 at.% gold, not far above the 15 to 21 where parting takes all but gold.

    Common practice, no source; parting limits from the assay literature. It lies between an alloy with copper alone and
    one with silver and copper alike, by the atomic weights of periodictable.
    """
    gold = float(parse_fineness(karat))

    def share(silver: float) -> float:
        of_gold = gold / elements.Au.mass
        rest = (1 - gold) * (silver / elements.Ag.mass + (1 - silver) / elements.Cu.mass)
        return 100 * of_gold / (of_gold + rest)

    assert share(0.0) < atoms < share(0.5)
