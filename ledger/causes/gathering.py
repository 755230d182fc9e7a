"""Gathering: from a period's pass over the book to the components, each with its form."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from ledger.balance.daily.settlements import settlements
from ledger.balance.flows.normal_loss import Allowance, allowances, jobs_done
from ledger.balance.judging.dust_truth import dust_truths
from ledger.balance.measurement.covariance import normal_loss
from ledger.balance.measurement.effective import LotOf, Lots, TicketOf, effective_tickets, lines_in_document
from ledger.balance.measurement.forms import Form, Source, Tape, add, combined
from ledger.balance.measurement.propagation import Pass
from ledger.balance.measurement.residuals import Residual
from ledger.balance.months.chain import Chain
from ledger.balance.months.month import Month
from ledger.causes.evidence import Component, Evidence
from ledger.plant.assumed import SETTLEMENT_SD
from ledger.refusals import WrongUsage


def gather(connection: sqlite3.Connection, period: str, chain: Chain | None = None) -> Evidence:
    """Return the evidence of a period; raises as `reconcile` for what is none, WrongUsage for one without tickets.

    ``chain``: what earlier periods left, where the caller keeps it.
    """
    chain = chain or Chain(connection)
    if chain.calendar.bounds(period) and period not in chain.periods:
        raise WrongUsage(f"the book holds nothing of {period}", "give a period that has tickets")
    ledger = chain.ledger(period, None)
    month = ledger.month(period)
    measured = ledger.measured
    tickets = {t.seq: t for t in effective_tickets(connection, month.end, month.start)}
    work = _Work.of(month, measured)
    groups: dict[tuple[int, int, str, int | None], list[Residual]] = {}
    for residual in measured.residuals:
        if residual.period == period and not residual.prior and residual.kind != "take_on":
            groups.setdefault(_key(residual, tickets), []).append(residual)
    lots = Lots(connection)
    found = [
        component
        for group in groups.values()
        for component in _components(group, work, tickets.get(group[0].ticket), measured, lots)
    ]
    found += _settled_before(connection, measured, month.start)
    found += _cleaned_out(month)
    return Evidence(
        connection,
        month.setup,
        measured.metals,
        period,
        month.start,
        month.end,
        month,
        measured.tape,
        found,
        tickets,
        work.dust,
        lots,
    )


def _key(residual: Residual, tickets: Mapping[int, TicketOf]) -> tuple[int, int, str, int | None]:
    """Return what makes differences one number: an assay's are one, however many lots stand under it."""
    ticket = tickets.get(residual.ticket)
    if ticket is not None and ticket.kind == "assay":
        return residual.ticket, 0, residual.kind, None
    return residual.ticket, residual.line, residual.kind, residual.lot


def _settled_before(connection: sqlite3.Connection, measured: Pass, start: int) -> list[Component]:
    """Return the settlements of earlier periods: they move no balance now, and tell of a refiner all the same."""
    found = []
    for index in range(1, len(measured.metals)):
        for refiner in settlements(connection, index):
            for lot in refiner.judged:
                if lot.instant < start and lot.recorded and lot.basis == "measured":
                    own = measured.tape.single(
                        Source("settlement", refiner.party, float(SETTLEMENT_SD) ** 2, lot.ticket)
                    )
                    form = {own: float(lot.recorded)}
                    found.append(
                        Component(
                            0,
                            lot.ticket,
                            0,
                            lot.lot,
                            lot.instant,
                            "settled before",
                            None,
                            index,
                            float(lot.difference),
                            form,
                            {},
                            refiner.party,
                            float(lot.recorded),
                        )
                    )
    return found


def _cleaned_out(month: Month) -> list[Component]:
    """Return, of each area cleaned out, the dust that was accrued and did not come; it moves no balance."""
    found = []
    for index, metal in enumerate(month.ledger.metals[1:], 1):
        own = month if metal == month.ledger.metal else month.ledger.in_metal(metal).month(month.period)
        for area, truth in dust_truths(own, own.ledger.dust_openings(own)).items():
            if truth.cleaned_out and truth.row:
                dust = truth.dust
                component = Component(
                    0, "", 0, area, own.clean_outs[area], "clean-out", None, index, float(dust.shortfall), truth.row, {}
                )
                component.expected = float(max(dust.shortfall + dust.taken, 0))
                found.append(component)
    return found


_ASSAYED = """
    SELECT DISTINCT v.ticket, d.ticket FROM ticket AS t JOIN valuation AS v ON v.ticket = t.seq
    JOIN valuation AS b ON b.id = (SELECT max(id) FROM valuation WHERE lot = v.lot AND id < v.id)
    JOIN determination AS d ON d.id = b.determination
    WHERE t.period = ? AND t.kind = 'assay' AND b.awaiting IS NOT NULL ORDER BY v.ticket, d.ticket"""


