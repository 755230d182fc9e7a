"""The daily exceptions list: what a controller looks at each morning, each thing with its age.

As of the end of a plant's day. Where no ticket is dated later it costs what is open, not what the book has seen: sum
tables, and the day's and its period's tickets by index; only the ticket numbers are each read once. Of an earlier day
postings are added up. Amounts are whole nanograms in the book's order, gross first.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import hypot, sqrt

from ledger.balance.daily.bins import bin_age
from ledger.balance.daily.checks import calibration, findings, last_check, mark_of
from ledger.balance.flows.evidence import open_jobs
from ledger.book.amounts import Amounts
from ledger.book.holdings import Account, Held, amounts_from
from ledger.book.past import Past
from ledger.book.setups import Setups
from ledger.plant.measuring import Scale

#: A bin not assayed, and a scale not checked, for more days than this is listed. Common practice, no source.
ASSAY_DAYS = 30
CHECK_DAYS = 7


@dataclass(frozen=True, slots=True)
class Day:
    """A plant's day: its first and last instant, its period, and whether any ticket is dated after it."""

    day: date
    start: int
    end: int
    period: str
    last: bool

    @property
    def instant(self) -> int | None:
        """The instant to ask the book of: None where what is recorded now is what stood at the day's end."""
        return None if self.last else self.end


def day_of(connection: sqlite3.Connection, setups: Setups, day: date | None = None) -> Day | None:
    """Return a day, or the day of the latest-dated ticket; None where no day is given and there is no ticket.

    Raises SetupRefused for a day after the last listed period.
    """
    (latest,) = connection.execute("SELECT max(instant) FROM ticket").fetchone()
    calendar = setups.calendar
    if day is None:
        if latest is None:
            return None
        day = calendar.day(latest)
    start, end = calendar.day_start(day), calendar.day_start(day + timedelta(1)) - 1
    return Day(day, start, end, calendar.period_of_day(day), latest is None or latest <= end)


# ------------------------------------------------------------------------------------------------ open, by age


@dataclass(frozen=True, slots=True)
class AgedJob:
    """A job in which metal went and that is not done; ``amounts``: what is left in it."""

    job: str
    area: str
    operation: str
    since: int
    amounts: Amounts


def aged_jobs(connection: sqlite3.Connection, day: Day, metals: Sequence[str]) -> list[AgedJob]:
    """Return the open jobs, oldest first."""
    if day.last:
        return [
            AgedJob(job, area, operation, since, amounts_from(amounts) if amounts else [0] * len(metals))
            for job, area, operation, since, amounts in connection.execute(_OPEN_JOBS)
        ]
    by_metal = [open_jobs(connection, metal, day.end + 1) for metal in metals]
    return [
        AgedJob(jobs[0].job, jobs[0].area, jobs[0].operation, jobs[0].opened, [job.content for job in jobs])
        for jobs in zip(*by_metal, strict=True)
    ]


_OPEN_JOBS = """
    SELECT lot.number, s.area, s.operation, s.opened, st.amounts FROM open_job AS o JOIN lot ON lot.id = o.lot
    JOIN job_state AS s ON s.id = (SELECT max(id) FROM job_state WHERE lot = o.lot)
    LEFT JOIN standing AS st ON st.area = o.area AND st.lot = o.lot
    WHERE s.mass_in > 0 AND s.done = 0 ORDER BY s.opened, lot.number"""


@dataclass(frozen=True, slots=True)
class Sent:
    """A lot sent and not yet arrived."""

    move: str
    lot: str
    from_: str
    to: str
    since: int
    amounts: Amounts


def sent(connection: sqlite3.Connection, day: Day, metals: Sequence[str]) -> list[Sent]:
    """Return the lots on their way, oldest first."""
    found = sent_now(connection) if day.last else _sent_at(connection, day.end, metals)
    return sorted(found, key=lambda s: (s.since, s.move, s.lot))


def sent_now(connection: sqlite3.Connection) -> Iterator[Sent]:
    """Yield the lots that have not arrived by any ticket of the book."""
    rows = connection.execute(
        "SELECT w.move, lot.number, w.sender, w.receiver, w.instant, w.amounts FROM on_the_way AS w "
        "JOIN lot ON lot.id = w.lot"
    )
    for move, lot, sender, receiver, instant, amounts in rows:
        yield Sent(move, lot, sender, receiver, instant, amounts_from(amounts))


