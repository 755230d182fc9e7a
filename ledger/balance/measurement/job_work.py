"""Jobs, with their forms: what is in and not yet out, and the job's own difference; see `ledger.book.posting.jobs`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ledger.balance.measurement.contents import Content, fineness_of, weighed
from ledger.balance.measurement.effective import LineOf, Shares, TicketOf
from ledger.balance.measurement.expecting import accrued_of, expected_of
from ledger.balance.measurement.forms import Form, combined
from ledger.balance.measurement.standings import JobOf, Standings, mixed
from ledger.balance.measurement.taking import Taken, find, take, worn
from ledger.plant.process import Operation

Document = Mapping[str, Any]


def job_work(state: Standings, ticket: TicketOf, lines: Sequence[Document], operation: Operation) -> None:
    """Take one ticket of a job into the pass."""
    lot = ticket.job or 0
    job = state.jobs.setdefault(lot, JobOf.opened(state.size, operation.composition))
    step = _Step(state, ticket, operation, lot, job)
    outputs: list[tuple[LineOf, Document]] = []
    for line in ticket.lines:
        if find(state, ticket, line):
            continue
        if line.side == "in":
            step.take_in(take(state, ticket, line, lines[line.number - 1]))
        elif line.side == "out":
            outputs.append((line, lines[line.number - 1]))
    before = job.put_out
    step.put_out(outputs)
    step.expect(before)
    if ticket.document.get("done"):
        step.finish()


@dataclass(slots=True)
class _Step:
    """One ticket's work on one job."""

    state: Standings
    ticket: TicketOf
    operation: Operation
    lot: int
    job: JobOf

    @property
    def area(self) -> str:
        return str(self.ticket.document["area"])

    @property
    def stands(self) -> Content:
        return self.state.at(self.area, self.lot)

    def mass_left(self, stands: Content) -> tuple[float, Form]:
        """Return the mass that still holds the content: of a combining job less the fume that is due."""
        if self.operation.composition != "combines":
            return stands.values[0], stands.forms[0]
        left = stands.values[0] - self.job.fume_due
        if left < sum(stands.values[1:]):
            return sum(stands.values[1:]), combined((f, 1.0) for f in stands.forms[1:])
        return left, combined(((stands.forms[0], 1.0), (self.job.fume_form, -1.0)))

    def take_in(self, taken: Taken) -> None:
        """Take one input in: the job has the composition of what it now holds."""
        state, job, w = self.state, self.job, taken.weighed
        carries = self.operation.composition == "carries"
        before = self.stands
        fume = float(self.operation.fume) if self.operation.composition == "combines" else 0.0
        layer = worn(taken, state)
        job.inputs.append((taken.line.lot, w))
        job.mass_in += w.values[0]
        job.mass_in_form = state.tape.short(combined(((job.mass_in_form, 1.0), (w.forms[0], 1.0))))
        job.fume_due += fume * w.values[0]
        job.fume_form = state.tape.short(combined(((job.fume_form, 1.0), (w.forms[0], fume))))
        job.worn = job.worn.plus(weighed(w.values[0], w.forms[0], layer), state.tape)
        state.put(self.area, self.lot, w)
        shares = mixed([(w, taken.shares), (before, state.origins.get(self.lot, {}))])
        state.origins[self.lot] = taken.shares if carries and not any(before.values) else shares
        if carries:
            if not any(before.values) or self.lot not in state.fineness:
                state.fineness[self.lot] = taken.fineness
            return
        self._compose()

    def _compose(self) -> None:
        stands = self.stands
        mass, form = self.mass_left(stands)
        if mass > 0:
            self.state.fineness[self.lot] = fineness_of(stands, mass, self.state.tape.short(form), self.state.tape)

    def put_out(self, outputs: Sequence[tuple[LineOf, Document]]) -> None:
        """Put the outputs down, those with their own determination first."""
        stated = [each for each in outputs if "method" in each[1] or "basis" in each[1]]
        rest = [each for each in outputs if each not in stated]
        for line, document in stated:
            content, fineness = self.state.stated(self.ticket, line, document)
            self._put(line, content, fineness)
        if stated and self.operation.composition != "carries":
            self._compose()
        if rest:
            self.job.calculated = True
            fineness = self._fineness_of_rest(rest)
            for line, document in rest:
                self._put(line, self.state.read(self.ticket, line, document, fineness), fineness)

    def _put(self, line: LineOf, content: Content, fineness: Content) -> None:
        self.state.put(self.area, self.lot, content, -1.0)
        self.state.put_down(self.area, line.lot, content, fineness)
        self.job.put_out = self.job.put_out.plus(content, self.state.tape)

    def _fineness_of_rest(self, rest: Sequence[tuple[LineOf, Document]]) -> Content:
        kind = self.operation.composition
        if not (self.ticket.document.get("done") and kind in ("surface", "content")):
            return self.state.fineness_of(self.lot, self.area)
        masses = [(float(line.weighed_ng or 0), self.state.mass(self.ticket, line, d)) for line, d in rest]
        mass, form = sum(m for m, _ in masses), combined((f, 1.0) for _, f in masses)
        stands = self.stands
        left = self._left_by_surface(stands, mass, form) if kind == "surface" else stands
        return fineness_of(left, mass, self.state.tape.short(form), self.state.tape)

    def _left_by_surface(self, stands: Content, mass: float, form: Form) -> Content:
        job = self.job
        lost, put_in = stands.values[0] - mass, job.mass_in or 1.0
        values, forms = [mass], [form]
        for i in range(1, self.state.size):
            layer = job.worn.values[i] / put_in
            d_layer = combined(((job.worn.forms[i], 1 / put_in), (job.mass_in_form, -layer / put_in)))
            values.append(stands.values[i] - lost * layer)
            parts = ((stands.forms[i], 1.0), (stands.forms[0], -layer), (form, layer), (d_layer, -lost))
            forms.append(self.state.tape.short(combined(parts)))
        return Content(values, forms)

    def expect(self, before: Content) -> None:
        """Keep what E grew by: in proportion to what came out; at `done` the rest of it."""
        state, job = self.state, self.job
        full = expected_of(state, self.ticket, self.operation, job.inputs)
        put_in = [sum(w.values[i] for _, w in job.inputs) for i in range(state.size)]
        self._accrue(put_in)
        if self.ticket.document.get("done"):
            so_far = full
        else:
            share = [min(f / x, 1.0) if x else 0.0 for f, x in zip(full.values, put_in, strict=True)]
            so_far = job.put_out.part(share)
        state.job_of[self.ticket.seq] = self.lot
        state.expected[self.ticket.seq] = so_far if job.rated is None else so_far.minus(job.rated, state.tape)
        job.rated = so_far

    def _accrue(self, put_in: Sequence[float]) -> None:
        """Keep what the job's dust grew by, in the same proportion."""
        state, job = self.state, self.job
        so_far = accrued_of(state, self.ticket, self.operation, job.inputs)
        if so_far is None:
            return
        if not self.ticket.document.get("done"):
            so_far = so_far.part(job.put_out, put_in)
        state.accrued[self.ticket.seq] = so_far if job.accrued is None else so_far.minus(job.accrued, state.tape)
        job.accrued = so_far

    def finish(self) -> None:
        """Strike the job's own difference."""
        rest, counted = self.state.empty(self.area, self.lot), self.job.counted
        self.job.done = True
        self.state.own[self.ticket.seq] = rest if counted is None else rest.plus(counted, self.state.tape)
        shares: Shares = {} if self.job.calculated else self.state.origins.get(self.lot, {})
        self.state.strike_by_origin(self.ticket, self.area, "work", rest, shares)
