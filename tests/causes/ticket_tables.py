"""Invented tables of work tickets, made straight from σ and drift: what patterns are sought in, without a book."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

import numpy as np

from ledger.causes.patterns.tickets import Level, Stratum, Ticket

GRAM = 1_000_000_000
#: An operation, its σ and drift as shares of the input, and what each ticket has put in, grams.
ROLL, BUFF = ("roll", 0.0002, 0.00005, 200), ("buff", 0.001, 0.0002, 50)


def ticket(
    n: int, operation: tuple[str, float, float, int], levels: dict[Level, float], period: str = "2026-10",
    material: str = "G12",
) -> Ticket:  # fmt: skip
    """Return the n-th ticket, with nothing in excess."""
    name, sigma, drift, grams = operation
    put_in = grams * GRAM
    stratum = Stratum(name, material)
    return Ticket(f"T-{n:04d}", period, stratum, n, put_in, 0, sigma * put_in, drift * put_in, levels, {})


def by(**levels: str) -> dict[Level, float]:
    """Return levels by factor."""
    return {Level(factor, code): 1.0 for factor, code in levels.items()}


def drawn(tickets: Iterable[Ticket], seed: int, taken: Callable[[Ticket], float] = lambda _: 0.0) -> list[Ticket]:
    """Return the tickets with chance in their excess, and what is taken of each, as a share of its input."""
    rng = np.random.default_rng(seed)
    drifts: dict[tuple[str, str], float] = {}
    found = []
    for one in tickets:
        drift = drifts.setdefault((one.stratum.operation, one.period), float(rng.standard_normal()))
        chance = one.sigma * float(rng.standard_normal()) + one.drift * drift
        found.append(replace(one, excess=round(chance + taken(one) * one.put_in)))
    return found


def shop(seed: int = 1, months: int = 3) -> list[Ticket]:
    """Return the tickets of three rollers and two buffers: who works which ticket is left to chance; no losses."""
    rng = np.random.default_rng(seed)
    found = []
    for month in range(months):
        for n in range(40):
            period, number = f"2026-{month + 1:02d}", 1000 * month + n
            worker, machine = rng.choice(["A", "B", "C"]), rng.choice(["mill 1", "mill 2"])
            material = str(rng.choice(["G12", "G14"]))
            found.append(ticket(number, ROLL, by(worker=str(worker), machine=str(machine)), period, material))
            buffer = str(rng.choice(["A", "D"]))
            found.append(ticket(number + 500, BUFF, by(worker=buffer, machine=f"buff of {buffer}"), period))
    return sorted(found, key=lambda t: (t.instant, t.number))


def worked(one: Ticket, code: str, operation: str | None = None) -> float:
    """Return the share of a ticket that somebody worked, in one operation or any."""
    here = operation is None or one.stratum.operation == operation
    return one.levels.get(Level("worker", code), 0.0) if here else 0.0