def _sent_at(connection: sqlite3.Connection, instant: int, metals: Sequence[str]) -> Iterator[Sent]:
    rows = connection.execute(
        "SELECT p.move, lot.number, p.area, p.metal, sum(p.ng) FROM posting AS p JOIN lot ON lot.id = p.lot "
        "WHERE p.class = 'transit' AND p.instant <= ? GROUP BY p.move, p.lot, p.area, p.metal HAVING sum(p.ng) <> 0",
        (instant,),
    )
    gathered: dict[tuple[str, str, str], Amounts] = {}
    for move, lot, area, metal, ng in rows:
        gathered.setdefault((move, lot, area), [0] * len(metals))[metals.index(metal)] = ng
    past = Past(connection)
    for (move, lot, area), amounts in gathered.items():
        to, since = past.destination(move)
        yield Sent(move, lot, area, to, since, amounts)


def below_nothing(held: Sequence[Held]) -> list[Held]:
    """Return the lots recorded below nothing, in gross or any metal: more left than was there, until corrected."""
    return [h for h in held if any(ng < 0 for ng in h.amounts)]


# ------------------------------------------------------------------------------------------- sender and receiver


@dataclass(frozen=True, slots=True)
class TransferDifference:
    """Two readings of one lot that differ by more than their scales explain.

    ``difference``: sender's − receiver's, or the list's − ours, by metal, + missing; ``sigma`` of its gross, in ng.
    ``from_`` is an area, or the party whose list it is.
    """

    ticket: str
    kind: str
    instant: int
    lot: str
    from_: str
    to: str
    difference: Amounts
    sigma: float

    @property
    def z(self) -> float:
        """Gross difference over σ."""
        return self.difference[0] / self.sigma


_WEIGHED_TWICE = """
    SELECT t.number, t.kind, t.instant, lot.number, l.area, l.scale, l.given, l.content, sender.area, sender.scale,
           json_extract(record.body, '$.party')
    FROM ticket AS t JOIN record ON record.seq = t.seq
    JOIN line AS l ON l.ticket = t.seq AND l.given IS NOT NULL AND l.weighed_ng > 0 AND l.scale IS NOT NULL
    JOIN lot ON lot.id = l.lot
    LEFT JOIN line AS sender ON sender.side = 'out' AND sender.lot = l.lot AND sender.number = CASE t.kind
        WHEN 'move' THEN l.number ELSE sender.number END AND sender.ticket = CASE t.kind WHEN 'move' THEN t.seq
        ELSE (SELECT seq FROM ticket WHERE number = json_extract(record.body, '$.of')) END
    WHERE t.period = ? AND t.instant <= ? AND t.kind IN ('move', 'arrive', 'receive') AND l.side IN ('in', 'receive')
    AND NOT EXISTS (SELECT 1 FROM ticket AS r WHERE r.reverses = t.seq) ORDER BY t.instant, t.seq, l.id"""


def transfer_differences(connection: sqlite3.Connection, setups: Setups, day: Day) -> list[TransferDifference]:
    """Return what of the period so far differs beyond the action level of the two scales, by date.

    Both scales' repeatability and rounding count, and, where they are two, the sensitivity error of each. A side that
    names no scale (a list, above all) is taken to have been weighed on another like the receiver's.
    """
    found = []
    for row in connection.execute(_WEIGHED_TWICE, (day.period, day.end)):
        *what, scale, given, content, sender, sender_scale, party = row
        ticket, kind, instant, lot, to = what
        scales = setups.at(instant).scales
        receiver = scales.get(scale)
        if receiver is None:
            continue
        other = scales.get(sender_scale or "", receiver)
        difference = [v - w for v, w in zip(amounts_from(given), amounts_from(content), strict=True)]
        sigma = two_scales_sd(other, receiver, amounts_from(content)[0], same=scale == sender_scale)
        if abs(difference[0]) > float(setups.at(instant).plant.act) * sigma:
            found.append(
                TransferDifference(ticket, kind, instant, lot, sender or party or "", to, difference, sigma)
            )  # fmt: skip
    return found


def two_scales_sd(one: Scale, other: Scale, mass_ng: int, *, same: bool) -> float:
    """Return σ, in ng, of the difference of two readings of one mass; a scale's own sensitivity error cancels."""
    variance = one.weighing_sd_ng**2 + other.weighing_sd_ng**2
    if not same:
        variance += (float(one.sensitivity) * mass_ng) ** 2 + (float(other.sensitivity) * mass_ng) ** 2
    return sqrt(variance)


# -------------------------------------------------------------------------------------------------- irregular


@dataclass(frozen=True, slots=True)
class BeyondLimit:
    """A party that is owed more of a metal than its limit; both in nanograms."""

    party: str
    owed: int
    limit: int


def beyond_limits(setups: Setups, parties: Sequence[Account]) -> list[BeyondLimit]:
    """Return the parties owed more, under all their terms together, than the set-up's limit, by code."""
    owed: dict[str, int] = {}
    for account in parties:
        owed[account.key] = owed.get(account.key, 0) - account.ng
    limits = {party.code: party.limit for party in setups.latest.party if party.limit is not None}
    return [BeyondLimit(code, owed.get(code, 0), limit) for code, limit in limits.items() if owed.get(code, 0) > limit]


