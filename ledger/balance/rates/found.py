"""Each operation's rate, and each material's, as the book shows it: in force beside learned, with all error sources."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import fsum
from statistics import median
from typing import Final

from ledger.balance.measurement.forms import Form, Tape
from ledger.balance.months.month import Ledger
from ledger.balance.rates.learned import Learned, Observed, Scatter, learn
from ledger.balance.rates.robust import Slope, theil_sen
from ledger.balance.rates.ticket_rates import ANY, Material, TicketRate, ticket_rates
from ledger.plant.process import StatedRates
from ledger.plant.setup import Setup

#: A material is looked at by itself from so many tickets and months on.
ENOUGH_TICKETS: Final = 20
ENOUGH_MONTHS: Final = 3

#: Tickets, of different sizes, below which no fixed part is looked for; and how many are compared at most, two by two.
FEWEST_FOR_EACH: Final = 10
MOST_FOR_EACH: Final = 400


@dataclass(frozen=True, slots=True)
class InForce:
    """The rates that hold last: shares of the input's content, and ng a ticket.

    ``how``: stated, derived (from another metal's, by composition; then ``loss`` is what they came to on these tickets,
    *each* included) or unrated. ``assumed``: which of spread and drift nobody stated.
    """

    how: str
    loss: float | None
    stated: Fraction | None
    each: int
    scatter: Scatter | None
    assumed: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Found:
    """One operation, or one material of it: its tickets, what is in force, and what was learned beside it.

    ``each``: the fixed part in ng, by the slope of rate against 1/input; None where the tickets are too few or alike.
    ``rows``: what each ticket lost, in the error sources of ``tape``.
    """

    operation: str
    material: Material
    tape: Tape
    tickets: Sequence[TicketRate]
    rows: Sequence[Form]
    in_force: InForce
    learned: Learned
    each: Slope | None

    @property
    def areas(self) -> list[str]:
        """The areas it is worked in."""
        return sorted({ticket.area for ticket in self.tickets})

    @property
    def middle_input(self) -> float:
        """The input of the middle ticket, ng."""
        return median(ticket.put_in for ticket in self.tickets)

    def with_each(self, each: int) -> Found:
        """Return it as learned beside another fixed part."""
        beside = [each] * len(self.tickets)
        return replace(self, learned=_learned(self.tape, self.tickets, self.rows, beside, self.in_force))


@dataclass(frozen=True, slots=True)
class Look:
    """All that was found in a metal: ``periods`` looked at; ``mixed``: tickets of several materials' rates, left out.

    ``materials``: of operations without a rate of its own for them.
    """

    periods: Sequence[str]
    rates: Sequence[Found]
    materials: Sequence[Found]
    mixed: int


def look(ledger: Ledger, periods: Sequence[str]) -> Look:
    """Return what the counted months among the periods say of every operation's rate."""
    if not periods:
        return Look(periods, [], [], 0)
    tickets = ticket_rates(ledger, periods)
    rows = ledger.measured.tape.rows([ticket.form for ticket in tickets])
    by_rate: dict[tuple[str, Material], list[int]] = {}
    by_material: dict[tuple[str, Material], list[int]] = {}
    for place, ticket in enumerate(tickets):
        if ticket.stated_for is not None:
            by_rate.setdefault((ticket.operation, ticket.stated_for), []).append(place)
        if ticket.stated_for == ANY and ticket.material not in (None, ANY):
            by_material.setdefault((ticket.operation, ticket.material or ANY), []).append(place)

    def found(key: tuple[str, Material], places: Sequence[int]) -> Found:
        return _found(ledger, *key, [tickets[i] for i in places], [rows[i] for i in places])

    order = {operation.code: place for place, operation in enumerate(ledger.setup.operation)}
    by_order = sorted(by_rate, key=lambda key: (order[key[0]], key[1].code))
    enough = [key for key in sorted(by_material, key=lambda key: (order[key[0]], key[1].code))
              if _enough([tickets[i] for i in by_material[key]])]  # fmt: skip
    return Look(
        periods, [found(key, by_rate[key]) for key in by_order], [found(key, by_material[key]) for key in enough],
        sum(ticket.stated_for is None for ticket in tickets),
    )  # fmt: skip


def _enough(tickets: Sequence[TicketRate]) -> bool:
    return len(tickets) >= ENOUGH_TICKETS and len({ticket.period for ticket in tickets}) >= ENOUGH_MONTHS


