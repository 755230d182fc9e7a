"""Check weights on scales and standards through assays: charts that keep the measurement model honest.

Of a scale masses are in nanograms, of a method finenesses as absolute shares; all exact, as read. The limits are those
of the set-up in force at each check: of a scale the standard deviation of one reading (repeatability and rounding), of
a method its repeatability over the number of determinations; a standard is taken as homogeneous, and what the
laboratory shares (its bias) is what the chart is there to show.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from fractions import Fraction
from math import sqrt
from typing import Any

from ledger.book.holdings import TICKET_STANDS
from ledger.book.posting.assaying import mean_fineness
from ledger.book.setups import Setups
from ledger.plant.measuring import Method
from ledger.plant.setup import Setup
from ledger.quantities.fineness import parse_fineness
from ledger.quantities.mass import parse_mass
from ledger.refusals import QuantityRefused, WrongUsage


@dataclass(frozen=True, slots=True)
class Point:
    """One check: what the standard is certified to be, what was found, and σ of the finding.

    ``current``: made after the last calibration, so that it tells of the instrument as it is.
    """

    ticket: str
    at: str
    certified: Fraction
    found: Fraction
    sd: float
    calibrated: bool
    current: bool

    @property
    def off(self) -> Fraction:
        """Found − certified: + where the instrument reads high."""
        return self.found - self.certified


@dataclass(frozen=True, slots=True)
class Calibration:
    """When a scale was last calibrated, by the set-up or a check, and the last day for which that holds."""

    day: date | None
    due: date | None


@dataclass(frozen=True, slots=True)
class Chart:
    """All checks of one instrument against one certified value, by date; ``metal`` of an assay standard only.

    ``shared_sd``: σ of the error that the set-up allows all its findings to share: a scale's sensitivity, a bias.
    """

    code: str
    is_scale: bool
    metal: str | None
    certified: Fraction
    warn: float
    act: float
    shared_sd: float
    calibration: Calibration
    points: tuple[Point, ...]

    def mark(self, point: Point) -> str:
        """Return "act" or "warn" where a point lies beyond that level, else nothing."""
        return mark_of(point.off, point.sd, self.warn, self.act)

    @property
    def current(self) -> list[Point]:
        """The points since the last calibration."""
        return [p for p in self.points if p.current]

    @property
    def mean(self) -> float | None:
        """Mean of found − certified since the last calibration; None without a point."""
        current = self.current
        return float(sum((p.off for p in current), Fraction(0)) / len(current)) if current else None

    @property
    def mean_limit(self) -> float | None:
        """How far chance takes the mean: act · σ/√n, of readings with no error in common."""
        current = self.current
        return self.act * sqrt(sum(p.sd**2 for p in current)) / len(current) if current else None

    @property
    def drifting(self) -> bool:
        """Whether two or more readings are off together by more than repeatability explains: a shared error."""
        mean, limit = self.mean, self.mean_limit
        return mean is not None and limit is not None and len(self.current) > 1 and abs(mean) > limit

    @property
    def beyond_shared(self) -> bool:
        """Whether that shared error is beyond the action level of what the set-up allows for it."""
        return self.drifting and abs(self.mean or 0.0) > self.act * self.shared_sd


def mark_of(off: Fraction, sd: float, warn: float, act: float) -> str:
    """Return "act" or "warn" where a deviation lies beyond that many σ, else nothing."""
    size = abs(float(off))
    return "act" if size > act * sd else "warn" if size > warn * sd else ""


@dataclass(frozen=True, slots=True)
class Check:
    """One checkweigh ticket as it was recorded."""

    ticket: str
    instant: int
    scale: str | None
    method: str | None
    calibrated: bool
    body: dict[str, Any]


_CHECKS = f"""
    SELECT t.number, t.instant, c.scale, c.method, c.calibrated, record.body FROM checked AS c
    JOIN ticket AS t ON t.seq = c.ticket JOIN record ON record.seq = c.ticket
    WHERE {{where}} AND {TICKET_STANDS.format('t')} ORDER BY t.instant {{way}}, t.seq {{way}} {{limit}}"""


def checks(connection: sqlite3.Connection, code: str | None = None) -> list[Check]:
    """Return the checks that stand, by date: of one scale or method, or of all."""
    sql = _CHECKS.format(where="(?1 IS NULL OR c.scale = ?1 OR c.method = ?1)", way="", limit="")
    return [_check(row) for row in connection.execute(sql, (code,))]


def last_check(connection: sqlite3.Connection, scale: str, until: int) -> Check | None:
    """Return the last check of a scale up to an instant, or None."""
    sql = _CHECKS.format(where="c.scale = ? AND t.instant <= ?", way="DESC", limit="LIMIT 1")
    row = connection.execute(sql, (scale, until)).fetchone()
    return _check(row) if row else None


def _check(row: tuple[Any, ...]) -> Check:
    return Check(row[0], row[1], row[2], row[3], bool(row[4]), json.loads(row[5]))


def findings(check: Check, setup: Setup) -> Iterator[tuple[str | None, Fraction, Fraction, float]]:
    """Yield metal (None of a scale), certified value, what was found, and σ of the finding.

    Yields nothing for an instrument the set-up does not have, and for a standard of another sort than the instrument.
    """
    standard = check.body["standard"]
    if check.scale is not None:
        scale, certified = setup.scales.get(check.scale), _mass(standard)
        if scale is not None and certified is not None:
            yield None, certified, Fraction(parse_mass(check.body["reading"])), scale.weighing_sd_ng
        return
    method = setup.methods.get(check.method or "")
    for metal, samples in check.body["results"].items():
        share = _fineness(standard, metal, setup.plant.metals[0])
        if method is not None and share is not None:
            yield metal, share, mean_fineness(samples, "results"), repeatability_of(method, samples)


def _mass(text: object) -> Fraction | None:
    try:
        return Fraction(parse_mass(text)) if isinstance(text, str) else None
    except QuantityRefused:
        return None


def _fineness(standard: object, metal: str, first: str) -> Fraction | None:
    """Return what a standard is certified to hold of a metal; a bare karat or per mille is of the first one."""
    text = standard.get(metal) if isinstance(standard, dict) else standard if metal == first else None
    try:
        return parse_fineness(text) if isinstance(text, str) else None
    except QuantityRefused:
        return None


def repeatability_of(method: Method, samples: Sequence[Sequence[str]]) -> float:
    """Return σ of the mean of sample means, as fineness: the method's repeatability over the determinations."""
    share = sum(Fraction(1, len(replicates)) for replicates in samples) / len(samples) ** 2
    return float(method.repeatability) * sqrt(share)


