"""The form of a ticket's normal loss: E is a share of what was weighed in, and moves with it."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from ledger.balance.measurement.contents import Content
from ledger.balance.measurement.effective import LotOf, TicketOf
from ledger.balance.measurement.forms import Form, combined
from ledger.balance.measurement.standings import Standings
from ledger.balance.measurement.taking import Taken
from ledger.book.expected import Worked, expected_loss
from ledger.plant.process import Operation
from ledger.plant.setup import Setup

#: ∂E/∂W by metal: of which metal's W it is a share, and which share.
Slopes = list[tuple[int, float]]

_PROBE = 10**12


def expected_of(
    state: Standings, ticket: TicketOf, operation: Operation, inputs: Sequence[tuple[Taken, Content]]
) -> Content:
    """Return E of the inputs, its share part alone, in ng by metal."""
    setup = state.weighings.setups.at(ticket.instant)
    values, parts = [0.0] * state.size, [list[tuple[Form, float]]() for _ in range(state.size)]
    for taken, content in inputs:
        slopes = slopes_of(state, setup, operation, state.lots[taken.line.lot])
        for i, (base, slope) in enumerate(slopes):
            values[i] += slope * content.values[base]
            parts[i].append((content.forms[base], slope))
    return Content(values, [state.tape.short(combined(each)) for each in parts])


def slopes_of(state: Standings, setup: Setup, operation: Operation, lot: LotOf) -> Slopes:
    """Return ∂E/∂W for one input, kept by what it depends on; a lot without a layer wears as itself, like any other."""
    surface = lot.layer if operation.composition == "surface" else None
    key = (id(setup), operation.code, lot.alloy, lot.class_, surface)
    if key not in state.slopes:
        state.slopes[key] = _slopes(setup, operation, lot, surface, state.metals)
    return state.slopes[key]


def _slopes(
    setup: Setup, operation: Operation, lot: LotOf, surface: Sequence[float] | None, metals: Sequence[str]
) -> Slopes:
    """Ask the rule itself, twice: E is linear in what went in, and *each* is the same both times."""
    of = tuple(map(Fraction, surface)) if surface else (Fraction(1),) * len(metals)
    once, twice = (
        expected_loss(setup, operation, [Worked([n * _PROBE] * len(metals), lot.alloy, lot.class_, of)], tuple(metals))
        for n in (1, 2)
    )
    loss = setup.rates_for(operation.code, lot.alloy, lot.class_).loss
    base = next((k for k in (*range(1, len(metals)), 0) if metals[k] in loss), 0)
    slopes = []
    for i, (a, b) in enumerate(zip(once.loss, twice.loss, strict=True)):
        share = float((b - a) / _PROBE) if a is not None and b is not None else 0.0
        slopes.append((base if surface and metals[i] not in loss else i, share))
    return slopes
