"""The months of a book, each begun from what the ones before it left: cost grows with the month, not with the book.

What a period leaves is derived from what the one before it left and from its own tickets alone, whether or not the book
keeps it: figures are the same to the last bit. Rows of past months are not carried whole. Of a covariance with a later
month only the sources count that the later one can share, and a past month's covariance with the months before it is
final: so the numbers stay, and of the rows what is still alive.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import cached_property
from math import fsum, sqrt
from typing import Any

from ledger.balance.flows.columns import Columns
from ledger.balance.flows.evidence import Weighing, known_periods
from ledger.balance.flows.posted import LotSums
from ledger.balance.judging.dust_truth import DustOpening
from ledger.balance.judging.series import look_back
from ledger.balance.measurement.carrying import Flattened, flatten, form_of
from ledger.balance.measurement.covariance import shared_variance
from ledger.balance.measurement.effective import FIRST, TicketOf, effective_tickets, weighings_of
from ledger.balance.measurement.forms import Form, combined
from ledger.balance.measurement.propagation import Pass, no_collection, propagate
from ledger.balance.months.kept import PLANT, Balance, Ending, Kept, PastMonth, Rows, read_last, rows_of
from ledger.balance.months.month import CUMULATIVE_PERIODS, Ledger, Month
from ledger.balance.months.standing import (
    Standing,
    by_area,
    estimated_of,
    in_metal,
    moved,
    open_jobs_of,
    together,
    with_content,
)
from ledger.book.before import first_unseen
from ledger.book.setups import Setups


class Chain:
    """What a book's periods left, read or derived; ``made`` holds what was derived, for the book to keep.

    ``kept``: whether what the book keeps is read; without, all is derived from the first ticket, or from what the
    ``latest`` period known left. ``progress`` is told of each period that is derived.
    """

    def __init__(
        self, connection: sqlite3.Connection, *, kept: bool = True, latest: Ending | None = None,
        progress: Callable[[int], None] = lambda _: None,
    ) -> None:  # fmt: skip
        self.connection = connection
        self.kept = kept
        self.setups = Setups.read(connection)
        self.calendar = self.setups.calendar
        self.metals = ("gross", *self.setups.latest.plant.metals)
        self.made: list[Kept] = []
        self.progress = progress
        self._latest = latest
        self._evidence: Evidence | None = None

    @cached_property
    def periods(self) -> list[str]:
        """Periods with postings, by their beginning."""
        return known_periods(self.connection, self.calendar)

    def before(self, period: str) -> Ending | None:
        """Return what the periods before one left; None before the first."""
        start = self.calendar.bounds(period)[0]
        past = [code for code in self.periods if self.calendar.bounds(code)[0] < start]
        ends = {self.calendar.bounds(code)[1]: code for code in past}
        found = None
        if self.kept:
            found = read_last(self.connection, ends, first_unseen(self.connection), lambda n: n - look_back(n))
        if self._latest is not None and (found.periods if found else 0) < self._latest.periods <= len(past):
            found = self._latest
        with no_collection():
            for code in past[found.periods if found else 0 :]:
                found = self.follow(found, code)
                self.made.append(rows_of(found))
        self._latest = found
        return found

    def keepable(self) -> list[Kept]:
        """Return what was derived of periods that are past: the book goes on after them."""
        (last,) = self.connection.execute("SELECT max(instant) FROM ticket").fetchone()
        return [kept for kept in self.made if kept.ends <= (last or FIRST)]

    def every(self) -> Iterator[tuple[Ending | None, Ending]]:
        """Yield what the periods before each one left, and what it left, all derived from the first ticket."""
        before = None
        for code in self.periods:
            ending = self.follow(before, code)
            yield before, ending
            before = ending

    def follow(self, before: Ending | None, period: str) -> Ending:
        """Return what a period left, from what the one before it left."""
        self.progress(0)
        evidence = Evidence(self, before, period)
        folding = [_Folding(CarriedLedger(evidence, metal)) for metal in self.metals]
        state = evidence.measured.state
        assert state is not None
        flat = flatten(state, {fold.metal: fold.dust for fold in folding}, evidence.end)
        ending = Ending(
            period, evidence.end, self._record(before, evidence), evidence.periods, flat.document,
            together([fold.ledger.stock for fold in folding]), together([fold.ledger.transit for fold in folding]),
            list(evidence.open_jobs), {fold.metal: fold.months() for fold in folding},
            {fold.metal: fold.alive(flat) for fold in folding},
        )  # fmt: skip
        for fold in folding:
            fold.month.__dict__.clear()  # it and its ledger hold each other: a pass is too large to wait for collection
        return ending

    def _record(self, before: Ending | None, evidence: Evidence) -> int:
        """Return the last record that what a period left follows from."""
        (last,) = self.connection.execute(
            "SELECT max(seq) FROM ticket WHERE instant >= ? AND instant < ?", (evidence.since, evidence.end)
        ).fetchone()
        of_setup = max(version.seq for version in self.setups.versions if version.since < evidence.end)
        return max(last or 0, of_setup, before.record if before else 0)

    def ledger(self, period: str, metal: str | None) -> CarriedLedger:
        """Return what the statement of a period reads, in one metal.

        Raises WrongUsage for a metal that is not booked or where the book holds nothing yet, SetupRefused for a period
        that is none.
        """
        Ledger(self.connection, metal, self.setups).until(period)
        if self._evidence is None or self._evidence.period != period:
            self._evidence = Evidence(self, self.before(period), period)
        return CarriedLedger(self._evidence, metal)


class Evidence:
    """What one period's statements share in all metals, beginning from what the periods before it left."""

    def __init__(self, chain: Chain, before: Ending | None, period: str) -> None:
        self.chain, self.before, self.period = chain, before, period
        self.connection = chain.connection
        self.since = before.ends if before else FIRST
        self.end = chain.calendar.bounds(period)[1]
        self.periods = (before.periods if before else 0) + 1
        self._shared: dict[str, Any] = {}

    @cached_property
    def measured(self) -> Pass:
        """The period's differences as linear forms."""
        begun = self.before.state if self.before else None
        return propagate(self.connection, self.chain.setups, self.end, self.since, begun, self.tickets)

    @cached_property
    def tickets(self) -> list[TicketOf]:
        """The effective tickets dated in the period."""
        with no_collection():
            return effective_tickets(self.connection, self.end, self.since)

    @cached_property
    def lines(self) -> list[Weighing]:
        """Their lines."""
        state = self.measured.state
        assert state is not None
        return weighings_of(self.tickets, state.lots, self.period)

    @cached_property
    def open_jobs(self) -> dict[int, tuple[str, str, str, int]]:
        """Jobs not done at the period's end."""
        return open_jobs_of(self.connection, self.before.jobs if self.before else (), (self.since, self.end))

    def once(self, name: str, make: Callable[[], Any]) -> Any:
        """Return what is the same in all metals, made when first asked for."""
        if name not in self._shared:
            self._shared[name] = make()
        return self._shared[name]


