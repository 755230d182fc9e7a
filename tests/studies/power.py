"""What is found, and what could be: `python -m tests.studies.power`.

Losses only, every contender at the same rate of false alarms: 1.25 % per area-year. A taking at once in one of twelve
months, or a trickle over all twelve, after two faultless years; sizes in σ of one month's balance. Contenders: the
running tests; a flat tolerance in percent of throughput, one for a plant's eight areas; a rule of so many σ, month by
month; and the optimum, which knows the pattern (Neyman and Pearson 1933) and, for the taking at once, not the month:
the largest of twelve.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from math import sqrt
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from ledger.balance.judging.run_length import threshold_for_average
from ledger.balance.judging.running_tests import LOOK_BACK, REFERENCE, YEAR, Thresholds, thresholds
from tests.studies.evaluation_page import circumstances, note, table, write_section
from tests.studies.running_tests import page_signals, signals

COMMAND = "python -m tests.studies.power"
SEED, DRAWS = 1933, 20_000
RATE, MARK = 0.0125, 0.85
MONTHS = LOOK_BACK + YEAR
NORMAL = NormalDist()

#: σ of the eight areas in percent of throughput: what a flat tolerance meets.
RELATIVE = tuple(0.02 * 2 ** (i / 2) for i in range(8))

#: The largest size looked at, in σ.
LARGEST = 90

#: Work tickets of a month, and the shares of its variance that are theirs and their common drift's.
TICKETS, OWN, DRIFT = 40, 0.3, 0.1

Floats = NDArray[np.float64]
Detect = Callable[[Floats, float], float]


class Plant:
    """Faultless months of an area, σ 1 each, drawn once: every size and contender meets the same chances."""

    def __init__(self, shared: float) -> None:
        """``shared``: the part of a month's variance that is its closing count, found again in the next."""
        c = np.eye(MONTHS) - shared * (np.eye(MONTHS, k=1) + np.eye(MONTHS, k=-1))
        self.lower = np.linalg.cholesky(c)
        self.inverse = np.linalg.inv(c)
        self.z = np.random.default_rng(SEED).standard_normal((DRAWS, MONTHS))

    @cached_property
    def weights(self) -> Floats:
        """L⁻¹ of one lost in each month of the last year."""
        return self.residual(np.r_[np.zeros(LOOK_BACK), np.ones(YEAR)])[LOOK_BACK:]

    def residual(self, lost: Floats) -> Floats:
        """Return L⁻¹·lost."""
        return np.asarray(np.linalg.solve(self.lower, lost))

    def strength(self, lost: Floats) -> float:
        """Return √(mᵀC⁻¹m)."""
        return sqrt(float(lost @ self.inverse @ lost))

    def running(self, lost: Floats, limits: Thresholds) -> float:
        """Return how often the running tests signal a loss in the year."""
        found = signals(self.z + self.residual(lost), limits, self.weights)
        return float(found.any_in_year((1,)).mean())

    def beyond(self, lost: Floats, limit: float) -> float:
        """Return how often a month's balance by itself is beyond a limit."""
        u = (self.z @ self.lower.T + lost)[:, LOOK_BACK:]
        return float((u > limit).any(axis=1).mean())

    @cached_property
    def rule(self) -> float:
        """The level of a σ rule at the rate."""
        return found_where(lambda c: -self.beyond(np.zeros(MONTHS), c), -RATE, 2.0, 5.0)

    @cached_property
    def tolerance(self) -> float:
        """The flat tolerance, in percent, at which the eight areas together have the rate."""
        return found_where(lambda t: -self.flat(np.zeros(MONTHS), t), -RATE, 0.05, 2.0)

    def flat(self, lost: Floats, tolerance: float | None = None) -> float:
        """Return how often a month is beyond the flat tolerance, on average over the areas, each losing as many σ."""
        percent = self.tolerance if tolerance is None else tolerance
        return float(np.mean([self.beyond(lost, percent / relative) for relative in RELATIVE]))


def found_where(f: Callable[[float], float], value: float, low: float, high: float) -> float:
    """Return where a growing function reaches a value, by halving."""
    for _ in range(22):
        middle = (low + high) / 2
        low, high = (middle, high) if f(middle) < value else (low, middle)
    return (low + high) / 2


def trickle() -> list[Floats]:
    """One in all, in twelve parts."""
    return [np.r_[np.zeros(LOOK_BACK), np.full(YEAR, 1 / YEAR)]]


def takings() -> list[Floats]:
    """One in one month, each of the twelve."""
    return [np.eye(MONTHS)[LOOK_BACK + month] for month in range(YEAR)]


def best(plant: Plant, lost: list[Floats], size: float) -> float:
    """Return the optimum's probability: the pattern known, and of several months the largest at the joint rate."""
    level = NORMAL.inv_cdf((1 - RATE) ** (1 / len(lost)))
    elsewhere = (1 - RATE) ** ((len(lost) - 1) / len(lost))
    return float(np.mean([1 - elsewhere * NORMAL.cdf(level - size * plant.strength(m)) for m in lost]))


