"""Everything a pack is made of, asked of the book once: what other commands print, and what pictures need.

Documents are those of the commands' ``--json``: masses plain decimal grams as text. No heavy library is loaded here.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import nullcontext
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from functools import cached_property
from math import fsum, sqrt
from typing import TYPE_CHECKING, Any, NamedTuple

from ledger.balance.daily.checks import Calibration
from ledger.balance.months.chain import Chain
from ledger.balance.months.month import CUMULATIVE_PERIODS
from ledger.balance.months.statement import reconcile
from ledger.balance.months.trend import trend
from ledger.book import holdings
from ledger.book.before import book_before
from ledger.book.closes import Close, close_of
from ledger.faces import exceptions_page

if TYPE_CHECKING:
    from ledger.audit.inquiry import Inquiry
    from ledger.balance.daily.back_test import BackTest
    from ledger.balance.daily.checks import Chart
    from ledger.balance.daily.settlements import Refiner
    from ledger.balance.months.chain import CarriedLedger
    from ledger.balance.months.kept import PastMonth
    from ledger.book.holdings import AsOf, PlantFacts, Position
    from ledger.book.setups import Setups
    from ledger.plant.setup import Setup

Document = dict[str, Any]

#: Verdicts of areas whose difference wants no cause.
QUIET = frozenset(("within", "not judged"))

#: The plant's areas together, where a figure is asked for by area.
WHOLE_PLANT = ""


class ChainUntil(Chain):
    """The book's months up to and with one: what came later is as if it were not there."""

    def __init__(self, connection: sqlite3.Connection, period: str, progress: Callable[[int], None]) -> None:
        super().__init__(connection, progress=progress)
        self.until = self.calendar.bounds(period)[1]

    @cached_property
    def periods(self) -> list[str]:
        """Periods with postings, by their beginning, none after the pack's."""
        every = Chain(self.connection).periods
        return [code for code in every if self.calendar.bounds(code)[0] < self.until]


class Cumulative(NamedTuple):
    """ΣU + ΣP of the twelve periods up to one, and its σ with all that they share; both in ng."""

    period: str
    ng: int
    sigma_ng: float