def calibration(setup: Setup, code: str, checked: date | None) -> Calibration:
    """Return a scale's calibration: the set-up's, or a later check upon which it was calibrated."""
    scale = setup.scales.get(code)
    known = [day for day in (scale.calibrated if scale else None, checked) if day is not None]
    day = max(known, default=None)
    every = scale.calibrate_every if scale else None
    return Calibration(day, day + timedelta(every) if day is not None and every is not None else None)


@dataclass(slots=True)
class _Gathering:
    is_scale: bool
    points: list[Point] = field(default_factory=list)


def charts(connection: sqlite3.Connection, setups: Setups, code: str | None = None) -> list[Chart]:
    """Return a chart for each instrument and certified value that was ever checked, scales first, in set-up order.

    Raises WrongUsage for a code that is neither a scale nor a method.
    """
    latest, calendar = setups.latest, setups.calendar
    if code is not None and code not in latest.scales and code not in latest.methods:
        known = ", ".join((*latest.scales, *latest.methods))
        raise WrongUsage(f"there is no scale or method {code[:64]!r}", f"the set-up has {known}", field="CODE")
    found = checks(connection, code)
    upon = {c.scale or c.method: c.instant for c in found if c.calibrated}
    gathered: dict[tuple[str, str | None, Fraction], _Gathering] = {}
    for check in found:
        own = check.scale or check.method or ""
        since = _calibrated_since(setups, latest, own, upon.get(own))
        for metal, certified, value, sd in findings(check, setups.at(check.instant)):
            into = gathered.setdefault((own, metal, certified), _Gathering(check.scale is not None))
            into.points.append(Point(check.ticket, calendar.text(check.instant), certified, value, sd, check.calibrated,
                                     check.instant > since))  # fmt: skip
    order = {key: place for place, key in enumerate((*latest.scales, *latest.methods))}
    levels = float(latest.plant.warn), float(latest.plant.act)
    made = [
        Chart(own, g.is_scale, metal, certified, *levels, _shared_sd(latest, own, g.is_scale, certified),
              _calibration_of(setups, own, upon.get(own)), tuple(g.points))
        for (own, metal, certified), g in gathered.items()
    ]  # fmt: skip
    return sorted(made, key=lambda c: (order.get(c.code, len(order)), c.metal or "", c.certified))


def _shared_sd(setup: Setup, code: str, is_scale: bool, certified: Fraction) -> float:
    if is_scale:
        return float(setup.scales[code].sensitivity * certified) if code in setup.scales else 0.0
    return float(setup.methods[code].bias) if code in setup.methods else 0.0


def _calibration_of(setups: Setups, code: str, upon: int | None) -> Calibration:
    return calibration(setups.latest, code, None if upon is None else setups.calendar.day(upon))


def _calibrated_since(setups: Setups, latest: Setup, code: str, upon: int | None) -> int:
    """Return the instant after which checks tell of the instrument as it is now.

    The check upon which it was calibrated found it as it was before.
    """
    scale = latest.scales.get(code)
    by_setup = None if scale is None or scale.calibrated is None else setups.calendar.day_start(scale.calibrated) - 1
    return max((x for x in (by_setup, upon) if x is not None), default=-(2**62))
