"""Tests of single events: sender against receiver, list against scale, and each work ticket against its normal loss.

Only the weighings and the ticket's spread count here: far sharper than the month.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from math import sqrt
from typing import NamedTuple

from ledger.balance.flows.evidence import Sender, Weighing
from ledger.balance.flows.normal_loss import Allowance
from ledger.balance.measurement.covariance import normal_loss
from ledger.balance.measurement.forms import Form, add, combined
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
class ReceiptTest:
    """Receipt differences over a period, of one party in one area: Σ(V − W) in one metal, where V is by a list."""

    party: str
    area: str
    difference: int
    sigma: float
    z: float | None
    verdict: str


@dataclass(frozen=True, slots=True)
class AssayTest:
    """What an assay found less than was recorded, in one metal, beyond the normal loss that it is the first to show.

    ``lot``: the first it revalued; ``area``: whose difference bears it.
    """

    ticket: str
    lot: str
    area: str
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


class _Tested(NamedTuple):
    """A sum in ng, its σ, z and verdict."""

    difference: int
    sigma: float
    z: float | None
    verdict: str


@dataclass(slots=True)
class _Sums:
    """Differences of lines in one metal, and their forms, added up by what they belong to."""

    measured: Pass
    metal: int
    ng: dict[tuple[str, ...], int] = field(default_factory=dict)
    forms: dict[tuple[str, ...], Form] = field(default_factory=dict)

    def add(self, key: tuple[str, ...], ng: int, form: Form) -> None:
        """Add a difference with its form."""
        self.ng[key] = self.ng.get(key, 0) + ng
        add(self.forms.setdefault(key, {}), form)

    def given_less(self, key: tuple[str, ...], line: Weighing) -> None:
        """Add what a line brought less than was given: given − content."""
        given = line.content if line.given is None else line.given
        self.add(key, given[self.metal] - line.content[self.metal], self.form(line, "transfer"))

    def form(self, line: Weighing, kind: str) -> Form:
        """Return the form of a line's own difference."""
        residuals = self.measured.of_line.get((line.ticket, line.line), ())
        return combined((r.content.forms[self.metal], 1.0) for r in residuals if r.kind == kind)

    def tested(self, setups: Setups) -> dict[tuple[str, ...], _Tested]:
        """Return the tests of the sums."""
        plant, tape = setups.latest.plant, self.measured.tape
        sigmas = [sqrt(tape.variance(row)) for row in tape.rows([self.forms[key] for key in self.ng])]
        return {
            key: _Tested(ng, sigma, z_score(ng, sigma), two_sided(ng, sigma, float(plant.warn), float(plant.act)))
            for (key, ng), sigma in zip(self.ng.items(), sigmas, strict=True)
        }


def move_tests(
    setups: Setups, lines: Sequence[Weighing], metal: int, measured: Pass,
    senders: Mapping[tuple[int, int], Sender] | None = None,
) -> list[MoveTest]:  # fmt: skip
    """Return the sender–receiver tests of a period, by sender and receiver; an arrival counts in its own period.

    ``senders``: of each line of an arrival, by ticket and line.
    """
    sent = {(line.ticket, line.line): Sender(line.area, line.weighed) for line in lines if _sends(line)}
    sent |= senders or {}
    sums = _Sums(measured, metal)
    for line in lines:
        sender = sent.get((line.ticket, line.line))
        if line.kind in ("move", "arrive") and line.side == "in" and sender and sender.weighed and line.weighed:
            sums.given_less((sender.area, line.area), line)
    return [MoveTest(from_, to, *test) for (from_, to), test in sorted(sums.tested(setups).items())]


def _sends(line: Weighing) -> bool:
    return line.kind == "move" and line.side == "out"


def receipt_tests(
    setups: Setups, lines: Sequence[Weighing], metal: int, measured: Pass, parties: Mapping[int, str]
) -> list[ReceiptTest]:
    """Return the tests of receipt differences of a period, by party and area, where a list says what was sent.

    A list is what somebody said, without error of ours: σ is that of our own weighing and determination. ``parties``:
    by ticket.
    """
    sums = _Sums(measured, metal)
    for line in lines:
        if line.kind != "receive" or line.given is None or line.ticket not in parties:
            continue
        if line.given != line.content or any(sums.form(line, "transfer").values()):
            sums.given_less((parties[line.ticket], line.area), line)
    return [ReceiptTest(party, area, *test) for (party, area), test in sorted(sums.tested(setups).items())]


def assay_tests(
    setups: Setups, lines: Sequence[Weighing], allowances: Sequence[Allowance], metal: int, measured: Pass,
    awaited: Mapping[tuple[int, int], int],
) -> list[AssayTest]:  # fmt: skip
    """Return the assays that found something else than was recorded, beyond the action level, by date.

    What was recorded was calculated, nominal, an earlier assay's or an estimate's; what an estimate's origin bears as
    dust is not in it. ``awaited``: the work, by ticket and lot, of which an assay is the first: its normal loss, of
    which ``allowances`` tell, could not show before.
    """
    sums, keys = _Sums(measured, metal), dict[int, tuple[str, ...]]()
    rated = {a.ticket: a for a in allowances}
    for line in lines:
        if line.kind != "assay" or not metal:
            continue
        for residual in measured.of_line.get((line.ticket, line.line), ()):
            key = keys.setdefault(line.ticket, (line.number, line.lot_number, residual.area))
            sums.add(key, round(residual.content.values[metal]), residual.content.forms[metal])
        loss = rated.pop(awaited.get((line.ticket, line.lot), 0), None)
        if loss is not None and line.ticket in keys:
            form = normal_loss(measured, loss, "", metal, drift=False)
            sums.add(keys[line.ticket], -(loss.allowed or 0), form)
    found = [AssayTest(ticket, lot, area, *test) for (ticket, lot, area), test in sums.tested(setups).items()]
    return [test for test in found if test.verdict in ("short", "over")]


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
