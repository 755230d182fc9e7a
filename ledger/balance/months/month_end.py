"""The month-end statement: the main job. Every area's columns, σ, verdict and reasons, and the plant beside them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from fractions import Fraction

from ledger.balance.flows.columns import Columns, received_and_issued, summed
from ledger.balance.flows.evidence import (
    NOT_OF_THE_PERIOD,
    Ended,
    OpenJob,
    singles,
)
from ledger.balance.judging.dust_truth import DustTruth, dust_truths, remarks
from ledger.balance.judging.running_tests import area_limits
from ledger.balance.judging.series import judged_in_sequence
from ledger.balance.judging.verdict import Judgement, Levels, judge
from ledger.balance.measurement.budget import budget
from ledger.balance.measurement.worth import Sigma
from ledger.balance.months.month import CUMULATIVE_PERIODS, Ledger, Month
from ledger.plant.site import Area
from ledger.quantities.mass import mass_text


@dataclass(frozen=True)
class AreaStatement:
    """One area's statement in one metal."""

    area: Area
    columns: Columns
    dust: DustTruth
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
    months, before = ledger.earlier(period)
    month = ledger.month(period)
    price = ledger.price(period)
    stands = ledger.standing(month)
    dust = dust_truths(month, ledger.dust_openings(month))
    for area in month.setup.area:
        columns, sigma = month.columns(area.code), month.sigma(area.code)
        counted, levels = month.counted(area.code), month.levels(area, ledger.index)
        judgement = judge(
            columns.unexplained, sigma, levels, counted=counted is not None, rated=not columns.unrated,
            judged=area.gross or ledger.index != 0,
        )  # fmt: skip
        judgement = judged_in_sequence(judgement, [*months, month], area.code, area_limits(month.setup), before)
        reasons = [*judgement.reasons, *_mend(month, area.code, judgement.coarse),
                   *_largest(month, area.code, columns, judgement.verdict),
                   *(remarks(month, dust[area.code], levels.trivial) if judgement.verdict != "not judged" else ()),
                   *_remarks(ledger, month, area.code, columns, counted)]  # fmt: skip
        cumulative = columns.unexplained + columns.prior_period
        for earlier in months[-(CUMULATIVE_PERIODS - 1) :]:
            past = earlier.columns(area.code)
            cumulative += past.unexplained + past.prior_period
        yield AreaStatement(
            area, columns, dust[area.code], sigma, levels, replace(judgement, reasons=reasons),
            ledger.calendar.text(counted.instant) if counted else None, stands.estimated.get(area.code, 0),
            stands.in_transit.get(area.code, 0), [job for job in stands.open_jobs if job.area == area.code], cumulative,
            ledger.cumulative_sigma(month, [area.code]), None if price is None else columns.unexplained * price,
        )  # fmt: skip


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
    worth_naming = _WORTH_NAMING * abs(unexplained)
    large = month.posted.of_at_least(worth_naming, area, normal)
    for single in singles(month.ledger.connection, month.period, month.ledger.metal, area, large):
        if single.origin not in NOT_OF_THE_PERIOD:
            beyond = single.ng - (normal.get(single.seq, 0) if single.origin == "work" else 0)
            if beyond * unexplained > 0 and abs(beyond) >= worth_naming:
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
