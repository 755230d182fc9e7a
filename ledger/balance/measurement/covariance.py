"""Balances over sources: U of each area and month as a row of the sparse matrix S, and C = S·diag(var)·Sᵀ.

Nothing is added to make C invertible. A month's closing count is the next one's opening: the same readings stand in
both rows with opposite signs, and the negative correlation comes by itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from math import fsum, sqrt

from ledger.balance.flows.normal_loss import Allowance
from ledger.balance.measurement.forms import Form, Source, Tape, add, combined
from ledger.balance.measurement.propagation import Pass
from ledger.balance.measurement.worth import Sigma

#: Sources that are loss and not measurement.
LOSS = frozenset(("spread", "drift"))


def unexplained(found: Pass, area: str, period: str, index: int, allowances: Iterable[Allowance]) -> Form:
    """Return the form of U of an area and period in one metal: its differences, less what its work was to lose.

    ``allowances``: the area's of the period. A work ticket's loss is one source for all metals and gross (*spread*);
    what an operation's tickets of one month share is another (*drift*).
    """
    own = [r for r in found.of_area.get((area, period), ()) if not r.prior and r.kind != "take_on"]
    form = combined((r.content.forms[index], 1.0) for r in own)
    for allowance in allowances:
        if allowance.allowed is not None:
            add(form, normal_loss(found, allowance, period, index))
    return form


def normal_loss(found: Pass, allowance: Allowance, period: str, index: int, *, drift: bool = True) -> Form:
    """Return the form of one ticket's loss less what was expected of it: spread and drift, and −E as it was weighed."""
    expected = found.expected.get(allowance.ticket)
    form = combined([(expected.forms[index], -1.0)] if expected is not None else [])
    if allowance.spread:
        form[spread_source(found.tape, allowance)] = allowance.spread
    if drift and allowance.drift:
        form[drift_source(found.tape, allowance.operation, period)] = allowance.drift
    return form


def spread_source(tape: Tape, allowance: Allowance) -> int:
    """Return the source that a ticket's or job's loss is, for all metals and gross; of variance 1."""
    operation, job = allowance.operation, allowance.job
    key = ("spread", "job", job) if job is not None else ("spread", allowance.ticket)
    return tape.shared(key, lambda: Source("spread", operation, 1.0, allowance.number))


def drift_source(tape: Tape, operation: str, period: str) -> int:
    """Return the source that the losses of an operation's tickets of one month share; of variance 1."""
    return tape.shared(("drift", operation, period), lambda: Source("drift", operation, 1.0))


def prior(found: Pass, area: str, period: str, index: int) -> Form:
    """Return the form of P: what undid an earlier period's postings."""
    own = [r for r in found.of_area.get((area, period), ()) if r.prior]
    return combined((r.content.forms[index], 1.0) for r in own)


def sigma_of(tape: Tape, row: Mapping[int, float]) -> Sigma:
    """Return σ of a row, of the measurement alone and of all."""
    return Sigma(sqrt(tape.variance(row, LOSS)), sqrt(tape.variance(row)))


def shared_variance(tape: Tape, one: Mapping[int, float], other: Mapping[int, float]) -> float:
    """Return the covariance of two rows in sources, in ng²: the sum over the sources that both share."""
    few, many = (one, other) if len(one) <= len(other) else (other, one)
    variances = tape.variances
    return fsum([c * many[r] * variances[~r] for r, c in few.items() if r in many])


def covariance(tape: Tape, rows: Sequence[Mapping[int, float]]) -> list[list[float]]:
    """Return C of rows in sources, in ng²: each element the sum over the sources that both rows share."""
    matrix = [[0.0] * len(rows) for _ in rows]
    for i, one in enumerate(rows):
        for j, other in enumerate(rows[: i + 1]):
            matrix[i][j] = matrix[j][i] = shared_variance(tape, one, other)
    return matrix
