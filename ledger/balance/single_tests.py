"""Tests of single events: sender against receiver, and each work ticket against its normal loss.

Only the weighings and the ticket's spread count here: far sharper than the month.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import sqrt

from ledger.balance.evidence import Weighing, layer_of
from ledger.balance.normal_loss import Allowance
from ledger.balance.worth import reading_variance, z_score
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


def move_tests(setups: Setups, lines: Sequence[Weighing], metal: int) -> list[MoveTest]:
    """Return the sender–receiver tests of a period, by sender and receiver."""
    sent = {(line.ticket, line.line): line for line in lines if line.kind == "move" and line.side == "out"}
    sums: dict[tuple[str, str], list[float]] = {}
    for line in lines:
        sender = sent.get((line.ticket, line.line))
        if line.kind != "move" or line.side != "in" or sender is None or not (sender.weighed and line.weighed):
            continue
        both = sums.setdefault((sender.area, line.area), [0, 0.0])
        both[0] += (line.given or line.content)[metal] - line.content[metal]
        both[1] += reading_variance(setups, sender, metal) + reading_variance(setups, line, metal)
    plant = setups.latest.plant
    return [
        MoveTest(a, b, int(ng), sqrt(variance), z_score(int(ng), sqrt(variance)),
                 two_sided(int(ng), sqrt(variance), float(plant.warn), float(plant.act)))
        for (a, b), (ng, variance) in sorted(sums.items())
    ]  # fmt: skip


def two_sided(value: int, sigma: float, warn: float, act: float) -> str:
    """Return short, over, look or within by size against σ alone."""
    if abs(value) > act * sigma:
        return "short" if value > 0 else "over"
    return "look" if abs(value) > warn * sigma else "within"


def ticket_tests(
    setups: Setups, lines: Sequence[Weighing], allowances: Sequence[Allowance], metal: int,
    jobs: Sequence[tuple[list[Weighing], Allowance]] = (),
) -> list[TicketTest]:  # fmt: skip
    """Return the work tickets, and the jobs done, whose own difference lies beyond the action level.

    ``jobs``: of each job done in the period all its lines and its whole allowance.
    """
    tests = (test for _, _, test in every_ticket(setups, lines, allowances, metal, jobs))
    return [test for test in tests if test.verdict in ("short", "over")]


def every_ticket(
    setups: Setups, lines: Sequence[Weighing], allowances: Sequence[Allowance], metal: int,
    jobs: Sequence[tuple[list[Weighing], Allowance]] = (),
) -> Iterator[tuple[list[Weighing], Allowance, TicketTest]]:  # fmt: skip
    """Yield every work ticket that can be tested, then every job done, with its lines and its allowance."""
    by_ticket: dict[int, list[Weighing]] = {}
    for line in lines:
        if line.kind == "work" and line.side in ("in", "out") and line.job is None:
            by_ticket.setdefault(line.ticket, []).append(line)
    rated = {a.ticket: a for a in allowances if a.allowed is not None}
    for own, allowance in [*((by_ticket[t], rated[t]) for t in by_ticket if t in rated), *jobs]:
        test = _ticket_test(setups, own, allowance, metal) if allowance.allowed is not None else None
        if test is not None:
            yield own, allowance, test


def _ticket_test(
    setups: Setups, lines: Sequence[Weighing], allowance: Allowance, metal: int
) -> TicketTest | None:
    composition = setups.at(lines[0].instant).operations[allowance.operation].composition
    if composition == "content" and metal:
        return None  # nothing is lost before the assay
    put_in = sum(line.content[metal] for line in lines if line.side == "in")
    put_in_mass = sum(line.content[0] for line in lines if line.side == "in")
    difference = put_in - sum(line.content[metal] for line in lines if line.side == "out")
    variance = allowance.spread**2
    for line in lines:
        if line.side not in ("in", "out"):
            continue
        if composition == "combines":
            fineness = put_in / put_in_mass if put_in_mass else 0.0
        else:
            fineness = layer_of(line, metal) if composition == "surface" else line.fineness(metal)
        scale = setups.at(line.instant).scales.get(line.scale or "")
        if line.weighed and scale is not None:
            variance += (scale.weighing_sd_ng * fineness) ** 2
    excess, sigma = difference - (allowance.allowed or 0), sqrt(variance)
    plant = setups.latest.plant
    return TicketTest(
        allowance.number, allowance.operation, put_in, difference, allowance.allowed or 0, sigma,
        z_score(excess, sigma), two_sided(excess, sigma, float(plant.warn), float(plant.act)),
    )  # fmt: skip