def _assayed(connection: sqlite3.Connection, period: str) -> dict[int, int]:
    """Return, by `content` work ticket, the assay that first showed what it lost."""
    found: dict[int, int] = {}
    for assay, work in connection.execute(_ASSAYED, (period,)):
        found.setdefault(work, assay)
    return found


@dataclass(frozen=True, slots=True)
class _Work:
    """Normal loss of the period's work, by ticket and metal."""

    month: Month
    allowed: dict[tuple[int, int], list[Allowance]]
    dust: dict[tuple[str, str, int], float]

    @staticmethod
    def of(month: Month, measured: Pass) -> _Work:
        ledger, bounds = month.ledger, (month.start, month.end)
        found: dict[tuple[int, int], list[Allowance]] = {}
        shown = _assayed(ledger.connection, month.period)
        dust: dict[tuple[str, str, int], float] = {}
        for index in range(len(measured.metals)):
            own = allowances(ledger.connection, ledger.setups, month.period, bounds, month.lines, ledger.metals, index)
            done = jobs_done(ledger.connection, ledger.setups, bounds, month.lines, ledger.metals, index)
            for one in own:
                into = (one.operation, one.area, index)
                dust[into] = dust.get(into, 0.0) + one.accrued
            for one in [*(a for a in own if a.job is None), *(a for _, a in done)]:
                found.setdefault((one.ticket, index), []).append(one)
                if index and one.ticket in shown:
                    found.setdefault((shown[one.ticket], index), []).append(one)
        return _Work(month, found, dust)

    def less_normal(self, measured: Pass, ticket: int, index: int) -> tuple[float, Form] | None:
        """Return E of a ticket and the form of its loss less E; None where it is unrated."""
        value, form = 0.0, Form()
        for allowance in self.allowed.get((ticket, index), ()):
            if allowance.allowed is None:
                return None
            value += allowance.allowed
            add(form, normal_loss(measured, allowance, self.month.period, index))
        return value, form


def _components(
    group: Sequence[Residual], work: _Work, ticket: TicketOf | None, measured: Pass, lots: Mapping[int, LotOf]
) -> list[Component]:
    first, size = group[0], len(measured.metals)
    forms = [combined((r.content.forms[i], 1.0) for r in group) for i in range(size)]
    values = [sum(r.content.values[i] for r in group) for i in range(size)]
    if first.kind == "work":
        return _of_work(group, work, ticket, measured, forms, values)
    kind = first.kind
    if (
        kind == "count"
        and ticket is not None
        and any(line.number == first.line and line.side == "not found" for line in ticket.lines)
    ):
        kind = "missed"
    if (
        kind == "count"
        and ticket is not None
        and any(line.lot == first.lot and line.side == "found" for line in ticket.lines if line.number == first.line)
    ):
        return []
    dirty = ticket is not None and "metallic" in _own(ticket, first.line)  # somebody's figure, not a weighing
    if dirty and kind != "revaluation":
        return []
    if ticket is not None and kind == "transfer" and ticket.kind == "receive":
        _add_list(forms, ticket, first, measured)
    indexes = _independent(kind, ticket, forms, measured.tape)
    ratios = _ratios(forms, values, indexes[0], measured.tape) if indexes == [0] else None
    found = []
    for i in [i for i in indexes if i or not dirty]:
        value, form, operation, expected = values[i], forms[i], "", 0.0
        if kind == "revaluation" and i and (first.ticket, i) in work.allowed:
            rated = work.less_normal(measured, first.ticket, i)
            if rated is not None:
                expected = rated[0]
                value, form = value - expected, combined(((form, 1.0), (rated[1], 1.0)))
                operation = work.allowed[first.ticket, i][0].operation
        found.append(
            Component(
                first.ticket,
                first.number,
                first.line,
                first.area,
                first.instant,
                kind,
                first.lot or group[0].lot,
                i,
                value,
                form,
                _bearing(group, i, ratios, size),
                operation,
                expected,
            )
        )
    return found


#: What a party's list is worth: relative standard deviation of its masses and contents (assumed).
_LIST: Final = 3e-4


def _add_list(forms: list[Form], ticket: TicketOf, first: Residual, measured: Pass) -> None:
    """Give a receipt's difference the error of the list: somebody weighed and assayed that, too."""
    line = next((x for x in ticket.lines if x.number == first.line and x.given is not None), None)
    if line is None or line.given is None:
        return
    party = ticket.document.get("party", "")
    for i, form in enumerate(forms):
        if form and line.given[i]:
            one = measured.tape.single(Source("list", party, _LIST**2, ticket.number, first.line))
            form[one] = float(line.given[i])