@dataclass(frozen=True, slots=True)
class Irregular:
    """A flag of a ticket that was recorded all the same."""

    ticket: str
    instant: int
    flag: str
    words: str


_FLAGS = """
    SELECT t.number, t.instant, f.flag, f.words FROM ticket AS t JOIN flag AS f ON f.ticket = t.seq
    WHERE {where} AND NOT EXISTS (SELECT 1 FROM ticket AS r WHERE r.reverses = t.seq)
    ORDER BY t.instant, t.seq, f.id"""


def irregular_of_the_day(connection: sqlite3.Connection, day: Day) -> list[Irregular]:
    """Return the day's flags, by time; those of tickets that were reversed since are answered."""
    rows = connection.execute(_FLAGS.format(where="t.instant BETWEEN ? AND ?"), (day.start, day.end))
    return [Irregular(*row) for row in rows]


def irregular_still_standing(connection: sqlite3.Connection, day: Day) -> dict[str, list[Irregular]]:
    """Return the flags of earlier days of the period whose tickets still stand, by flag, each list by time."""
    rows = connection.execute(_FLAGS.format(where="t.period = ? AND t.instant < ?"), (day.period, day.start))
    found: dict[str, list[Irregular]] = {}
    for row in rows:
        found.setdefault(row[2], []).append(Irregular(*row))
    return dict(sorted(found.items()))


# ---------------------------------------------------------------------------------------------------- overdue


@dataclass(frozen=True, slots=True)
class OverdueBin:
    """A bin in use whose content was not assayed for too long; ``assayed``: since its last assay, or ever since."""

    bin: str
    area: str
    since: int
    assayed: bool


def overdue_bins(connection: sqlite3.Connection, setups: Setups, day: Day, held: Sequence[Held], days: int = ASSAY_DAYS
                 ) -> list[OverdueBin]:  # fmt: skip
    """Return the bins on hand not assayed for more than so many days, longest first."""
    found = []
    for h in held:
        age = bin_age(connection, h.described.lot, h.area, day.instant) if h.described.kind == "bin" else None
        if age is not None and (day.day - setups.calendar.day(age.since)).days > days:
            found.append(OverdueBin(h.described.lot, h.area, age.since, age.assayed))
    return sorted(found, key=lambda b: (b.since, b.area, b.bin))


@dataclass(frozen=True, slots=True)
class OverdueScale:
    """Something to be done about a scale: what, since which day (None: never), and how far it was off, in ng."""

    scale: str
    what: str
    since: date | None
    off: int | None = None


def overdue_scales(connection: sqlite3.Connection, setups: Setups, day: Day, days: int = CHECK_DAYS
                   ) -> list[OverdueScale]:  # fmt: skip
    """Return the scales past their calibration, out of control at the last check, or not checked for so many days.

    Out of control: off by more than repeatability *and* the sensitivity that the set-up allows explain, as tickets are
    flagged. What repeatability alone does not explain is on the charts.
    """
    found: list[OverdueScale] = []
    setup, past = setups.at(day.end), Past(connection)
    for scale in setup.scale:
        upon = max((instant for instant in past.calibrations(scale.code) if instant <= day.end), default=None)
        due = calibration(setup, scale.code, None if upon is None else setups.calendar.day(upon)).due
        if due is not None and due < day.day:
            found.append(OverdueScale(scale.code, "past its calibration", due))
        found += _check_weight(connection, setups, scale, day, days)
    return found


def _check_weight(connection: sqlite3.Connection, setups: Setups, scale: Scale, day: Day, days: int
                  ) -> Iterator[OverdueScale]:  # fmt: skip
    check = last_check(connection, scale.code, day.end)
    if check is None:
        yield OverdueScale(scale.code, "never checked", None)
        return
    on, setup = setups.calendar.day(check.instant), setups.at(check.instant)
    if (day.day - on).days > days:
        yield OverdueScale(scale.code, "not checked", on)
    for _, certified, value, sd in findings(check, setup):
        off, allowed = value - certified, hypot(sd, float(scale.sensitivity * certified))
        if mark_of(off, allowed, float(setup.plant.warn), float(setup.plant.act)) == "act" and not check.calibrated:
            yield OverdueScale(scale.code, "out of control", on, round(off))


def count_instant(connection: sqlite3.Connection, ticket: str) -> int:
    """Return the instant of the count, or arrival, that did not find a lot."""
    return int(connection.execute("SELECT instant FROM ticket WHERE number = ?", (ticket,)).fetchone()[0])

