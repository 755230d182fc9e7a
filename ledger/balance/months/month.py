"""One period's evidence in one metal of a book, and the areas' columns from it."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from contextlib import AbstractContextManager, nullcontext
from datetime import timedelta
from fractions import Fraction
from functools import cached_property
from typing import Protocol

from ledger.balance.daily.estimates import estimated_on_hand
from ledger.balance.flows.columns import Columns, Dust, area_columns, area_dust
from ledger.balance.flows.evidence import (
    DustPosting,
    Ended,
    Flow,
    Weighing,
    clean_outs,
    ended_counts,
    in_transit,
    known_periods,
    late_since,
    open_jobs,
    sums,
    weighings,
    weighings_as_dated,
)
from ledger.balance.flows.normal_loss import Allowance, allowances, late_allowances
from ledger.balance.flows.posted import Posted
from ledger.balance.judging.dust_truth import DustOpening, dust_openings
from ledger.balance.judging.series import Monthly, Unexplained
from ledger.balance.judging.verdict import Levels
from ledger.balance.measurement.covariance import prior, shared_variance, sigma_of, unexplained
from ledger.balance.measurement.dust import DustForms, dust_forms
from ledger.balance.measurement.forms import Form, Tape, combined
from ledger.balance.measurement.propagation import Pass, propagate
from ledger.balance.measurement.worth import Sigma
from ledger.balance.months.standing import Standing
from ledger.book.before import book_before
from ledger.book.closes import Close, closes
from ledger.book.setups import Setups
from ledger.plant.setup import Setup
from ledger.plant.site import Area
from ledger.refusals import BookUnusable, WrongUsage

#: Months in a cumulative.
CUMULATIVE_PERIODS = 12


def cumulative_row(months: Sequence[Month], areas: Sequence[str]) -> Form:
    """Return ΣU + ΣP of areas over the last twelve months as one row: what the months share stands in it once."""
    return combined((m.whole_row(area), 1.0) for m in months[-CUMULATIVE_PERIODS:] for area in areas)


class PastColumns(Unexplained, Protocol):
    """What a past month's balance says of itself."""

    @property
    def prior_period(self) -> int:
        """P: what undid an earlier period's postings."""


class Past(Monthly, Protocol):
    """A past month, as a statement looks back on it."""

    def columns(self, area: str) -> PastColumns:
        """Return an area's columns."""


class Ledger:
    """What the statement reads, with one period's evidence held at a time; all in one metal of the book."""

    def __init__(self, connection: sqlite3.Connection, metal: str | None, setups: Setups | None = None) -> None:
        self.connection = connection
        self.setups = Setups.read(connection) if setups is None else setups
        self.setup: Setup = self.setups.latest
        self.calendar = self.setups.calendar
        self.metals = ("gross", *self.setup.plant.metals)
        self.metal = metal or self.metals[1]
        if self.metal not in self.metals:
            raise WrongUsage(f"{self.metal} is not booked here", f"give one of {', '.join(self.metals)}")
        self.index = self.metals.index(self.metal)
        self.looks_until: int | None = None
        self.closes = {close.period: close for close in closes(connection)}
        self._months: dict[str, Month] = {}

    def in_metal(self, metal: str) -> Ledger:
        """Return the same in another metal, with the pass over the book that is made already."""
        other = Ledger(self.connection, metal, self.setups)
        other.looks_until = self.looks_until
        other.__dict__["measured"] = self.measured
        return other

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

    def earlier(self, period: str) -> tuple[Sequence[Past], int]:
        """Return the months before a period that its statement looks back on, and how many come before those."""
        return [self.month(code) for code in self.until(period) if code != period], 0

    def opening_stock(self, month: Month) -> Mapping[str, int]:
        """Return the stock by area at a month's beginning."""
        before = [code for code in self.until(month.period) if code != month.period]
        return sums(self.connection, "place", self.metal, before)

    def standing(self, month: Month) -> Standing:
        """Return what stands apart at a month's end: estimates, metal on its way, jobs."""
        with month.as_sealed():
            return Standing(
                estimated_on_hand(self.connection, self.index, self.metal, month.end),
                in_transit(self.connection, self.metal, month.end), open_jobs(self.connection, self.metal, month.end),
            )  # fmt: skip

    def dust_openings(self, month: Month) -> Mapping[str, DustOpening]:
        """Return each area's H at a month's beginning."""
        months = [self.month(code) for code in self.until(month.period) if code != month.period]
        return dust_openings(months, [area.code for area in month.setup.area])

    def cumulative_sigma(self, month: Month, areas: Sequence[str]) -> float:
        """Return σ of ΣU + ΣP of one area, or of all together, over twelve months up to a month, in ng."""
        months = [self.month(code) for code in self.until(month.period) if code != month.period]
        return sigma_of(month.tape, cumulative_row([*months, month], areas)).total

    def price(self, period: str) -> Fraction | None:
        """Return the money of one nanogram at the period's end, by the latest fixing; None for gross or without one."""
        fixing = self.setup.price(self.metal, self.calendar.days_of(period)[1] - timedelta(days=1))
        return fixing.per_ng if fixing else None


