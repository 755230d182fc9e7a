"""H as a linear form in the error sources: what dust should be there, less what truly is.

What H takes in is q·E, and E was weighed; what truly became dust is q̂·L, q̂ the recoverable share as it is and L the
loss as it came. To first order

    q·E − q̂·L = q·Σ ρ·dW − E·dq − q·(spread + drift)

beside the errors of a survey at take-on, and of the sweeps: a sweep taken for more than it is leaves too little in H.
When it is assayed or settled, what that brings undoes the estimate's error. After a clean-out H should be nothing, and
its form tells how far from it measurement, the recoverable share and the losses can take it.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from ledger.balance.flows.normal_loss import Allowance
from ledger.balance.measurement.covariance import drift_source, spread_source
from ledger.balance.measurement.forms import Form, Source, add, combined
from ledger.balance.measurement.propagation import Pass


class DustForms(NamedTuple):
    """H at a period's end, and, where the area was cleaned out in it, what was left of H then; else None."""

    closing: Form
    shortfall: Form | None


def dust_forms(
    found: Pass, area: str, period: str, index: int, allowances: Iterable[Allowance], opening: Form,
    cleaned_out: int | None,
) -> DustForms:  # fmt: skip
    """Return the forms of an area's dust in one metal from that of H at the period's beginning.

    ``allowances``: the area's of the period; ``cleaned_out``: the instant of its last clean-out. What comes later than
    that stays in H.
    """
    moves = [(m.instant, m.content.forms[index]) for m in found.dust_of.get((area, period), ())]
    accrued = [(a.instant, accrual(found, a, period, index)) for a in allowances]
    parts = [*moves, *accrued]
    if cleaned_out is None:
        return DustForms(combined(((opening, 1.0), *((form, 1.0) for _, form in parts))), None)
    before = combined(((opening, 1.0), *((form, 1.0) for instant, form in parts if instant <= cleaned_out)))
    return DustForms(combined((form, 1.0) for instant, form in parts if instant > cleaned_out), before)


def accrual(found: Pass, allowance: Allowance, period: str, index: int) -> Form:
    """Return the form of one ticket's accrual: what was expected of its loss, less the dust that it made.

    The recoverable share is one number of the operation, and one source for all its tickets and metals.
    """
    made = found.accrued.get(allowance.ticket)
    if made is None or allowance.allowed is None:
        return {}
    form = dict(made.content.forms[index])
    fixed = allowance.accrued - made.content.values[index]
    of_q = made.of_q[index] + fixed * made.ratio
    if of_q:
        operation = allowance.operation
        shared = found.tape.shared(("recoverable", operation), lambda: Source("recoverable", operation, 1.0))
        add(form, {shared: -of_q})
    if made.spread[index]:
        add(form, {spread_source(found.tape, allowance): -made.spread[index]})
    if made.drift[index]:
        add(form, {drift_source(found.tape, allowance.operation, period): -made.drift[index]})
    return form
