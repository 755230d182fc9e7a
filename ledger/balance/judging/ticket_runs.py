"""Page's sums over work tickets, by area and operation: a little too much on every ticket shows before the month does.

A ticket's residual is its own difference less its normal loss, against its weighings, the spread of that loss, and the
drift that an operation's tickets of a month share: what they have in common is taken out first (`after_shared`), so
that a month of a somewhat higher rate is no signal. A ticket that stands out by itself is set aside: its own test says
so.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from ledger.balance.flows.evidence import Weighing
from ledger.balance.flows.normal_loss import Allowance
from ledger.balance.judging.run_length import threshold_for_average
from ledger.balance.judging.running_tests import REFERENCE, YEAR, quantile, way_name
from ledger.balance.judging.sequential import Page, after_shared, page
from ledger.balance.judging.single_tests import every_ticket
from ledger.balance.measurement.propagation import Pass
from ledger.book.setups import Setups


class TicketResidual(NamedTuple):
    """A ticket's excess loss in nanograms, its own standard deviation, and that of the drift it shares."""

    ticket: str
    instant: int
    excess: int
    own: float
    shared: float


class TicketSignal(NamedTuple):
    """A ticket at which the sum signals, and the first ticket of the drift as estimated."""

    ticket: str
    way: str
    since: str


@dataclass(frozen=True, slots=True)
class TicketRun:
    """One area's tickets of one operation, in the order of their dates: the sums at the end, and all signals.

    ``aside``: how many of the tickets stood out by themselves.
    """

    area: str
    operation: str
    tickets: int
    aside: int
    threshold: float
    missing: float
    over: float
    since: str | None
    signals: list[TicketSignal]


Stream = tuple[str, str]


def residuals_of(
    setups: Setups, lines: Sequence[Weighing], allowances: Sequence[Allowance],
    jobs: Sequence[tuple[list[Weighing], Allowance]], metal: int, measured: Pass,
) -> dict[Stream, list[TicketResidual]]:  # fmt: skip
    """Return a month's ticket residuals by area and operation, in the order of their dates."""
    found: dict[Stream, list[TicketResidual]] = {}
    for _, allowance, test in every_ticket(setups, lines, allowances, metal, measured, jobs):
        excess = test.difference - test.allowed
        residual = TicketResidual(test.ticket, allowance.instant, excess, test.sigma, allowance.drift)
        found.setdefault((allowance.area, allowance.operation), []).append(residual)
    return {stream: sorted(tickets, key=lambda t: t.instant) for stream, tickets in found.items()}


def ticket_runs(
    months: Sequence[dict[Stream, list[TicketResidual]]], false_alarm_years: float, only: str | None = None
) -> list[TicketRun]:
    """Return the runs over successive months, at one false alarm in so many years over all of them together."""
    streams = sorted({stream for month in months for stream in month})
    wanted = [stream for stream in streams if only in (None, stream[0])]
    return [_run(stream, months, false_alarm_years * len(streams)) for stream in wanted]


def _run(stream: Stream, months: Sequence[dict[Stream, list[TicketResidual]]], years: float) -> TicketRun:
    tickets = [t for month in months for t in month.get(stream, ())]
    run_length = round(max(len(tickets) * YEAR / len(months) * years, YEAR), 6)
    alone = quantile(1 / run_length)
    z = [r for month in months for r in _independent(month.get(stream, ()), alone)]
    limit = threshold_for_average(REFERENCE, run_length)
    sums = page([r if abs(r) <= alone else None for r in z], REFERENCE, limit)
    last = sums[-1]
    begun = last.missing_since if last.missing >= last.over else last.over_since
    return TicketRun(
        *stream, len(tickets), sum(abs(r) > alone for r in z), limit, last.missing, last.over,
        None if begun is None else tickets[begun].ticket, list(_signals(tickets, sums)),
    )  # fmt: skip


def _independent(tickets: Sequence[TicketResidual], alone: float) -> list[float]:
    values = [float(t.excess) for t in tickets]
    return after_shared(values, [t.own for t in tickets], [t.shared for t in tickets], alone)


def _signals(tickets: Sequence[TicketResidual], sums: Sequence[Page]) -> Iterator[TicketSignal]:
    for ticket, after in zip(tickets, sums, strict=True):
        if after.since is not None:
            yield TicketSignal(ticket.ticket, way_name(after.signal), tickets[after.since].ticket)