def _independent(kind: str, ticket: TicketOf | None, forms: Sequence[Form], tape: Tape) -> list[int]:
    """Return the metals in which a difference says something of its own.

    A re-weighing is one error in mass; what is re-determined differs in each metal, and a receipt may in both.
    """
    stated = kind == "revaluation" or (kind == "transfer" and ticket is not None and ticket.kind == "receive")
    if not stated:
        return [0] if forms[0] else [i for i, form in enumerate(forms) if form][:1]
    found = [0] if forms[0] else []
    taken = dict(forms[0])
    for i in range(1, len(forms)):
        own = [r for r in forms[i] if r not in taken]
        if own:
            found.append(i)
    return found


def _ratios(forms: Sequence[Form], values: Sequence[float], base: int, tape: Tape) -> tuple[float, ...]:
    """Return how much of each metal goes with one ng of the base: by the values, or, of nothing, by the forms."""
    if abs(values[base]) > 1e6:
        return tuple(x / values[base] for x in values)
    shared = [r for r, c in forms[base].items() if c and (r >= 0 or tape.source(r).kind == "reading")]
    if not shared:
        shared = [r for r, c in forms[base].items() if c]
    if not shared:
        return tuple(float(i == base) for i in range(len(forms)))
    newest = max(shared) if shared[0] >= 0 else min(shared)
    return tuple(form.get(newest, 0.0) / forms[base][newest] for form in forms)


def _bearing(
    group: Sequence[Residual], index: int, ratios: tuple[float, ...] | None, size: int
) -> dict[str, tuple[float, ...]]:
    """Return what one ng of a component is in each area's balance; an estimate's is borne by several."""
    whole = sum(r.content.values[index] for r in group)
    bears: dict[str, tuple[float, ...]] = {}
    for residual in group:
        share = residual.content.values[index] / whole if whole else 1 / len(group)
        own = ratios or tuple(float(i == index) for i in range(size))
        before = bears.get(residual.area, (0.0,) * size)
        bears[residual.area] = tuple(b + share * x for b, x in zip(before, own, strict=True))
    return bears


def _of_work(
    group: Sequence[Residual],
    work: _Work,
    ticket: TicketOf | None,
    measured: Pass,
    forms: Sequence[Form],
    values: Sequence[float],
) -> list[Component]:
    first, size = group[0], len(values)
    operation = ticket.operation if ticket is not None else None
    indexes = _of_work_independent(work.month, ticket, values, forms, measured)
    found = []
    for i in indexes:
        rated = work.less_normal(measured, first.ticket, i)
        if rated is None:
            continue
        expected, loss = rated
        form = combined(((forms[i], 1.0), (loss, 1.0)))
        ratios = _ratios(forms, values, i, measured.tape) if len(indexes) == 1 else None
        found.append(
            Component(
                first.ticket,
                first.number,
                first.line,
                first.area,
                first.instant,
                "work",
                None,
                i,
                values[i] - expected,
                form,
                _bearing(group, i, ratios, size),
                operation or "",
                expected,
            )
        )
    return found


def _of_work_independent(
    month: Month, ticket: TicketOf | None, values: Sequence[float], forms: Sequence[Form], measured: Pass
) -> list[int]:
    """Return in which metals a work ticket's own difference says something of its own.

    Where outputs take their composition from the inputs, all metals follow from the lost mass: one number, of the
    metal that the loss is stated in. Where all outputs have their own determination, each metal is by itself.
    """
    if ticket is None or ticket.operation is None:
        return []
    setup = month.ledger.setups.at(ticket.instant)
    operation = setup.operations[ticket.operation]
    if operation.composition == "content":
        return [0]
    content = [0.0] * len(values)
    for line in ticket.lines:
        if line.side in ("in", "out"):
            content = [c + abs(x) for c, x in zip(content, line.content, strict=True)]
    outputs = [d for line in ticket.lines if line.side == "out" for d in [_own(ticket, line.number)]]
    if outputs and all("method" in d or "basis" in d for d in outputs):
        return [i for i in range(len(values)) if content[i] and forms[i]]
    fine = [i for i in range(1, len(values)) if content[i] > 0 and measured.metals[i] in operation.loss]
    if not fine:
        fine = [i for i in range(1, len(values)) if content[i] > 0]
    return [max(fine, key=lambda i: content[i])] if fine else [0]


def _own(ticket: TicketOf, line: int) -> Mapping[str, Any]:
    lines = lines_in_document(ticket)
    return lines[line - 1] if 0 < line <= len(lines) else {}
