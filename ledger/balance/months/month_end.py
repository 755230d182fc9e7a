"""The month-end statement: the main job. Every area's columns, σ, verdict and reasons, and the plant beside them."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from fractions import Fraction
from functools import cached_property

from ledger.balance.daily.estimates import estimated_on_hand
from ledger.balance.flows.columns import Columns, Dust, area_columns, area_dust, received_and_issued, summed
from ledger.balance.flows.evidence import (
    NOT_OF_THE_PERIOD,
    DustPosting,
    Ended,
    Flow,
    OpenJob,
    Weighing,
    clean_outs,
    dust_postings,
    ended_counts,
    flows,
    in_transit,
    known_periods,
    open_jobs,
    singles,
    sums,
    weighings,
)
from ledger.balance.flows.normal_loss import Allowance, allowances
from ledger.balance.judging.running_tests import area_limits
from ledger.balance.judging.series import judged_in_sequence
from ledger.balance.judging.verdict import Judgement, Levels, judge
from ledger.balance.measurement.budget import budget
from ledger.balance.measurement.covariance import prior, sigma_of, unexplained
from ledger.balance.measurement.forms import Form, Tape, combined
from ledger.balance.measurement.propagation import Pass, propagate
from ledger.balance.measurement.worth import Sigma
from ledger.book.setups import Setups
from ledger.plant.setup import Setup
from ledger.plant.site import Area
from ledger.quantities.mass import mass_text
from ledger.refusals import BookUnusable, WrongUsage

#: Months in a cumulative.
CUMULATIVE_PERIODS = 12


@dataclass(frozen=True)
class AreaStatement:
    """One area's statement in one metal."""

    area: Area
    columns: Columns
    dust: Dust
    sigma: Sigma
    levels: Levels
    judgement: Judgement
    counted_at: str | None
    estimated: int
    in_transit: int
    open_jobs: list[OpenJob]
    cumulative: int
    cumulative_sigma: float
    money: Fraction | None


class Ledger:
    """What the statement reads, with one period's evidence held at a time; all in one metal of the book."""

    def __init__(self, connection: sqlite3.Connection, metal: str | None) -> None:
        self.connection = connection
        self.setups = Setups.read(connection)
        self.setup: Setup = self.setups.latest
        self.calendar = self.setups.calendar
        self.metals = ("gross", *self.setup.plant.metals)
        self.metal = metal or self.metals[1]
        if self.metal not in self.metals:
            raise WrongUsage(f"{self.metal} is not booked here", f"give one of {', '.join(self.metals)}")
        self.index = self.metals.index(self.metal)
        self.looks_until: int | None = None
        self._months: dict[str, Month] = {}

    @cached_property
    def measured(self) -> Pass:
        """Every difference as a linear form in the error sources, up to what was last asked for."""
        end = self.calendar.bounds(self.periods[-1])[1] if self.looks_until is None else self.looks_until
        return propagate(self.connection, self.setups, end)

    @cached_property
    def periods(self) -> list[str]:
        """Periods with postings, by their beginning."""
        return known_periods(self.connection, self.calendar)

    def month(self, period: str) -> Month:
        """Return a period's evidence, gathered once."""
        if period not in self._months:
            self._months[period] = Month(self, period)
        return self._months[period]

    def until(self, period: str) -> list[str]:
        """Return the periods with postings up to and with one."""
        end = self.calendar.bounds(period)[1]
        until = [code for code in self.periods if self.calendar.bounds(code)[0] < end]
        if not until:
            first = f"; it begins in {self.periods[0]}" if self.periods else " yet"
            raise WrongUsage(f"the book holds nothing of {period}{first}", "give a later period")
        return until

    def price(self, period: str) -> Fraction | None:
        """Return the money of one nanogram at the period's end, by the latest fixing; None for gross or without one."""
        fixing = self.setup.price(self.metal, self.calendar.days_of(period)[1] - timedelta(days=1))
        return fixing.per_ng if fixing else None