def _found(
    ledger: Ledger, operation: str, material: Material, tickets: Sequence[TicketRate], rows: Sequence[Form]
) -> Found:
    in_force = _in_force(ledger, operation, material, tickets)
    tape = ledger.measured.tape
    learned = _learned(tape, tickets, rows, _beside(tickets, in_force), in_force)
    each = None if in_force.how == "derived" else _each(tickets)
    return Found(operation, material, tape, tickets, rows, in_force, learned, each)


def _beside(tickets: Sequence[TicketRate], in_force: InForce) -> list[float]:
    """Return what each ticket lost beside its share, in ng: the fixed part; or, derived, what its E differs by."""
    if in_force.how != "derived" or in_force.loss is None:
        return [in_force.each] * len(tickets)
    return [(ticket.expected or 0) - in_force.loss * ticket.put_in for ticket in tickets]


def _in_force(ledger: Ledger, operation: str, material: Material, tickets: Sequence[TicketRate]) -> InForce:
    setup, metal = ledger.setup, ledger.metal
    rates = setup.rates_for(operation, material.alloy, material.class_)
    if metal in rates.loss or metal in rates.each:
        loss = rates.loss.get(metal, Fraction(0))
        scatter = Scatter(float(rates.spread.get(metal, 0)), float(rates.drift.get(metal, 0)))
        return InForce("stated", float(loss), loss, rates.each.get(metal, 0), scatter,
                       tuple(_assumed(setup, operation, material, metal)))  # fmt: skip
    if not (rates.loss or rates.each) or any(ticket.expected is None for ticket in tickets):
        return InForce("unrated", None, None, 0, None, ())
    whole = sum(ticket.put_in for ticket in tickets)
    scatter = Scatter(fsum(t.spread for t in tickets) / whole, fsum(t.drift for t in tickets) / whole)
    return InForce("derived", sum(ticket.expected or 0 for ticket in tickets) / whole, None, 0, scatter, ())


def _assumed(setup: Setup, operation: str, material: Material, metal: str) -> Iterator[str]:
    layers: list[StatedRates] = [setup.operations[operation]]
    layers += [r for r in setup.rate if r.operation == operation and Material(r.alloy, r.class_) == material]
    for key in ("spread", "drift"):
        if not any(metal in getattr(layer, key) for layer in layers):
            yield key


def _learned(
    tape: Tape, tickets: Sequence[TicketRate], rows: Sequence[Form], beside: Sequence[float], in_force: InForce
) -> Learned:
    """Return the rate learned, its variance with what the tickets' weighings share: a bias does not average out."""
    shares = [{r: c / t.put_in for r, c in row.items()} for t, row in zip(tickets, rows, strict=True)]
    observed = [
        Observed((ticket.lost - fixed) / ticket.put_in, variance, ticket.period)
        for ticket, fixed, variance in zip(tickets, beside, _own_variances(tape, shares), strict=True)
    ]
    learned = learn(observed, in_force.scatter)
    together: Form = {}
    for share, weight in zip(shares, learned.weights, strict=True):
        for source, coefficient in share.items():
            together[source] = together.get(source, 0.0) + weight * coefficient
    own = fsum(w * w * o.variance for w, o in zip(learned.weights, observed, strict=True))
    return replace(learned, variance=learned.variance + max(tape.variance(together) - own, 0.0))


def _own_variances(tape: Tape, shares: Sequence[Form]) -> list[float]:
    """Return the variance of each ticket's weighing about what all tickets have in common."""
    mean: Form = {}
    for share in shares:
        for source, coefficient in share.items():
            mean[source] = mean.get(source, 0.0) + coefficient / len(shares)
    if len(shares) == 1:
        return [tape.variance(mean)]
    common = tape.variance(mean)
    return [
        max(common + fsum(c * (c - 2 * mean[r]) * tape.source(r).variance for r, c in share.items()), 0.0)
        for share in shares
    ]


def _each(tickets: Sequence[TicketRate]) -> Slope | None:
    """Return the loss of a ticket that does not grow with what is put in: rate = share + each/input."""
    if len(tickets) < FEWEST_FOR_EACH:
        return None
    by_input = sorted(tickets, key=lambda ticket: (ticket.put_in, ticket.ticket))
    step = max(len(by_input) / MOST_FOR_EACH, 1.0)
    some = [by_input[int(i * step)] for i in range(min(len(by_input), MOST_FOR_EACH))]
    return theil_sen([1 / ticket.put_in for ticket in some], [ticket.lost / ticket.put_in for ticket in some])
