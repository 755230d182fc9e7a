"""Work tickets, with their forms: outputs by the operation's composition, and the ticket's own difference.

For inputs of a combining ticket a reading acts through the output's fineness too; in the ticket's own difference all
of them then count with the mean fineness. See `ledger.book.posting.work`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

from ledger.balance.measurement.contents import Content, fineness_of, mean, total, weighed
from ledger.balance.measurement.effective import LineOf, Shares, TicketOf
from ledger.balance.measurement.expecting import accrued_of, expected_of
from ledger.balance.measurement.forms import Form, combined
from ledger.balance.measurement.job_work import job_work
from ledger.balance.measurement.standings import Standings, mixed
from ledger.balance.measurement.taking import Taken, find, take, worn
from ledger.plant.process import Operation

Document = Mapping[str, Any]


@dataclass(slots=True)
class Put:
    """One output: its line, its mass, and content and fineness once known."""

    line: LineOf
    document: Document
    mass: float
    form: Form
    content: Content | None = None
    fineness: Content | None = None

    @property
    def own(self) -> bool:
        """Whether the line states a determination of its own."""
        return "method" in self.document or "basis" in self.document


@dataclass(frozen=True)
class Bench:
    """What a composition works on."""

    state: Standings
    operation: Operation
    taken: list[Taken]
    stated: list[Put]
    rest: list[Put]

    @cached_property
    def put_in(self) -> Content:
        """ΣW of the inputs."""
        return total([t.weighed for t in self.taken], self.state.size)

    @cached_property
    def left(self) -> Content:
        """ΣW less what the outputs with their own determination hold."""
        return self.put_in.minus(_sum_of(self.stated, self.state), self.state.tape) if self.stated else self.put_in

    def mass_of(self, puts: Sequence[Put]) -> tuple[float, Form]:
        """Return the mass of outputs."""
        return sum(p.mass for p in puts), combined((p.form, 1.0) for p in puts)


def _sum_of(puts: Sequence[Put], state: Standings) -> Content:
    return total([p.content for p in puts if p.content is not None], state.size)


def work(state: Standings, ticket: TicketOf, lines: Sequence[Document]) -> None:
    """Take a work ticket into the pass: at once, or as a part of its job."""
    operation = state.weighings.setups.at(ticket.instant).operations[ticket.operation or ""]
    if ticket.job is not None:
        job_work(state, ticket, lines, operation)
        return
    taken, puts = [], []
    for line in ticket.lines:
        if find(state, ticket, line):
            continue
        document = lines[line.number - 1]
        if line.side == "in":
            taken.append(take(state, ticket, line, document))
        else:
            mass, form = float(line.weighed_ng or 0), state.mass(ticket, line, document)
            puts.append(Put(line, document, mass, form))
    if not taken:
        return
    bench = Bench(state, operation, taken, [p for p in puts if p.own], [p for p in puts if not p.own])
    for put in bench.stated:
        put.content, put.fineness = stated_output(state, ticket, put)
    if bench.rest:
        _COMPOSE[operation.composition](bench)
    for put in puts:
        if put.content is not None:
            state.put_down(ticket.document["area"], put.line.lot, put.content, put.fineness)
    _own_difference(bench, ticket, puts)
    weighed_in = [(t.line.lot, t.weighed) for t in taken]
    state.expected[ticket.seq] = expected_of(state, ticket, operation, weighed_in)
    if accrued := accrued_of(state, ticket, operation, weighed_in):
        state.accrued[ticket.seq] = accrued


def stated_output(state: Standings, ticket: TicketOf, put: Put) -> tuple[Content, Content]:
    """Return content and fineness of an output with a determination of its own."""
    line = put.line
    mass = put.mass or 1.0
    values = line.fineness
    if values is None or state.lots[line.lot].kind == "bin":
        values = (1.0, *(x / mass for x in line.content[1:]))
    fineness = state.determinations.stated(
        ticket.number, line.number, ticket.instant, put.document, values, put.mass, put.form
    )
    return weighed(put.mass, put.form, fineness), fineness


def _carries(bench: Bench) -> None:
    """The outputs keep the inputs' fineness; of several determinations of one fineness, their mean by mass."""
    taken = bench.taken
    whole = sum(t.weighed.values[0] for t in taken) or 1.0
    one = len(taken) == 1
    fineness = taken[0].fineness if one else mean([(t.fineness, t.weighed.values[0] / whole) for t in taken],
                                                  bench.state.tape)  # fmt: skip
    _give(bench, fineness)