class Month:
    """One period's evidence in one metal, and the areas' columns from it."""

    def __init__(self, ledger: Ledger, period: str) -> None:
        self.ledger = ledger
        self.period = period
        self.start, self.end = ledger.calendar.bounds(period)
        self.setup = ledger.setups.at(self.end - 1)

    @property
    def tape(self) -> Tape:
        """The sources that the rows name."""
        return self.ledger.measured.tape

    @cached_property
    def flows(self) -> list[Flow]:
        """Postings by ticket and area."""
        return flows(self.ledger.connection, self.period, self.ledger.metal)

    @cached_property
    def lines(self) -> list[Weighing]:
        """Lines of the effective tickets."""
        return weighings(self.ledger.connection, self.period)

    @cached_property
    def allowances(self) -> list[Allowance]:
        """Normal loss, ticket by ticket."""
        ledger = self.ledger
        return allowances(
            ledger.connection, ledger.setups, self.period, (self.start, self.end), self.lines, ledger.metals,
            ledger.index,
        )  # fmt: skip

    @cached_property
    def dust_postings(self) -> list[DustPosting]:
        """Postings to dust."""
        return dust_postings(self.ledger.connection, self.period, self.ledger.metal)

    @cached_property
    def clean_outs(self) -> dict[str, int]:
        """When each area was last cleaned out."""
        return clean_outs(self.ledger.connection, self.period)

    @cached_property
    def counts(self) -> list[Ended]:
        """Ended counts up to the period's end."""
        return ended_counts(self.ledger.connection, self.end)

    @cached_property
    def stock(self) -> tuple[dict[str, int], dict[str, int]]:
        """Stock by area at the beginning and at the end."""
        until = self.ledger.until(self.period)
        before = [code for code in until if code != self.period]
        return tuple(sums(self.ledger.connection, "place", self.ledger.metal, p) for p in (before, until))  # type: ignore[return-value]

    def allowances_of(self, area: str) -> list[Allowance]:
        """Return the allowances of one area's work."""
        return [a for a in self.allowances if a.area == area]

    def columns(self, area: str) -> Columns:
        """Return one area's columns; raises BookUnusable when the two roads to G do not meet."""
        opening, closing = self.stock
        columns = area_columns(
            opening.get(area, 0), closing.get(area, 0), [f for f in self.flows if f.area == area],
            self.allowances_of(area),
        )  # fmt: skip
        if columns.gross_loss != columns.posted_loss:
            raise BookUnusable(
                f"{area} in {self.period}: the balance gives a gross loss of {columns.gross_loss} ng of "
                f"{self.ledger.metal}, its difference account {columns.posted_loss} ng", "run: lemel verify",
            )  # fmt: skip
        return columns

    def form(self, area: str) -> Form:
        """Return U of an area as a linear form in the error sources."""
        own = self.allowances_of(area)
        return unexplained(self.ledger.measured, area, self.period, self.ledger.index, own)

    @cached_property
    def rows(self) -> dict[str, tuple[Form, Form]]:
        """Each area's U, and its U + P, as rows in sources alone."""
        found, index = self.ledger.measured, self.ledger.index
        areas = [area.code for area in self.setup.area]
        forms = [self.form(area) for area in areas]
        priors = [prior(found, area, self.period, index) for area in areas]
        rows = found.tape.rows([*forms, *priors])
        return {
            area: (row, combined(((row, 1.0), (undone, 1.0))) if undone else row)
            for area, row, undone in zip(areas, rows, rows[len(areas) :], strict=False)
        }

    def row(self, area: str) -> Form:
        """Return U of an area as a row in sources; nothing of an area that the set-up did not yet have."""
        return self.rows.get(area, ({}, {}))[0]

    def whole_row(self, area: str) -> Form:
        """Return U + P of an area as a row in sources: what a cumulative takes in."""
        return self.rows.get(area, ({}, {}))[1]

    def sigma(self, area: str) -> Sigma:
        """Return one area's σ."""
        return sigma_of(self.tape, self.row(area))

    def counted(self, area: str) -> Ended | None:
        """Return the area's last ended count in the period; a take-on's count belongs to the opening."""
        own = [c for c in self.counts if c.area == area and c.instant >= self.start and not c.take_on]
        return own[-1] if own else None

    def dust(self, area: str, opening: int) -> Dust:
        """Return one area's dust from its opening."""
        return area_dust(
            opening, [p for p in self.dust_postings if p.area == area], self.allowances_of(area),
            self.clean_outs.get(area),
        )  # fmt: skip

    def levels(self, area: Area, metal: int) -> Levels:
        """Return what the area is judged by; a tolerance given as a mass is of fine metal."""
        plant = self.setup.plant
        tolerance = None
        if area.tolerance is not None and (metal or area.tolerance.mass_ng is None):
            received = newly_received(self.lines, area.code, metal)
            if area.tolerance.mass_ng is not None or received > 0:
                tolerance = round(area.tolerance.limit_ng(received))
        if not metal and not area.gross:
            tolerance = None
        return Levels(plant.warn, plant.act, tolerance, area.trivial)


_INWARD = ("receive", "move", "arrive")


def newly_received(lines: Sequence[Weighing], area: str, metal: int) -> int:
    """Return what an area newly received, own scrap left out: what a share of tolerance is a share of."""
    inward = [line for line in lines if line.area == area and line.class_ is None and line.kind in _INWARD]
    return sum((line.given or line.content)[metal] for line in inward if line.side in ("receive", "in"))


def plant_columns(month: Month, areas: Sequence[Columns]) -> Columns:
    """Return the plant's columns: what moved between its areas is neither received nor issued."""
    total = summed(areas)
    by_ticket: dict[int, list[int]] = {}
    for flow in month.flows:
        received, issued = received_and_issued(flow)
        both = by_ticket.setdefault(flow.ticket, [0, 0])
        both[0] += received
        both[1] += issued
    for received, issued in by_ticket.values():
        inside = min(received, issued) if received > 0 and issued > 0 else max(received, issued)
        if received * issued > 0:
            total.received -= inside
            total.issued -= inside
    return total


