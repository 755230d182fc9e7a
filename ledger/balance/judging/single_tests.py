"""Tests of single events: sender against receiver, and each work ticket against its normal loss.

Only the weighings and the ticket's spread count here: far sharper than the month.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import sqrt

from ledger.balance.flows.evidence import Weighing
from ledger.balance.flows.normal_loss import Allowance
from ledger.balance.measurement.covariance import normal_loss
from ledger.balance.measurement.forms import Form, add
from ledger.balance.measurement.propagation import Pass
from ledger.balance.measurement.worth import z_score
from ledger.book.setups import Setups


@dataclass(frozen=True, slots=True)
class MoveTest:
    """Sender − receiver over a period, between two areas: Σ(W − V) in one metal, where both weighed."""

    from_: str
    to: str
    difference: int
    sigma: float
    z: float | None
    verdict: str


@dataclass(frozen=True, slots=True)
class TicketTest:
    """A work ticket's own difference less its normal loss, against its σ."""

    ticket: str
    operation: str
    input: int
    difference: int
    allowed: int
    sigma: float
    z: float | None
    verdict: str


def move_tests(setups: Setups, lines: Sequence[Weighing], metal: int, measured: Pass) -> list[MoveTest]:
    """Return the sender–receiver tests of a period, by sender and receiver."""
    sent = {(line.ticket, line.line): line for line in lines if line.kind == "move" and line.side == "out"}
    sums: dict[tuple[str, str], int] = {}
    forms: dict[tuple[str, str], Form] = {}
    for line in lines:
        sender = sent.get((line.ticket, line.line))
        if line.kind != "move" or line.side != "in" or sender is None or not (sender.weighed and line.weighed):
            continue
        way = (sender.area, line.area)
        sums[way] = sums.get(way, 0) + (line.given or line.content)[metal] - line.content[metal]
        for residual in measured.of_line.get((line.ticket, line.line), ()):
            if residual.kind == "transfer":
                add(forms.setdefault(way, {}), residual.content.forms[metal])
    ways = sorted(sums)
    rows = measured.tape.rows([forms.get(way, {}) for way in ways])
    sigmas = [sqrt(measured.tape.variance(row)) for row in rows]
    return [_move_test(setups, way, sums[way], sigma) for way, sigma in zip(ways, sigmas, strict=True)]


def _move_test(setups: Setups, way: tuple[str, str], ng: int, sigma: float) -> MoveTest:
    plant = setups.latest.plant
    verdict = two_sided(ng, sigma, float(plant.warn), float(plant.act))
    return MoveTest(*way, ng, sigma, z_score(ng, sigma), verdict)


def two_sided(value: int, sigma: float, warn: float, act: float) -> str:
    """Return short, over, look or within by size against σ alone."""
    if abs(value) > act * sigma:
        return "short" if value > 0 else "over"
    return "look" if abs(value) > warn * sigma else "within"


def ticket_tests(
    setups: Setups, lines: Sequence[Weighing], allowances: Sequence[Allowance], metal: int,
    measured: Pass, jobs: Sequence[tuple[list[Weighing], Allowance]] = (),
) -> list[TicketTest]:  # fmt: skip
    """Return the work tickets, and the jobs done, whose own difference lies beyond the action level.

    ``jobs``: of each job done in the period all its lines and its whole allowance.
    """
    tests = (test for _, _, test in every_ticket(setups, lines, allowances, metal, measured, jobs))
    return [test for test in tests if test.verdict in ("short", "over")]


def every_ticket(
    setups: Setups, lines: Sequence[Weighing], allowances: Sequence[Allowance], metal: int,
    measured: Pass, jobs: Sequence[tuple[list[Weighing], Allowance]] = (),
) -> Iterator[tuple[list[Weighing], Allowance, TicketTest]]:  # fmt: skip
    """Yield every work ticket that can be tested, then every job done, with its lines and its allowance."""
    by_ticket: dict[int, list[Weighing]] = {}
    for line in lines:
        if line.kind == "work" and line.side in ("in", "out") and line.job is None:
            by_ticket.setdefault(line.ticket, []).append(line)
    rated = {a.ticket: a for a in allowances if a.allowed is not None}
    pairs = [*((by_ticket[t], rated[t]) for t in by_ticket if t in rated), *jobs]
    tested = [(own, allowance) for own, allowance in pairs if _testable(setups, own, allowance, metal)]
    rows = measured.tape.rows([_own_form(measured, allowance, metal) for _, allowance in tested])
    for (own, allowance), row in zip(tested, rows, strict=True):
        yield own, allowance, _ticket_test(setups, own, allowance, metal, sqrt(measured.tape.variance(row)))


def _testable(setups: Setups, lines: Sequence[Weighing], allowance: Allowance, metal: int) -> bool:
    """A `content` ticket loses no fine metal before its assay."""
    composition = setups.at(lines[0].instant).operations[allowance.operation].composition
    return allowance.allowed is not None and not (composition == "content" and metal)


def _own_form(measured: Pass, allowance: Allowance, metal: int) -> Form:
    """Return the form of a ticket's or job's own difference less its normal loss; the month's drift is not its own."""
    form = normal_loss(measured, allowance, "", metal, drift=False)
    own = measured.own.get(allowance.ticket)
    if own is not None:
        add(form, own.forms[metal])
    return form


def _ticket_test(
    setups: Setups, lines: Sequence[Weighing], allowance: Allowance, metal: int, sigma: float
) -> TicketTest:
    put_in = sum(line.content[metal] for line in lines if line.side == "in")
    difference = put_in - sum(line.content[metal] for line in lines if line.side == "out")
    excess, plant = difference - (allowance.allowed or 0), setups.latest.plant
    return TicketTest(
        allowance.number, allowance.operation, put_in, difference, allowance.allowed or 0, sigma,
        z_score(excess, sigma), two_sided(excess, sigma, float(plant.warn), float(plant.act)),
    )  # fmt: skip
