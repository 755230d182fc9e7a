"""Page's sums over work tickets."""

from __future__ import annotations

from math import ceil

from ledger.balance.judging.ticket_runs import Stream, TicketResidual, ticket_runs

ROLL: Stream = ("ROLL", "ROLLING")
YEARS = 10.0


def month(
    first: int, excess: list[float], shared: float = 0.0, stream: Stream = ROLL
) -> dict[Stream, list[TicketResidual]]:
    """Tickets of σ 1 mg each."""
    return {stream: [TicketResidual(f"T{first + i}", first + i, round(x * 10**6), 1e6, shared * 1e6)
                     for i, x in enumerate(excess)]}  # fmt: skip


def test_a_little_too_much_on_every_ticket_signals_and_says_from_which_on() -> None:
    quiet, lossy = [0.5, -0.5] * 10, [1.7] * 12
    (run,) = ticket_runs([month(0, quiet), month(20, lossy)], YEARS)
    assert (run.area, run.operation, run.tickets, run.aside) == (*ROLL, 32, 0)
    needed = ceil(run.threshold / 1.2)
    first = 20 + needed - 1
    assert [(s.ticket, s.way, s.since) for s in run.signals] == [
        (f"T{first}", "missing", "T20"), (f"T{first + needed}", "missing", f"T{first + 1}"),
    ]  # fmt: skip


def test_what_a_month_shares_is_no_signal() -> None:
    """A month whose rate is two of its drifts higher, on every ticket."""
    high = [month(0, [0.0] * 30), month(30, [1.0] * 30, shared=0.5)]
    (run,) = ticket_runs(high, YEARS)
    assert run.signals == []
    (without,) = ticket_runs([month(0, [0.0] * 30), month(30, [1.0] * 30)], YEARS)
    assert without.signals


def test_one_blunder_is_set_aside_and_the_next_tickets_are_not_blamed_for_it() -> None:
    (run,) = ticket_runs([month(0, [0.0] * 5 + [400.0] + [0.0] * 20, shared=0.5)], YEARS)
    assert (run.aside, run.signals, run.over, run.missing) == (1, [], 0.0, 0.0)


def test_more_operations_to_watch_want_more_of_each() -> None:
    one = month(0, [0.0] * 9)
    two = {**one, **month(0, [0.0] * 9, stream=("MELT", "MELTING"))}
    (alone,) = ticket_runs([one], YEARS)
    both = ticket_runs([two], YEARS)
    assert [run.area for run in both] == ["MELT", "ROLL"]
    assert both[1].threshold > alone.threshold
    assert ticket_runs([two], YEARS, "ROLL") == both[1:]
