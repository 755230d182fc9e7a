"""Counts, with their forms: R − C of each lot listed, and all of R of what was not found."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from ledger.balance.measurement.contents import Content
from ledger.balance.measurement.effective import LineOf, TicketOf
from ledger.balance.measurement.forms import combined
from ledger.balance.measurement.standings import JobOf, Missed, Standings
from ledger.balance.measurement.taking import find


def count(state: Standings, ticket: TicketOf, lines: Sequence[Mapping[str, Any]]) -> None:
    """Strike a count sheet's differences, and let what was counted stand."""
    kind = "take_on" if _is_take_on(state, ticket) else "count"
    for line in ticket.lines:
        if find(state, ticket, line):
            continue
        if line.side == "not found":
            recorded = state.empty(line.area, line.lot)
            state.missed[line.area, line.lot] = Missed(recorded, ticket.period)
            state.strike(ticket, line.area, kind, recorded, line=line.number, lot=line.lot)
        elif line.side == "count" and line.weighed_ng is not None:
            _count_line(state, ticket, line, lines[line.number - 1], kind)


def _is_take_on(state: Standings, ticket: TicketOf) -> bool:
    return ticket.seq in state.take_on_counts


def _count_line(
    state: Standings, ticket: TicketOf, line: LineOf, document: Mapping[str, Any], kind: str
) -> None:
    before = state.at(line.area, line.lot)
    counted = _counted(state, ticket, line, document, before)
    recorded = (line.recorded or line.content)[0]
    if line.weighed_ng != line.content[0]:
        if line.content[0] == recorded:
            return  # another team's reading stands
        counted = counted.plus(before, state.tape)  # listed more than once: the readings are added
    difference = before.minus(counted, state.tape)
    state.stands[line.area, line.lot] = counted
    job = state.jobs.get(line.lot)
    if job is not None:
        job.counted = difference if job.counted is None else job.counted.plus(difference, state.tape)
    state.strike(ticket, line.area, kind, difference, line=line.number, lot=line.lot)


def _counted(
    state: Standings, ticket: TicketOf, line: LineOf, document: Mapping[str, Any], before: Content
) -> Content:
    if state.lots[line.lot].kind == "job":
        return _counted_job(state, ticket, line, document, before)
    if line.lot not in state.fineness and state.lots[line.lot].kind != "bin":
        content, state.fineness[line.lot] = state.stated(ticket, line, document)
        return content
    return state.read(ticket, line, document, state.fineness_of(line.lot, line.area, line))


def _counted_job(
    state: Standings, ticket: TicketOf, line: LineOf, document: Mapping[str, Any], before: Content
) -> Content:
    """Return C of a job counted half-way, by what its operation's lost mass carries."""
    job = state.jobs.get(line.lot)
    mass, form = float(line.weighed_ng or 0), state.mass(ticket, line, document)
    composition = "carries" if job is None else job.composition
    if composition == "content":
        return Content([mass, *before.values[1:]], [form, *before.forms[1:]])
    if composition == "surface" and job is not None and job.mass_in:
        return _worn_job(state, job, mass, form, before)
    if job is not None:
        job.fume_due, job.fume_form = 0.0, {}
    return state.read(ticket, line, document, state.fineness_of(line.lot, line.area, line))


def _worn_job(state: Standings, job: JobOf, mass: float, form: dict[int, float], before: Content) -> Content:
    lost = before.values[0] - mass
    values, forms = [mass], [form]
    for i in range(1, state.size):
        layer = job.worn.values[i] / job.mass_in
        left = before.values[i] - lost * layer
        values.append(max(left, 0.0))
        d_layer = combined(((job.worn.forms[i], 1 / job.mass_in), (job.mass_in_form, -layer / job.mass_in)))
        parts = ((before.forms[i], 1.0), (before.forms[0], -layer), (form, layer), (d_layer, -lost))
        forms.append(state.tape.node(combined(parts)) if left > 0 else {})
    return Content(values, forms)
