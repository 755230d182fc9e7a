"""Skimming inside work tickets, and whether patterns name who: `python -m tests.studies.skimming`.

Tables of work tickets of the invented plant: its operations, materials, inputs, σ and drift as its books give them
(`DESIGNS` simulated half-years, entered as tickets), its crews changing shifts every week. What each ticket lost beyond
its normal loss is drawn anew for every run, straight from its σ and drift; then a share of the input is taken from
every ticket of one worker in one operation, or of one shift everywhere. A few whole books are entered as a check.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import cache, partial
from math import sqrt
from random import Random
from statistics import fmean, pstdev

import numpy as np

from ledger.balance.months.month import Ledger
from ledger.causes.patterns.comparisons import FEWEST, Alias
from ledger.causes.patterns.found import RATE, Pattern, find
from ledger.causes.patterns.tickets import Level, Ticket, tickets_of
from tests.studies.causes_page import Share
from tests.studies.evaluation_page import circumstances, note, table, write_section
from tests.studies.fault_worlds.books import book_of
from tests.studies.fault_worlds.world import Floor, Metal, simulated

COMMAND = "python -m tests.studies.skimming"
SEED, DESIGNS, MONTHS = 1995, 8, 6
RUNS, BOOKS = 400, 6
SHARES = (0.0005, 0.002, 0.005, 0.01)
LONG = (1, 3, 6)
#: False discoveries on average, at most.
MARK = RATE

_WEEK = 7 * 86_400_000_000


@dataclass(frozen=True)
class Taker:
    """Whose tickets something is taken from: a worker's in one operation, or a shift's everywhere (operation None)."""

    level: Level
    operation: str | None

    def part(self, ticket: Ticket) -> float:
        """Return the share of a ticket that is theirs."""
        here = self.operation in (None, ticket.stratum.operation)
        return ticket.levels.get(self.level, 0.0) if here else 0.0


@dataclass(frozen=True)
class Outcome:
    """One run: whether the taker is named, alone or with what cannot be told apart; could be; what else is named."""

    found: bool
    comparable: bool
    named: int
    false: int
    share: float | None
    covered: bool | None


# ------------------------------------------------------------------------------------------------------------- tables


@cache
def design(number: int) -> list[Ticket]:
    """Return the tickets of an honest half-year, its crews changing shifts every week."""
    connection = book_of(simulated(SEED + number, MONTHS).tickets())
    tickets = tickets_of(Ledger(connection, "gold"), [f"2026-{month:02d}" for month in range(1, MONTHS + 1)])
    crews: dict[str, list[str]] = {}
    for ticket in tickets:
        crew = crews.setdefault(ticket.stratum.operation, [])
        crew += [level.code for level in ticket.levels if level.factor == "worker" and level.code not in crew]
    return [_rotated(ticket, sorted(crews[ticket.stratum.operation])) for ticket in tickets]


def _rotated(ticket: Ticket, crew: list[str]) -> Ticket:
    """Return a ticket worked by whoever has its shift that week."""
    week, levels = ticket.instant // _WEEK, dict[Level, float]()
    for level, share in ticket.levels.items():
        if level.factor == "worker":
            level = Level("worker", crew[(crew.index(level.code) + week) % len(crew)])
        levels[level] = levels.get(level, 0.0) + share
    return replace(ticket, levels=levels)


def drawn(tickets: list[Ticket], rng: np.random.Generator, taken: Callable[[Ticket], float]) -> list[Ticket]:
    """Return the tickets with chance in their excess, and what is taken, as a share of their input."""
    drifts: dict[tuple[str, str], float] = {}
    found = []
    for one in tickets:
        drift = drifts.setdefault((one.stratum.operation, one.period), float(rng.standard_normal()))
        chance = one.sigma * float(rng.standard_normal()) + one.drift * drift
        found.append(replace(one, excess=round(chance + taken(one) * one.put_in)))
    return found


def taker(who: str, tickets: list[Ticket], chance: Random) -> Taker:
    """Return a worker in an operation, each as often as he has tickets; or a shift, each as often."""
    if who == "shift":
        return Taker(chance.choice(sorted({level for t in tickets for level in t.levels if level.factor == who})), None)
    one = chance.choice(tickets)
    return Taker(chance.choice(sorted(level for level in one.levels if level.factor == who)), one.stratum.operation)


def outcome(who: str | None, share: float, months: int, run: int) -> Outcome:
    """Return one run; ``who``: worker, shift, or nobody."""
    chance = Random(f"{SEED}/{who}/{share}/{months}/{run}")
    first = chance.randint(1, MONTHS - months + 1)
    tickets = [t for t in design(run % DESIGNS) if first <= int(t.period[-2:]) < first + months]
    by = taker(who, tickets, chance) if who else None
    taken = (lambda _: 0.0) if by is None else (lambda t: share * by.part(t))
    found = find(drawn(tickets, np.random.default_rng(chance.getrandbits(64)), taken)).patterns
    return judged(found, by, tickets, share)


def judged(found: list[Pattern], by: Taker | None, tickets: list[Ticket], share: float) -> Outcome:
    """Return what was found against the truth."""
    if by is None:
        return Outcome(False, False, len(found), len(found), None, None)
    right = [pattern for pattern in found if _names(pattern, by)]
    sizes = [p.effect for p in right if p.effect is not None and _alone(p, by)]
    size = sizes[0] if sizes else None
    return Outcome(
        bool(right), comparable(by, tickets), len(found), len(found) - len(right),
        None if size is None else size.share, None if size is None else size.low <= share <= size.high,
    )  # fmt: skip


def _names(pattern: Pattern, by: Taker) -> bool:
    names = [Alias(pattern.comparison.name, pattern.comparison.share, "with"), *pattern.inseparable]
    more = pattern.effect is None or pattern.effect.share > 0
    return any(_is(alias, by) and (alias.way == "with") == more for alias in names)


def _alone(pattern: Pattern, by: Taker) -> bool:
    """Return whether it is the taker himself who leads, where he takes: then the size is his."""
    return pattern.comparison.name == (by.level, by.operation)


def _is(alias: Alias, by: Taker) -> bool:
    """A shift's tickets in one operation are part of it; a worker's everywhere hold those of one operation."""
    return alias.name.level == by.level and (by.operation is None or alias.name.operation in (None, by.operation))


def comparable(by: Taker, tickets: list[Ticket]) -> bool:
    """Return whether both the taker and others have tickets enough in the same strata."""
    theirs = others = 0.0
    for stratum in {t.stratum for t in tickets if by.part(t)}:
        parts = [t.levels.get(by.level, 0.0) for t in tickets if t.stratum == stratum]
        if 0 < sum(parts) < len(parts):
            theirs, others = theirs + sum(parts), others + len(parts) - sum(parts)
    return min(theirs, others) >= FEWEST


# --------------------------------------------------------------------------------------------------------- whole books


class Kept:
    """Keeps back a share of what one shift blanks, before it is weighed."""

    def __init__(self, share: float, operation: str = "BLANKING", hours: range = range(14, 22)) -> None:
        self.share, self.operation, self.hours = share, operation, hours

    def __call__(self, floor: Floor) -> None:
        honest = floor.lose

        def lose(operation: str, area: str, metal: Metal, layer: tuple[float, float] | None = None) -> Metal:
            left = honest(operation, area, metal, layer)
            if operation == self.operation and floor.now.hour in self.hours:
                return left - left.part(self.share * metal.mass)
            return left

        floor.lose = lose  # type: ignore[method-assign]


@dataclass(frozen=True)
class OfBook:
    """Of one whole book: the share taken, whether the late shift of blanking is named, what else, and its size."""

    share: float
    found: bool
    false: int
    size: float | None


def of_book(run: int) -> OfBook:
    """Enter three months of tickets with something kept back, and look."""
    share = SHARES[run % len(SHARES)]
    connection = book_of(simulated(SEED + 100 + run, 3, Kept(share)).tickets())
    found = find(tickets_of(Ledger(connection, "gold"), ["2026-01", "2026-02", "2026-03"])).patterns
    late = Taker(Level("shift", "late"), "BLANKING")
    right = [p for p in found if _names(p, late)]
    size = next((p.effect.share for p in right if p.effect is not None), None)
    return OfBook(share, bool(right), len(found) - len(right), size)


# ------------------------------------------------------------------------------------------------------------ the page


@dataclass(frozen=True)
class Results:
    """Outcomes by who takes, share and months; honest ones by months; and whole books."""

    taken: dict[tuple[str, float, int], list[Outcome]]
    honest: dict[int, list[Outcome]]
    books: list[OfBook]

    @property
    def false(self) -> tuple[float, float, float]:
        """False discoveries among those named, on average over all runs that name any or none; and its interval."""
        return mean_interval([o.false / o.named if o.named else 0.0 for runs in self.taken.values() for o in runs])


def mean_interval(values: list[float]) -> tuple[float, float, float]:
    """Return the mean and its 95 % interval (normal approximation)."""
    mean, reach = fmean(values), 1.96 * pstdev(values) / sqrt(len(values))
    return mean, mean - reach, mean + reach


def run(runs: int = RUNS, books: int = BOOKS, *, write: bool = True) -> Results:
    """Measure, and write the section."""
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    taken, honest = {}, {}
    with ProcessPoolExecutor(os.cpu_count()) as pool:
        for months in LONG:
            honest[months] = list(pool.map(partial(outcome, None, 0.0, months), range(runs), chunksize=20))
            note(f"honest, {months} months")
        for who in ("worker", "shift"):
            for share in SHARES:
                for months in LONG:
                    each = partial(outcome, who, share, months)
                    taken[who, share, months] = list(pool.map(each, range(runs), chunksize=20))
                    note(f"{who}, {share:.2%}, {months} months")
        found = Results(taken, honest, list(pool.map(of_book, range(books))))
    if write:
        write_section("skimming", section(found))
    return found


def section(r: Results) -> str:
    """Return the section."""
    runs = len(next(iter(r.taken.values())))
    false, low, high = r.false
    return "\n\n".join((
        "## Skimming inside work tickets: patterns",
        circumstances(COMMAND, SEED),
        _WORDS.format(runs=runs, designs=DESIGNS, fewest=FEWEST),
        table(("taken by", "of input", "months", "named", "of those comparable", "size", "interval covers", "false"),
              list(_rows(r))),
        _FALSE.format(false=false, low=low, high=high, mark=MARK, met="met" if low <= MARK else "not met"),
        "Nobody takes anything: runs in which any pattern is named.",
        table(("months", "runs", "any named"), [
            (f"{months}", f"{len(runs)}", _share(sum(o.named > 0 for o in runs), len(runs)))
            for months, runs in r.honest.items()
        ]),
        _BOOK_WORDS,
        table(("of input", "named", "size", "false"), [
            (f"{b.share:.2%}", "yes" if b.found else "no", "" if b.size is None else f"{b.size:.3%}", f"{b.false}")
            for b in sorted(r.books, key=lambda b: b.share)
        ]),
    )) + "\n"  # fmt: skip


def _rows(r: Results) -> Iterator[tuple[str, ...]]:
    for (who, share, months), runs in r.taken.items():
        could = [o for o in runs if o.comparable]
        sizes = [o.share for o in runs if o.share is not None]
        covered = [o.covered for o in runs if o.covered is not None]
        false, low, high = mean_interval([o.false / o.named if o.named else 0.0 for o in runs])
        yield (
            f"one {who}", f"{share:.2%}", f"{months}", _share(sum(o.found for o in runs), len(runs)),
            f"{sum(o.found for o in could) / max(len(could), 1):.1%} of {len(could)}",
            f"{fmean(sizes):.3%}" if sizes else "", f"{fmean(covered):.0%}" if covered else "",
            f"{false:.1%} ({max(low, 0):.1%} to {high:.1%})",
        )  # fmt: skip


def _share(count: int, of: int) -> str:
    low, high = Share(count, of).interval
    return f"{count / of:.1%} ({low:.1%} to {high:.1%})"


_WORDS = """\
{runs} runs a row. The tables are those of {designs} half-years of the invented plant: its operations, materials, inputs
and levels, σ and drift of each ticket as its book gives them, about 84 tickets and jobs a month. The
excess of each is drawn anew in every run, straight from its σ and drift; crews change shifts every week. *One worker*:
in one operation, as often as he has tickets there; *one shift*: everywhere. *Named*: by itself, or in a group declared
inseparable, going the right way. *Comparable*: at least {fewest} tickets of his and {fewest} of others in the same
operation and material; where there are fewer nothing can be said, and the page says so. *Size*: on average where he is
named by himself, and how often its 95 % interval holds the truth. *False*: patterns named that are none, as a share of
all named in a run, on average."""

_FALSE = """\
False discoveries, on average of a run in which something is taken: {false:.2%} ({low:.2%} to {high:.2%}); the mark is
{mark:.0%}: {met}."""

_BOOK_WORDS = """\
Whole books as a check: three months of tickets entered, a share of what the late shift blanks kept back before it is
weighed. There each shift is one person."""


if __name__ == "__main__":
    if sys.argv[1:] == ["--quick"]:
        print(section(run(16, 4, write=False)))
    else:
        print(section(run()))