@dataclass(frozen=True)
class Material:
    """What a pack of one period shows, in one metal of the book (or gross).

    ``unit``: what masses are printed in; ``start``, ``end``: first instant of the period and first after it, µs since
    1970; ``close``: of the period, None while it is open.

    ``statements``: ``reconcile --json`` by metal: the pack's first, then the other booked ones, gross last.
    ``trend``: ``trend --json`` as of this period. ``months``: the periods that it looks back on, oldest first, this
    one last: ``month.columns(AREA).unexplained``, ``.prior_period`` in ng, ``month.counted(AREA)``.
    ``causes``: ``causes PERIOD --json`` of all areas, None where no area wants one.
    ``ledger``: the period's evidence, with ``ledger.own`` its month (rows in error sources, clean-outs, flows).

    ``positions``: the metal position at the period's end, by metal. ``back_test``, ``refiners``: estimates and what
    came, settlements lot by lot, of all periods up to this one. ``charts``: check weights and standards, all points.
    ``exceptions``: ``exceptions --json`` at the end of the period's last day. The others: ``audit …  --json`` of the
    period, or at its end.
    """

    connection: sqlite3.Connection
    facts: PlantFacts
    setups: Setups
    period: str
    metal: str
    unit: str
    start: int
    end: int
    as_of: AsOf
    close: Close | None
    chain: Chain
    ledger: CarriedLedger
    statements: Mapping[str, Document]
    trend: Document
    months: Sequence[PastMonth | Any]
    causes: Document | None
    positions: Mapping[str, Position]
    back_test: BackTest
    refiners: Sequence[Refiner]
    charts: Sequence[Chart]
    exceptions: Document
    holdings: Document
    owners: Document
    estimated: Document
    differences: Document
    expected: Document
    purity: Document
    rolled: Document
    counts: Document
    numbers: Document
    entries: Document
    changes: Document
    values: Document

    @property
    def statement(self) -> Document:
        """The statement in the pack's metal."""
        return self.statements[self.metal]

    @property
    def setup(self) -> Setup:
        """The set-up in force at the period's end."""
        return self.setups.at(self.end - 1)

    @property
    def areas(self) -> list[str]:
        """The codes of the areas, in the set-up's order."""
        return [area["area"] for area in self.statement["areas"]]

    def name(self, area: str) -> str:
        """Return what people call an area."""
        return next((a.name for a in self.facts.areas if a.code == area), area)

    def day(self, instant: int) -> str:
        """Return the plant's day of an instant, 2026-10-31."""
        return str(self.setups.calendar.day(instant))

    @property
    def price(self) -> Fraction | None:
        """The money of a nanogram at the period's end; None of gross, or without a fixing."""
        return self.ledger.price(self.period)

    @property
    def last_day(self) -> str:
        """The period's last day."""
        return self.day(self.end - 1)

    def causes_of(self, area: str) -> list[Document]:
        """Return the causes that move an area's balance, as they are ranked among all."""
        return [row for row in (self.causes["causes"] if self.causes else ()) if area in row["areas"]]

    def cumulatives(self, area: str = WHOLE_PLANT) -> list[Cumulative]:
        """Return the twelve-month cumulative of an area, or of the plant, at each of ``months``, oldest first.

        The last is what the statement prints. A month that reaches back before the first of ``months`` sums from that.
        """
        codes = self.areas if area == WHOLE_PLANT else [area]
        sums = [sum(_whole(month, code) for code in codes) for month in self.months]
        rows = [self._whole_covariances(month, area) for month in self.months]
        found = []
        for last, month in enumerate(self.months):
            first = max(0, last - CUMULATIVE_PERIODS + 1)
            terms = [
                (1.0 if not back else 2.0) * c
                for i in range(first, last + 1)
                for back, c in enumerate(rows[i][: i - first + 1])
            ]
            found.append(Cumulative(month.period, sum(sums[first : last + 1]), sqrt(max(fsum(terms), 0.0))))
        return found

    def _whole_covariances(self, month: Any, area: str) -> Sequence[float]:
        own = self.ledger.own
        found: Sequence[float] = own.whole_covariances(area) if month is own else month.columns(area).whole
        return found


def _whole(month: Any, area: str) -> int:
    columns = month.columns(area)
    return int(columns.unexplained + columns.prior_period)


def gather(
    connection: sqlite3.Connection, period: str, metal: str, unit: str, progress: Callable[[int], None] = lambda _: None
) -> Material:
    """Return everything that a pack shows; ``progress`` is told of each past month that has to be derived.

    Raises SetupRefused for a period that is none, WrongUsage where the book holds nothing yet.
    """
    from ledger.audit.inquiry import Inquiry

    chain = ChainUntil(connection, period, progress)
    facts, inquiry = holdings.plant_facts(connection), Inquiry.of(connection, metal)
    start, end = chain.calendar.bounds(period)
    order = [metal, *(m for m in (*facts.metals, "gross") if m != metal)]
    statements = {of: reconcile(connection, period, of, chain) for of in order}
    looked_back = trend(connection, metal, None, chain)
    ledger = chain.ledger(period, metal)
    return Material(
        connection=connection,
        facts=facts,
        setups=chain.setups,
        period=period,
        metal=metal,
        unit=unit,
        start=start,
        end=end,
        as_of=holdings.as_of(connection),
        close=close_of(connection, period),
        chain=chain,
        ledger=ledger,
        statements=statements,
        trend=looked_back,
        months=[*ledger.past, ledger.own],
        causes=_causes(connection, period, metal, statements, chain),
        positions={of: holdings.position(connection, of, end - 1) for of in order},
        **_daily(connection, chain, inquiry, end),
        **_audit(inquiry, period, start, end),
    )


def _causes(
    connection: sqlite3.Connection, period: str, metal: str, statements: Mapping[str, Document], chain: Chain
) -> Document | None:
    """Return the ranked causes where an area wants one, in whatever metal; of a closed period as it was closed."""
    if all(area["verdict"] in QUIET for statement in statements.values() for area in statement["areas"]):
        return None
    from ledger.causes.answer import examined

    close = close_of(connection, period)
    with nullcontext() if close is None else book_before(connection, close.seq):
        return examined(connection, period, None, metal, chain).document