def area_statements(ledger: Ledger, period: str) -> Iterator[AreaStatement]:
    """Yield every area's statement, in the set-up's order."""
    months = [ledger.month(code) for code in ledger.until(period) if code != period]
    month = ledger.month(period)
    price = ledger.price(period)
    estimated = estimated_on_hand(ledger.connection, ledger.index, ledger.metal, month.end)
    jobs = open_jobs(ledger.connection, ledger.metal, month.end)
    transit = in_transit(ledger.connection, ledger.metal, month.end)
    for area in month.setup.area:
        columns, sigma = month.columns(area.code), month.sigma(area.code)
        counted, levels = month.counted(area.code), month.levels(area, ledger.index)
        judgement = judge(
            columns.unexplained, sigma, levels, counted=counted is not None, rated=not columns.unrated,
            judged=area.gross or ledger.index != 0,
        )  # fmt: skip
        judgement = judged_in_sequence(judgement, [*months, month], area.code, area_limits(month.setup))
        reasons = [*judgement.reasons, *_mend(month, area.code, judgement.coarse),
                   *_largest(month, area.code, columns, judgement.verdict),
                   *_remarks(ledger, month, area.code, columns, counted)]  # fmt: skip
        dust = Dust()
        for earlier in months:
            dust = earlier.dust(area.code, dust.closing)
        cumulative = columns.unexplained + columns.prior_period
        for earlier in months[-(CUMULATIVE_PERIODS - 1) :]:
            past = earlier.columns(area.code)
            cumulative += past.unexplained + past.prior_period
        whole = cumulative_row([*months, month], [area.code])
        yield AreaStatement(
            area, columns, month.dust(area.code, dust.closing), sigma, levels, replace(judgement, reasons=reasons),
            ledger.calendar.text(counted.instant) if counted else None, estimated.get(area.code, 0),
            transit.get(area.code, 0), [job for job in jobs if job.area == area.code], cumulative,
            sigma_of(ledger.measured.tape, whole).total, None if price is None else columns.unexplained * price,
        )  # fmt: skip


def cumulative_row(months: Sequence[Month], areas: Sequence[str]) -> Form:
    """Return ΣU + ΣP of areas over the last twelve months as one row: what the months share stands in it once."""
    return combined((m.whole_row(area), 1.0) for m in months[-CUMULATIVE_PERIODS:] for area in areas)


def _mend(month: Month, area: str, coarse: bool) -> Iterator[str]:
    """Name the largest source of an area that measurement cannot hold to its tolerance, and what would mend it."""
    items = budget(month.tape, month.row(area)) if coarse else []
    if items:
        yield f"largest source: {items[0].words} ({items[0].share:.0%} of the variance); mend: {items[0].mend}"


#: Single differences named as reasons, and the share of U below which one is not worth naming.
_NAMED, _WORTH_NAMING = 3, Fraction(1, 10)


def _largest(month: Month, area: str, columns: Columns, verdict: str) -> Iterator[str]:
    """Name the single differences, beyond their normal loss, that go the way of a short or over area."""
    if verdict not in ("short", "over", "look"):
        return
    normal: dict[int, int] = {}
    for allowance in month.allowances_of(area):
        normal[allowance.ticket] = normal.get(allowance.ticket, 0) + (allowance.allowed or 0)
    unexplained, found = columns.unexplained, []
    for single in singles(month.ledger.connection, month.period, month.ledger.metal, area):
        if single.origin not in NOT_OF_THE_PERIOD:
            beyond = single.ng - (normal.get(single.seq, 0) if single.origin == "work" else 0)
            if beyond * unexplained > 0 and abs(beyond) >= _WORTH_NAMING * abs(unexplained):
                found.append((abs(beyond), beyond, single))
    for _, beyond, single in sorted(found, key=lambda each: (-each[0], each[2].seq))[:_NAMED]:
        lot = f", lot {single.lot}" if single.lot else ""
        what = {"reweighing": "re-weighing"}.get(single.origin, single.origin)
        yield f"{single.ticket} ({what}{lot}): {mass_text(beyond)} g"


def _remarks(ledger: Ledger, month: Month, area: str, columns: Columns, counted: Ended | None) -> Iterator[str]:
    if columns.take_on:
        yield "a take-on difference stands apart: it is of the opening, not of this period"
    if counted is not None:
        last = ledger.calendar.days_of(month.period)[1] - timedelta(days=1)
        day = ledger.calendar.day(counted.instant)
        if day != last:
            yield f"counted on {day}, rolled forward to {last} by the tickets since"
    if columns.prior_period:
        yield "metal of an earlier period came to light: see prior period"