def _combines(bench: Bench) -> None:
    """The rest share what is left: (fine in − stated) ÷ (mass in × (1 − fume) − stated mass)."""
    put_in, left, tape = bench.put_in, bench.left, bench.state.tape
    fume = float(bench.operation.fume)
    stated, stated_form = bench.mass_of(bench.stated)
    charge = put_in.values[0] * (1 - fume)
    form = combined(((put_in.forms[0], 1 - fume), (stated_form, -1.0)))
    if charge < sum(put_in.values[1:]):
        charge = sum(put_in.values[1:])
        form = combined([*((f, 1.0) for f in put_in.forms[1:]), (stated_form, -1.0)])
    _give(bench, fineness_of(left, charge - stated, tape.short(form), tape))


def _give(bench: Bench, fineness: Content) -> None:
    for put in bench.rest:
        put.content, put.fineness = weighed(put.mass, put.form, fineness), fineness


def _surface(bench: Bench) -> None:
    """What is lost is the layer: content in − lost mass × layer fineness, shared by mass."""
    put_in, left, state = bench.put_in, bench.left, bench.state
    out, out_form = bench.mass_of([*bench.stated, *bench.rest])
    lost = put_in.values[0] - out
    lost_form = state.tape.short(combined(((put_in.forms[0], 1.0), (out_form, -1.0))))
    layers = [(worn(t, state), t.weighed) for t in bench.taken]
    whole = put_in.values[0] or 1.0
    values, forms = [left.values[0]], [left.forms[0]]
    for i in range(1, state.size):
        layer = sum(f.values[i] * w.values[0] for f, w in layers) / whole
        d_layer = combined(
            part for f, w in layers
            for part in ((f.forms[i], w.values[0] / whole), (w.forms[0], (f.values[i] - layer) / whole))
        )  # fmt: skip
        fine = left.values[i] - lost * layer
        values.append(max(fine, 0.0))
        parts = ((left.forms[i], 1.0), (lost_form, -layer), (d_layer, -lost))
        forms.append(combined(parts) if fine > 0 else {})
    _share(bench, Content(values, forms))


def _content(bench: Bench) -> None:
    """All fine metal is in the outputs."""
    left = bench.left
    forms = [form if x > 0 else {} for x, form in zip(left.values, left.forms, strict=True)]
    _share(bench, Content([max(x, 0.0) for x in left.values], forms))


def _share(bench: Bench, fine: Content) -> None:
    mass, form = bench.mass_of(bench.rest)
    _give(bench, fineness_of(fine, mass, bench.state.tape.short(form), bench.state.tape))


_COMPOSE: Final[dict[str, Callable[[Bench], None]]] = {
    "carries": _carries,
    "combines": _combines,
    "surface": _surface,
    "content": _content,
}


def _own_difference(bench: Bench, ticket: TicketOf, puts: Sequence[Put]) -> None:
    state, area = bench.state, ticket.document["area"]
    difference = bench.put_in.minus(_sum_of(puts, state), state.tape)
    state.own[ticket.seq] = difference
    shares: Shares = mixed([(t.weighed, t.shares) for t in bench.taken])
    if shares and not bench.rest and all(_measured(put) for put in puts):
        state.strike_by_origin(ticket, area, "work", difference, shares)
    else:
        state.strike(ticket, area, "work", difference)


def _measured(put: Put) -> bool:
    return bool(put.document.get("basis", "measured") == "measured")