def _daily(connection: sqlite3.Connection, chain: Chain, inquiry: Inquiry, end: int) -> dict[str, Any]:
    """Return what the daily lists say at the period's end: exceptions, estimates and what came, settlements, checks."""
    from ledger.balance.daily.checks import charts
    from ledger.balance.daily.exceptions import ASSAY_DAYS, CHECK_DAYS, day_of
    from ledger.balance.daily.settlements import settlements

    limits = exceptions_page.Limits(ASSAY_DAYS, CHECK_DAYS)
    day = day_of(connection, chain.setups, chain.calendar.day(end - 1))
    found = exceptions_page.gather(connection, inquiry.facts, chain.setups, day, limits, inquiry.metal)
    return {
        "exceptions": exceptions_page.document(found, inquiry.facts, inquiry.metal),
        "back_test": _back_test(inquiry, end),
        "refiners": settlements(connection, inquiry.index, until=end),
        "charts": list(_charts_until(charts(connection, chain.setups), chain.calendar.text(end - 1))),
    }


def _charts_until(charts: Sequence[Chart], last: str) -> Iterator[Chart]:
    """Yield the charts as they stood at an instant, as tickets write it: a later calibration was not known then."""
    for chart in charts:
        points = [p for p in chart.points if p.at <= last]
        known = [chart.calibration.day.isoformat()] if chart.calibration.day else []
        calibrated = max((at for at in (*known, *(p.at for p in points if p.calibrated)) if at <= last), default="")
        if points:
            day = chart.calibration if calibrated[:10] in known else Calibration(_day(calibrated), None)
            then = tuple(replace(p, current=p.at > calibrated) for p in points)
            yield replace(chart, calibration=day, points=then)


def _day(at: str) -> date | None:
    return date.fromisoformat(at[:10]) if at else None


def _back_test(inquiry: Inquiry, end: int) -> BackTest:
    """Return the streams' estimates against what came before the period's end, and what was open then."""
    from ledger.balance.daily.back_test import BackTest, StreamTest, back_test
    from ledger.balance.daily.estimates import open_estimates

    held = holdings.stock(inquiry.connection, inquiry.facts, None, end - 1)
    opened = open_estimates(inquiry.connection, [(h.area, h.described.lot, h.amounts) for h in held], end - 1)
    whole = back_test(inquiry.connection, inquiry.metals, inquiry.metal, opened)
    streams = [StreamTest(s.stream, [p for p in s.pairs if p.instant < end], s.open) for s in whole.streams]
    return BackTest([s for s in streams if s.pairs or s.open], whole.left_out)


def _audit(inquiry: Inquiry, period: str, start: int, end: int) -> dict[str, Any]:
    """Return an auditor's answers, of the period or at its end."""
    from ledger.audit.changes import changes_document
    from ledger.audit.counts import counts_document
    from ledger.audit.differences import differences_document
    from ledger.audit.entries import entries_document
    from ledger.audit.estimated import estimated_document
    from ledger.audit.expected import expected_document
    from ledger.audit.holdings import holdings_document, owners_document
    from ledger.audit.numbers import numbers_document
    from ledger.audit.purity import purity_document
    from ledger.audit.rolling import rolled_forward
    from ledger.audit.values import value_document

    return {
        "holdings": holdings_document(inquiry, end - 1),
        "owners": owners_document(inquiry, end - 1),
        "estimated": estimated_document(inquiry, end - 1),
        "differences": differences_document(inquiry, period, None),
        "expected": expected_document(inquiry, period, None),
        "purity": purity_document(inquiry, end - 1, None),
        "rolled": rolled_forward(inquiry, end - 1),
        "counts": counts_document(inquiry, period, None),
        "numbers": numbers_document(inquiry, period),
        "entries": entries_document(inquiry, period),
        "changes": changes_document(inquiry),
        "values": value_document(inquiry, (start, end - 1)),
    }