class Month:
    """One period's evidence in one metal, and the areas' columns from it.

    Of a closed period it is what was recorded before its close; σ alone is told from what is known now.
    """

    def __init__(self, ledger: Ledger, period: str) -> None:
        self.ledger = ledger
        self.period = period
        self.close: Close | None = ledger.closes.get(period)
        self.start, self.end = ledger.calendar.bounds(period)
        self.setup = ledger.setups.at(self.end - 1)

    @property
    def tape(self) -> Tape:
        """The sources that the rows name."""
        return self.ledger.measured.tape

    def as_sealed(self) -> AbstractContextManager[None]:
        """Look at the book as it was when the period was closed; at all of it while it is open."""
        return nullcontext() if self.close is None else book_before(self.ledger.connection, self.close.seq)

    @cached_property
    def posted(self) -> Posted:
        """All postings."""
        with self.as_sealed():
            return Posted(self.ledger.connection, self.period, self.ledger.metal)

    @cached_property
    def flows(self) -> list[Flow]:
        """Postings by ticket and area."""
        return self.posted.flows()

    @cached_property
    def lines(self) -> list[Weighing]:
        """Lines of the effective tickets."""
        with self.as_sealed():
            return weighings(self.ledger.connection, self.period)

    @cached_property
    def allowances(self) -> list[Allowance]:
        """Normal loss, ticket by ticket."""
        with self.as_sealed():
            return self._allowed(self.lines)

    def _allowed(self, lines: Sequence[Weighing], *, as_dated: bool = False) -> list[Allowance]:
        ledger = self.ledger
        return allowances(
            ledger.connection, ledger.setups, self.period, (self.start, self.end), lines, ledger.metals, ledger.index,
            as_dated=as_dated,
        )  # fmt: skip

    @cached_property
    def late(self) -> list[Allowance]:
        """By how much normal loss of closed periods changed with what counts here: reversals and corrections."""
        with self.as_sealed():
            since = late_since(self.ledger.connection, self.period)
            if since is None:
                return []
            closed = [c.period for c in self.ledger.closes.values() if since < c.ends <= self.start]
            months = [self.ledger.month(code) for code in closed]
            now = [allowance for month in months for allowance in month.allowances_now()]
            return late_allowances(now, [a for month in months for a in (*month.allowances, *month.late)])

    def allowances_now(self) -> list[Allowance]:
        """Return normal loss as the asker knows it, whatever was known when the period was closed."""
        lines = weighings_as_dated(self.ledger.connection, self.period, (self.start, self.end))
        return self._allowed(lines, as_dated=True)

    @cached_property
    def dust_postings(self) -> list[DustPosting]:
        """Postings to dust."""
        return self.posted.dust()

    @cached_property
    def dust_posted(self) -> dict[str, int]:
        """All that was posted to dust, by area: of a closed period with what its close posted."""
        return sums(self.ledger.connection, "dust", self.ledger.metal, [self.period])

    @cached_property
    def clean_outs(self) -> dict[str, int]:
        """When each area was last cleaned out."""
        with self.as_sealed():
            return clean_outs(self.ledger.connection, self.period)

    @cached_property
    def counts(self) -> list[Ended]:
        """Counts ended in the period."""
        with self.as_sealed():
            return ended_counts(self.ledger.connection, self.start, self.end)

    @cached_property
    def stock(self) -> tuple[Mapping[str, int], Mapping[str, int]]:
        """Stock by area at the beginning and at the end."""
        opening = self.ledger.opening_stock(self)
        closing = dict(opening)
        for area, ng in sums(self.ledger.connection, "place", self.ledger.metal, [self.period]).items():
            closing[area] = closing.get(area, 0) + ng
        return opening, closing

    def allowances_of(self, area: str) -> list[Allowance]:
        """Return the allowances of one area's work."""
        return self._by_area[1].get(area, [])

    @cached_property
    def _by_area(self) -> tuple[dict[str, list[Flow]], dict[str, list[Allowance]]]:
        flows_of: dict[str, list[Flow]] = {}
        allowances_of: dict[str, list[Allowance]] = {}
        for flow in self.flows:
            flows_of.setdefault(flow.area, []).append(flow)
        for allowance in self.allowances:
            allowances_of.setdefault(allowance.area, []).append(allowance)
        return flows_of, allowances_of

    def late_of(self, area: str) -> list[Allowance]:
        """Return the changes of normal loss of one area's closed periods that count here."""
        return [a for a in self.late if a.area == area]

    def columns(self, area: str) -> Columns:
        """Return one area's columns; raises BookUnusable when the two roads to G do not meet."""
        opening, closing = self.stock
        columns = area_columns(
            opening.get(area, 0), closing.get(area, 0), self._by_area[0].get(area, []),
            self.allowances_of(area), self.late_of(area),
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

    def covariances(self, area: str, earlier: Sequence[Month]) -> list[float]:
        """Return the covariances of U with those of earlier months, and then its variance, in ng²."""
        own = self.row(area)
        return [shared_variance(self.tape, own, month.row(area)) for month in (*earlier, self)]

    def sigma(self, area: str) -> Sigma:
        """Return one area's σ."""
        return sigma_of(self.tape, self.row(area))

    def counted(self, area: str) -> Ended | None:
        """Return the area's last ended count in the period; a take-on's count belongs to the opening."""
        own = [c for c in self.counts if c.area == area and not c.take_on]
        return own[-1] if own else None

    def dust(self, area: str, opening: int) -> Dust:
        """Return one area's dust from its opening; of a closed period as its close told it."""
        return area_dust(
            opening, [p for p in self.dust_postings if p.area == area],
            [*self.allowances_of(area), *self.late_of(area)], self.clean_outs.get(area),
        )  # fmt: skip

    def dust_left(self, area: str, opening: int) -> int:
        """Return one area's H at the period's end from that at its beginning; of a closed period as it was posted."""
        if self.close is not None:
            return opening + self.dust_posted.get(area, 0)
        return self.dust(area, opening).closing

    def dust_forms(self, area: str, opening: Form) -> DustForms:
        """Return the forms of one area's dust from that of its opening."""
        return dust_forms(
            self.ledger.measured, area, self.period, self.ledger.index, self.allowances_of(area), opening,
            self.clean_outs.get(area),
        )  # fmt: skip

    @cached_property
    def _inward(self) -> list[Weighing]:
        """Lines of metal that is no scrap and came over a border."""
        return [line for line in self.lines if line.class_ is None and line.kind in _INWARD and line.side in _TO]

    def levels(self, area: Area, metal: int) -> Levels:
        """Return what the area is judged by; a tolerance given as a mass is of fine metal."""
        plant = self.setup.plant
        tolerance = None
        if area.tolerance is not None and (metal or area.tolerance.mass_ng is None):
            received = newly_received(self._inward, area.code, metal)
            if area.tolerance.mass_ng is not None or received > 0:
                tolerance = round(area.tolerance.limit_ng(received))
        if not metal and not area.gross:
            tolerance = None
        return Levels(plant.warn, plant.act, tolerance, area.trivial)


_INWARD, _TO = frozenset(("receive", "move", "arrive")), frozenset(("receive", "in"))


def newly_received(inward: Sequence[Weighing], area: str, metal: int) -> int:
    """Return what an area newly received, own scrap left out: what a share of tolerance is a share of."""
    return sum((line.given or line.content)[metal] for line in inward if line.area == area)