@dataclass(frozen=True)
class Sizes:
    """Sizes, in σ of a month and in all, that a contender finds with 50 % and 95 % probability; and its curve."""

    half: float
    sure: float
    curve: tuple[float, ...]


@dataclass(frozen=True)
class Pattern:
    """One pattern of loss in one plant: every contender's sizes, the optimum's among them."""

    name: str
    at: tuple[float, ...]
    sizes: dict[str, Sizes]

    def ratios(self, contender: str) -> tuple[float, float]:
        """Return the optimum's size over the contender's, at 50 % and at 95 %."""
        one, optimum = self.sizes[contender], self.sizes[OPTIMUM]
        return optimum.half / one.half, optimum.sure / one.sure


LEMEL, DEFAULT, FLAT, OPTIMUM = "Lemel", "Lemel, both ways at that rate", "flat tolerance", "optimum"


def rule_name(plant: Plant) -> str:
    """Name the σ rule by its level at the rate."""
    return f"σ rule ({plant.rule:.2f} σ)"


def measured(name: str, plant: Plant, lost: list[Floats], at: tuple[float, ...]) -> Pattern:
    """Return every contender's sizes for one pattern."""
    both = thresholds(2 * RATE)
    contenders: dict[str, Callable[[float], float]] = {
        LEMEL: over(lost, lambda m: plant.running(m, both)),
        DEFAULT: over(lost, lambda m: plant.running(m, thresholds(RATE))),
        rule_name(plant): over(lost, lambda m: plant.beyond(m, plant.rule)),
        FLAT: over(lost, plant.flat),
        OPTIMUM: lambda size: best(plant, lost, size),
    }
    return Pattern(name, at, {who: sizes_of(f, at) for who, f in contenders.items()})


def over(lost: list[Floats], f: Callable[[Floats], float]) -> Callable[[float], float]:
    """Return the detection probability by size, on average over a pattern's months."""
    return lambda size: float(np.mean([f(size * m) for m in lost]))


def sizes_of(f: Callable[[float], float], at: tuple[float, ...]) -> Sizes:
    """Return the sizes found with 50 % and 95 %, and the probabilities at some sizes."""
    return Sizes(found_where(f, 0.5, 0, LARGEST), found_where(f, 0.95, 0, LARGEST), tuple(f(size) for size in at))


# --------------------------------------------------------------------------------------------- with the tickets' tests


class Floor:
    """An area whose months are independent, with the work tickets that a part of each month's variance is made of.

    Half the rate is the month tests', half the tickets': Page's sums and the largest ticket, a quarter each.
    """

    def __init__(self) -> None:
        rng = np.random.default_rng(SEED + 1)
        self.own, self.drift = sqrt(OWN / TICKETS), sqrt(DRIFT) / TICKETS
        self.tickets = rng.standard_normal((DRAWS, MONTHS, TICKETS)) * self.own
        self.tickets += rng.standard_normal((DRAWS, MONTHS, 1)) * self.drift
        self.rest = rng.standard_normal((DRAWS, MONTHS)) * sqrt(1 - OWN - DRIFT)
        self.limits = thresholds(RATE)
        yearly = TICKETS * YEAR
        self.page = threshold_for_average(REFERENCE, yearly / (RATE / 2))
        self.alone = NORMAL.inv_cdf(1 - RATE / 4 / yearly)

    def detects(self, lost: Floats) -> float:
        """Return how often any test signals a loss; ``lost``: months × tickets of the last year."""
        tickets = self.tickets.copy()
        tickets[:, LOOK_BACK:] += lost
        z = (self.rest + tickets.sum(axis=2))
        of_months = signals(z, self.limits).any_in_year((1,))[:, 0]
        of_tickets = self._residuals(tickets)
        aside = np.abs(of_tickets) > self.alone
        sums = page_signals(of_tickets, aside, self.page)
        last = slice(LOOK_BACK_TICKETS, None)
        found = (sums[:, last] == 1).any(axis=1) | (of_tickets[:, last] > self.alone).any(axis=1)
        return float((of_months | found).mean())

    def _residuals(self, tickets: Floats) -> Floats:
        """Return the tickets' independent residuals, a month's common drift taken out as it shows."""
        recent = tickets[:, MONTHS - YEAR - 2 :]
        z = np.empty(recent.shape)
        mean, variance = np.zeros(recent.shape[:2]), np.ones(recent.shape[:2])
        for j in range(TICKETS):
            error, total = recent[:, :, j] - self.drift * mean, self.own**2 + self.drift**2 * variance
            z[:, :, j] = error / np.sqrt(total)
            kept = np.abs(z[:, :, j]) <= self.alone
            mean = np.where(kept, mean + self.drift * variance / total * error, mean)
            variance = np.where(kept, variance * self.own**2 / total, variance)
        return z.reshape(len(z), -1)


