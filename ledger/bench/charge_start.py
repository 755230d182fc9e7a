"""The basis to start from, as HiGHS finds it in floating point.

HiGHS is kept by those who wrote it, and gives the basis itself rather than only the amounts; that basis is what exact
arithmetic can go on from. It is loaded here, in the function, since a command that charges nothing should not wait.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from ledger.bench.charge_programme import Bounds, Programme

_NG_PER_G = 10**9


def start(programme: Programme, cost: Mapping[int, Fraction]) -> bool:
    """Start a programme at the basis that is best for a cost by source; False where HiGHS finds none that holds.

    Amounts and bounds are in nanograms, coefficients plain numbers. The programme is then still to be minimised: the
    exact pivots decide, this only spares most of them.
    """
    import highspy

    class Quiet(highspy.Highs):
        """Silent from before it would introduce itself on standard output, which is for figures."""

        def enableCallbacks(self) -> None:  # noqa: N802
            self.silent()
            super().enableCallbacks()  # type: ignore[no-untyped-call]

    solver = Quiet()  # type: ignore[no-untyped-call]
    solver.silent()
    for column, bounds in enumerate(programme.sources):
        solver.addVar(*_grams(bounds, solver.inf))
        solver.changeColCost(column, float(cost.get(column, 0)))
    for row in programme.rows:
        used = [column for column, a in enumerate(row.coefficients) if a]
        solver.addRow(*_grams(row.bounds, solver.inf), len(used), used, [float(row.coefficients[c]) for c in used])
    solver.run()
    if solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        return False
    basis = solver.getBasis()
    status = [*basis.col_status, *basis.row_status]
    at = {one: [column for column, s in enumerate(status) if s == one] for one in set(status)}
    kinds = highspy.HighsBasisStatus
    return programme.start_from(at.get(kinds.kBasic, []), at.get(kinds.kUpper, []))


def _grams(bounds: Bounds, inf: float) -> tuple[float, float]:
    low = -inf if bounds.low is None else float(bounds.low / _NG_PER_G)
    return low, inf if bounds.high is None else float(bounds.high / _NG_PER_G)