class CarriedLedger(Ledger):
    """What the statement of one period reads, in one metal, begun from what the periods before it left."""

    def __init__(self, evidence: Evidence, metal: str | None) -> None:
        super().__init__(evidence.connection, metal, evidence.chain.setups)
        self.evidence = evidence
        self.before = evidence.before
        self.own = CarriedMonth(self, evidence.period)

    @cached_property
    def measured(self) -> Pass:
        """The period's differences as linear forms."""
        return self.evidence.measured

    @cached_property
    def periods(self) -> list[str]:
        """Periods with postings, by their beginning."""
        return self.evidence.chain.periods

    @cached_property
    def past(self) -> list[PastMonth]:
        """The months that are looked back on, oldest first."""
        return self.before.months[self.metal] if self.before else []

    def month(self, period: str) -> Month:
        """Return the period's own evidence; that of an earlier one as it is asked for by later reversals."""
        return self.own if period == self.evidence.period else super().month(period)

    def in_metal(self, metal: str) -> Ledger:
        """Return the same in another metal."""
        return CarriedLedger(self.evidence, metal)

    def earlier(self, period: str) -> tuple[Sequence[PastMonth], int]:
        """Return the months that the statement looks back on, and how many come before those."""
        return self.past, self.evidence.periods - 1 - len(self.past)

    @cached_property
    def stock(self) -> LotSums:
        """Content by area and lot at the period's end."""
        return moved(self._stood, self.own.posted.by_lot("place"))

    @cached_property
    def transit(self) -> LotSums:
        """What each area had sent that had not arrived at the period's end, by area and lot."""
        sent = in_metal(self.before.transit, self.index) if self.before else {}
        return moved(sent, self.own.posted.by_lot("transit"))

    @cached_property
    def _stood(self) -> LotSums:
        return in_metal(self.before.stock, self.index) if self.before else {}

    def opening_stock(self, month: Month) -> Mapping[str, int]:
        """Return the stock by area at the period's beginning."""
        return by_area(self._stood)

    def standing(self, month: Month) -> Standing:
        """Return what stands apart at the period's end."""
        evidence = self.evidence
        with month.as_sealed():
            return Standing(
                estimated_of(self.connection, self.stock, self.index, evidence.end), by_area(self.transit),
                with_content(evidence.open_jobs, self.stock),
            )  # fmt: skip

    def dust_openings(self, month: Month) -> Mapping[str, DustOpening]:
        """Return each area's H at the period's beginning."""
        forms = self.before.state["dust"][self.metal] if self.before else {}
        return {
            area.code: DustOpening(self.past[-1].columns(area.code).dust, form_of(forms.get(area.code, [])))
            if self.past else DustOpening(0, {}) for area in month.setup.area
        }  # fmt: skip

    def cumulative_sigma(self, month: Month, areas: Sequence[str]) -> float:
        """Return σ of ΣU + ΣP of one area, or of all together, over twelve months, in ng."""
        area = areas[0] if len(areas) == 1 else PLANT
        whole = [m.columns(area).whole for m in self.past[-(CUMULATIVE_PERIODS - 1) :]]
        whole.append(self.own.whole_covariances(area))
        terms = ((1.0 if not back else 2.0) * c for i, w in enumerate(whole) for back, c in enumerate(w[: i + 1]))
        return sqrt(max(fsum(terms), 0.0))