#: Tickets of the two months before the year, in which the sums settle.
LOOK_BACK_TICKETS = 2 * TICKETS


def ticket_patterns() -> dict[str, Floats]:
    """One in all: from one ticket, from one ticket each month, and from every ticket of the year alike."""
    once, monthly = np.zeros((YEAR, TICKETS)), np.zeros((YEAR, TICKETS))
    once[YEAR // 2, TICKETS // 2] = 1
    monthly[:, TICKETS // 2] = 1 / YEAR
    return {
        "at once, from one ticket": once, "trickle, from one ticket each month": monthly,
        "trickle, from every ticket alike": np.full((YEAR, TICKETS), 1 / YEAR / TICKETS),
    }  # fmt: skip


# ----------------------------------------------------------------------------------------------------------- the page


@dataclass(frozen=True)
class Results:
    """Everything measured."""

    patterns: list[Pattern]
    rates: dict[str, float]
    tickets: dict[str, tuple[float, float]]
    ticket_rate: float


def run() -> Results:
    """Measure, and write the section."""
    patterns, rates = [], {}
    for words, shared in (("months independent", 0.0), ("months sharing their counts", 0.2)):
        note(words)
        plant = Plant(shared)
        nothing = np.zeros(MONTHS)
        rates[words] = plant.running(nothing, thresholds(2 * RATE))
        patterns.append(measured(f"at once, {words}", plant, takings(), (2.0, 3.0, 4.0, 5.0, 6.0)))
        patterns.append(measured(f"trickle, {words}", plant, trickle(), (4.0, 8.0, 12.0, 16.0, 20.0)))
    note("tickets")
    floor = Floor()
    tickets = {
        name: tuple(found_where(lambda s, m=m: floor.detects(s * m), p, 0, 30) for p in (0.5, 0.95))  # type: ignore[misc]
        for name, m in ticket_patterns().items()
    }  # fmt: skip
    results = Results(patterns, rates, tickets, floor.detects(np.zeros((YEAR, TICKETS))))  # type: ignore[arg-type]
    write_section("power", section(results))
    return results


def section(r: Results) -> str:
    """Return the section."""
    false_alarms = ", ".join(f"{rate:.2%} with {words}" for words, rate in r.rates.items())
    parts = [
        "## What is found: power of the running tests",
        circumstances(COMMAND, SEED),
        _WORDS.format(rate=RATE, draws=DRAWS, false_alarms=false_alarms, least=RELATIVE[0], most=RELATIVE[-1]),
    ]
    for pattern in r.patterns:
        parts += [f"**{pattern.name.capitalize()}**", _table(pattern)]
    parts.append(_TICKET_WORDS.format(tickets=TICKETS, own=OWN, drift=DRIFT, rate=r.ticket_rate))
    rows = [(name, f"{half:.2f}", f"{sure:.2f}") for name, (half, sure) in r.tickets.items()]
    return "\n\n".join([*parts, table(("pattern", "50 % at", "95 % at"), rows)]) + "\n"


_WORDS = """\
Losses only, each contender at {rate:.2%} false alarms in an area-year (Lemel as measured: {false_alarms}), in {draws:,}
simulated years after two faultless ones. Sizes in σ of one month's balance, in all. The last columns are the optimum's
size over the contender's; 1 cannot be bettered by any test, and the mark for Lemel is 0.85. *Lemel* is the losses' half
of twice the rate; *both ways* shares the rate with gains, as a plant of eight areas does with the default of ten years.
The flat tolerance is one percentage for eight areas whose σ goes from {least:.2g} % to {most:.2g} % of throughput. The
optimum knows the pattern, and for the taking at once not the month: the largest of twelve. Where the months share their
counts it also looks ahead. The trickle is of the twelve months that are judged together; one that lies across two
years of tests is left to Page's sums."""

_TICKET_WORDS = """\
**With the tests of work tickets.** Months independent, {tickets} tickets a month, {own:.0%} of its variance theirs
and {drift:.0%} their common drift's; the rate is halved between the months and the tickets (measured together:
{rate:.2%})."""


def _table(pattern: Pattern) -> str:
    head = ("", *(f"found at {size:g} σ" for size in pattern.at), "50 % at", "95 % at", "of optimum, 50 %", "95 %")
    rows = []
    for who, sizes in pattern.sizes.items():
        half, sure = pattern.ratios(who)
        found = (_size(sizes.half), _size(sizes.sure), f"{half:.2f}", f"{sure:.2f}")
        rows.append((who, *(f"{p:.1%}" for p in sizes.curve), *found))
    return table(head, rows)


def _size(size: float) -> str:
    return f"{size:.2f}" if size < LARGEST - 0.01 else f"> {LARGEST}"


if __name__ == "__main__":
    print(section(run()))
