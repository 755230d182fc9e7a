"""The linear programme in fractions: against HiGHS, from any basis, and where floating point would be wrong."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ledger.bench.charge_programme import Bounds, Programme, Row
from ledger.bench.charge_start import start

NG = 10**9


def solved(sources: list[Bounds], rows: list[Row], cost: dict[int, Fraction], *, warm: bool) -> Fraction | None:
    """Return the least cost, or None where the rows cannot be met; in exact pivots, or started by HiGHS."""
    programme = Programme(sources, rows)
    if not (warm and start(programme, cost)):
        remainders = range(len(sources) + len(rows), len(programme.values))
        if programme.minimise(dict.fromkeys(remainders, Fraction(1))):
            return None
    programme.forbid_shortfalls()
    return programme.minimise(cost)


shares = st.integers(0, 20).map(lambda number: Fraction(number, 20))


@st.composite
def problems(draw: st.DrawFn) -> tuple[list[Bounds], list[Row], dict[int, Fraction]]:
    n = draw(st.integers(1, 6))
    sources = [Bounds(Fraction(0), Fraction(draw(st.integers(1, 9)) * NG)) for _ in range(n)]
    mass = Fraction(draw(st.integers(1, 20)) * NG)
    rows = [Row((Fraction(1),) * n, Bounds(mass, mass))]
    for _ in range(draw(st.integers(0, 2))):
        held, low, high = draw(st.lists(shares, min_size=n, max_size=n)), draw(shares), draw(shares)
        rows.append(Row(tuple(h - min(low, high) for h in held), Bounds(Fraction(0))))
        rows.append(Row(tuple(h - max(low, high) for h in held), Bounds(None, Fraction(0))))
    return sources, rows, {column: draw(shares) for column in range(n)}


@settings(max_examples=150, deadline=None)
@given(problems())
def test_the_answer_does_not_depend_on_where_it_starts(
    problem: tuple[list[Bounds], list[Row], dict[int, Fraction]]
) -> None:
    assert solved(*problem, warm=True) == solved(*problem, warm=False)


@settings(max_examples=150, deadline=None)
@given(problems())
def test_the_least_cost_is_that_of_highs(problem: tuple[list[Bounds], list[Row], dict[int, Fraction]]) -> None:
    """Reference library: HiGHS, by itself, in floating point."""
    highspy = pytest.importorskip("highspy")
    sources, rows, cost = problem
    solver = highspy.Highs()
    solver.silent()
    for column, bounds in enumerate(sources):
        solver.addVar(0.0, float((bounds.high or 0) / NG))
        solver.changeColCost(column, float(cost[column]))
    for row in rows:
        low = -solver.inf if row.bounds.low is None else float(row.bounds.low / NG)
        high = solver.inf if row.bounds.high is None else float(row.bounds.high / NG)
        solver.addRow(low, high, len(sources), list(range(len(sources))), [float(a) for a in row.coefficients])
    solver.run()
    found = solved(*problem, warm=False)
    if solver.getModelStatus() == highspy.HighsModelStatus.kOptimal:
        assert found is not None
        assert float(found / NG) == pytest.approx(solver.getInfo().objective_function_value, abs=1e-6)
    else:
        assert found is None


@settings(max_examples=150, deadline=None)
@given(problems())
def test_what_is_found_keeps_every_bound_and_row(problem: tuple[list[Bounds], list[Row], dict[int, Fraction]]) -> None:
    sources, rows, cost = problem
    programme = Programme(sources, rows)
    programme.minimise(cost)
    values = programme.values[: len(sources)]
    assert not any(bounds.beyond(value) for bounds, value in zip(sources, values, strict=True))
    for row, (short, over) in zip(rows, programme.shortfalls(), strict=True):
        total = sum((a * x for a, x in zip(row.coefficients, values, strict=True)), Fraction(0))
        assert not row.bounds.beyond(total + short - over)
        assert min(short, over) >= 0


@pytest.mark.parametrize("warm", [True, False])
@pytest.mark.parametrize("off", [-1, 1])
def test_a_hair_that_floating_point_cannot_see_decides(off: int, warm: bool) -> None:
    """Two lots that differ by 10⁻¹⁸: what they hold between them can be made, what neither reaches cannot."""
    hair = Fraction(1, 10**18)
    half = Fraction(1, 2)
    sources = [Bounds(Fraction(0), Fraction(NG)), Bounds(Fraction(0), Fraction(NG))]
    mass = Row((Fraction(1), Fraction(1)), Bounds(Fraction(NG), Fraction(NG)))

    def at(wanted: Fraction) -> Fraction | None:
        row = Row((half - wanted, half + hair - wanted), Bounds(Fraction(0), Fraction(0)))
        return solved(sources, [mass, row], {0: Fraction(1)}, warm=warm)

    assert at(half + hair / 4) == Fraction(3 * NG, 4)
    assert at(half + (3 * hair if off > 0 else -hair)) is None


def test_highs_says_nothing_on_standard_output(capfd: pytest.CaptureFixture[str]) -> None:
    rows = [Row((Fraction(1),), Bounds(Fraction(NG), Fraction(NG)))]
    assert start(Programme([Bounds()], rows), {0: Fraction(1)})
    assert capfd.readouterr() == ("", "")