class CarriedMonth(Month):
    """One period's evidence; of the months before it, what is alive of their rows."""

    ledger: CarriedLedger

    @cached_property
    def lines(self) -> list[Weighing]:
        """Lines of the effective tickets; of a closed period those that were effective when it was closed."""
        evidence = self.ledger.evidence
        if self.close is None:
            return evidence.lines
        found: list[Weighing] = evidence.once("lines", lambda: super(CarriedMonth, self).lines)
        return found

    def columns(self, area: str) -> Columns:
        """Return one area's columns."""
        if area not in self._columns:
            self._columns[area] = super().columns(area)
        return self._columns[area]

    @cached_property
    def _columns(self) -> dict[str, Columns]:
        return {}

    @cached_property
    def alive(self) -> dict[str, list[tuple[Form, Form]]]:
        """By area, U and U + P of the months that are looked back on, oldest first, as far as they are alive."""
        before = self.ledger.before
        rows = before.rows[self.ledger.metal] if before else {}
        found = {area: [(form_of(u), form_of(u if w is None else w)) for u, w in of] for area, of in rows.items()}
        found[PLANT] = [
            ({}, combined((found[area][i][1], 1.0) for area in rows)) for i in range(len(self.ledger.past))
        ]
        return found

    def covariances(self, area: str, earlier: Sequence[object]) -> list[float]:
        """Return the covariances of U with those of the months before it, oldest first, and then its variance."""
        own = self.row(area)
        past = [u for u, _ in self.alive.get(area, [])][len(self.ledger.past) - len(earlier) :]
        none = [0.0] * (len(earlier) - len(past))
        return [*none, *(shared_variance(self.tape, own, row) for row in (*past, own))]

    def whole_covariances(self, area: str) -> list[float]:
        """Return the covariances of U + P, of the plant as well, nearest first, beginning with its variance."""
        areas = [area] if area != PLANT else list(self.rows)
        own = combined((self.whole_row(code), 1.0) for code in areas)
        past = [w for _, w in self.alive.get(area, [])][-(CUMULATIVE_PERIODS - 1) :]
        return [shared_variance(self.tape, own, row) for row in (own, *reversed(past))]


class _Folding:
    """One period in one metal becoming a past one."""

    def __init__(self, ledger: CarriedLedger) -> None:
        self.ledger, self.month, self.metal = ledger, ledger.own, ledger.metal
        self.areas = [area.code for area in self.month.setup.area]
        self.openings = ledger.dust_openings(self.month)
        self.dust = {area: self.month.dust_forms(area, self.openings[area].form).closing for area in self.areas}
        self.looked_back_on = ledger.evidence.periods - look_back(ledger.evidence.periods)

    def months(self) -> list[PastMonth]:
        """Return the months that the next one looks back on."""
        balances = {area: self._balance(area) for area in self.areas}
        balances[PLANT] = Balance(whole=self.month.whole_covariances(PLANT))
        return [*self.ledger.past, PastMonth(self.month.period, balances)][-self.looked_back_on :]

    def _balance(self, area: str) -> Balance:
        month, columns, counted = self.month, self.month.columns(area), self.month.counted(area)
        return Balance(
            columns.unexplained, columns.prior_period, columns.unrated, counted.instant if counted else None,
            month.dust_left(area, self.openings[area].ng),
            month.covariances(area, self.ledger.past)[::-1], month.whole_covariances(area),
        )  # fmt: skip

    def alive(self, flat: Flattened) -> dict[str, Rows]:
        """Return what later months can share of those months' rows."""
        found = {}
        for area in self.areas:
            past = self.month.alive.get(area) or [({}, {})] * len(self.ledger.past)
            rows = [*past, (self.month.row(area), self.month.whole_row(area))][-self.looked_back_on :]
            found[area] = [(flat.alive(u), None if w == u else flat.alive(w)) for u, w in rows]
        return found
