"""The form of a ticket's normal loss, and of the dust it makes: E is a share of what was weighed in, moving with it."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from ledger.balance.measurement.accruing import Accrual
from ledger.balance.measurement.contents import Content, Later
from ledger.balance.measurement.effective import LotOf, TicketOf
from ledger.balance.measurement.forms import Form, combined
from ledger.balance.measurement.standings import Standings
from ledger.book.expected import Worked, expected_loss
from ledger.plant.process import Operation
from ledger.plant.setup import Setup


class Slope(NamedTuple):
    """Derivatives of one metal's E by W: of which metal's W it is a share, ∂E/∂W, and of the dust in it.

    ``dust``: ∂(q·E)/∂W, fume left out; ``spread``, ``drift``: q times the loss's standard deviations.
    """

    base: int
    loss: float
    dust: float
    spread: float
    drift: float


class Slopes(NamedTuple):
    """Every metal's slopes; whether any of the loss is recoverable, and by which share of itself that is uncertain."""

    by_metal: list[Slope]
    dusty: bool
    ratio: float


_PROBE = 10**12


def expected_of(
    state: Standings, ticket: TicketOf, operation: Operation, inputs: Sequence[tuple[int, Content]]
) -> Content:
    """Return E of the inputs, each a lot and its W; its share part alone, in ng by metal."""
    setup = state.weighings.setups.at(ticket.instant)
    values, parts = [0.0] * state.size, [list[tuple[Form, float]]() for _ in range(state.size)]
    for lot, content in inputs:
        slopes = slopes_of(state, setup, operation, state.lots[lot])
        for i, slope in enumerate(slopes.by_metal):
            values[i] += slope.loss * content.values[slope.base]
            parts[i].append((content.forms[slope.base], slope.loss))
    return Content(values, Later(state.size, lambda metal: state.tape.short(combined(parts[metal]))))


def accrued_of(
    state: Standings, ticket: TicketOf, operation: Operation, inputs: Sequence[tuple[int, Content]]
) -> Accrual | None:
    """Return the dust that the inputs' normal loss makes, its share part; None where none of it is recoverable."""
    setup, size = state.weighings.setups.at(ticket.instant), state.size
    each = [(slopes_of(state, setup, operation, state.lots[lot]), content) for lot, content in inputs]
    if not any(slopes.dusty for slopes, _ in each):
        return None
    values, of_q, spread, drift = ([0.0] * size for _ in range(4))
    parts = [list[tuple[Form, float]]() for _ in range(size)]
    for slopes, content in each:
        for i, slope in enumerate(slopes.by_metal):
            weighed = content.values[slope.base]
            values[i] += slope.dust * weighed
            of_q[i] += slope.dust * slopes.ratio * weighed
            spread[i] += slope.spread * weighed
            drift[i] += slope.drift * weighed
            parts[i].append((content.forms[slope.base], slope.dust))
    content = Content(values, Later(size, lambda metal: state.tape.short(combined(parts[metal]))))
    return Accrual(content, of_q, spread, drift, each[0][0].ratio)


def slopes_of(state: Standings, setup: Setup, operation: Operation, lot: LotOf) -> Slopes:
    """Return ∂E/∂W for one input, kept by what it depends on; a lot without a layer wears as itself, like any other."""
    surface = lot.layer if operation.composition == "surface" else None
    key = (id(setup), operation.code, lot.alloy, lot.class_, surface)
    if key not in state.slopes:
        state.slopes[key] = _slopes(setup, operation, lot, surface, state.metals)
    found: Slopes = state.slopes[key]
    return found


def _slopes(
    setup: Setup, operation: Operation, lot: LotOf, surface: Sequence[float] | None, metals: Sequence[str]
) -> Slopes:
    """Ask the rule itself, twice: E is linear in what went in, and *each* is the same both times."""
    of = tuple(map(Fraction, surface)) if surface else (Fraction(1),) * len(metals)
    once, twice = (
        expected_loss(setup, operation, [Worked([n * _PROBE] * len(metals), lot.alloy, lot.class_, of)], tuple(metals))
        for n in (1, 2)
    )
    rates = setup.rates_for(operation.code, lot.alloy, lot.class_)
    base = next((k for k in (*range(1, len(metals)), 0) if metals[k] in rates.loss), 0)
    slopes = []
    for i, (a, b) in enumerate(zip(once.loss, twice.loss, strict=True)):
        loss, dust = (b - a, twice.recoverable[i] - once.recoverable[i]) if a is not None and b is not None else (0, 0)
        goes_by = base if surface and metals[i] not in rates.loss else i
        each = (loss, dust, once.spread[i] * rates.recoverable, once.drift[i] * rates.recoverable)
        slopes.append(Slope(goes_by, *(float(x / _PROBE) for x in each)))
    ratio = float(rates.recoverable_spread / rates.recoverable) if rates.recoverable else 0.0
    return Slopes(slopes, rates.recoverable > 0, ratio)
