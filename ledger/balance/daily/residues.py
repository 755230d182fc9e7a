"""What is in the drums: sweeps and other dirty lots on hand and under way, what their estimates have been worth, and
how much of it a lender can count on.

Two sorts of lots count, and nothing else: what was *measured*, and what is an *estimate* of a stream whose earlier
estimates were tested by what then came. Of both there is a lower bound that holds with 95 % (one-sided); an estimate of
a stream without such a history counts as nothing. Segregated lots of others are left out.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum, sqrt
from statistics import NormalDist
from typing import Final

from ledger.balance.daily.back_test import Stream, StreamTest, back_test, streams_of
from ledger.balance.daily.estimates import OpenEstimate, open_estimates
from ledger.balance.daily.exceptions import sent_now
from ledger.balance.daily.inference import student_t
from ledger.balance.measurement.forms import Form, combined
from ledger.balance.measurement.propagation import standings
from ledger.balance.measurement.standings import Standings
from ledger.book import holdings
from ledger.book.amounts import Amounts
from ledger.book.setups import Setups

#: Probability with which what is there is at least the lower bound.
ONE_SIDED: Final = 0.95
_ALL: Final = 2**62
_BEYOND: Final = NormalDist().inv_cdf(ONE_SIDED)


@dataclass(frozen=True, slots=True)
class Residue:
    """One lot in a drum: where it is, its content of one metal in ng, whether an estimate, how old, of which streams.

    ``days``: in the plant's days up to the book's last ticket; of an estimate the estimate's own age.
    """

    area: str
    lot: str
    lot_class: str | None
    gross: int
    content: int
    estimated: bool
    days: int
    streams: tuple[Stream, ...]


@dataclass(frozen=True, slots=True)
class Proposal:
    """What a stream's history proposes for its next lot: estimate × ``factor``, ± ``sd`` of the estimate so corrected.

    ``factor`` is the mean ratio where a bias is shown, else 1. ``sd`` relative: of one new lot, with the uncertainty of
    the mean, s·√(1 + 1/n)/r̄; without a correction the root mean square of (ratio − 1), which has the bias in it.
    """

    factor: float
    sd: float


@dataclass(frozen=True, slots=True)
class StreamBound:
    """One stream's open estimates, ng: as booked, as its history makes of them, and their lower bound.

    None of the latter two where there are fewer than two pairs.
    """

    test: StreamTest
    booked: int
    expected: float | None
    lower: float | None
    proposal: Proposal | None


@dataclass(frozen=True, slots=True)
class Drums:
    """All residues of one metal, oldest first, with bounds in ng.

    ``measured``: Σ of measured lots, ``measured_sigma`` its σ, ``measured_lower`` the bound. ``without_history``:
    estimates that count as nothing.
    """

    metal: str
    residues: tuple[Residue, ...]
    streams: tuple[StreamBound, ...]
    measured: int
    measured_sigma: float
    without_history: int
    left_out: int

    @property
    def booked(self) -> int:
        """All of it as the book has it."""
        return sum(residue.content for residue in self.residues)

    @property
    def measured_lower(self) -> int:
        """What measured lots hold at least: Σ − 1.645 σ, never below nothing."""
        return max(0, int(self.measured - _BEYOND * self.measured_sigma))

    @property
    def history_lower(self) -> int:
        """What tested streams' estimates hold at least; bounds of streams are added, which is on the careful side."""
        return sum(int(bound.lower) for bound in self.streams if bound.lower is not None)

    @property
    def lower(self) -> int:
        """The lower bound of both together."""
        return self.measured_lower + self.history_lower


def drums(connection: sqlite3.Connection, setups: Setups, metal: str) -> Drums:
    """Return what is in the drums of one metal; gross is weighed and has no estimates."""
    facts = holdings.plant_facts(connection)
    metals = ("gross", *facts.metals)
    index = metals.index(metal)
    places = [(h.area, h.described.lot, h.amounts) for h in holdings.stock(connection, facts)]
    places += [("in transit", s.lot, s.amounts) for s in sent_now(connection)]
    others = {number for (number,) in connection.execute("SELECT number FROM lot WHERE owner IS NOT NULL")}
    places = [place for place in places if place[1] not in others]
    estimates = open_estimates(connection, places)
    tested = back_test(connection, metals, metal, estimates)
    measured = _measured(connection, places, estimates)
    bounds = tuple(_bound(test, index) for test in tested.streams)
    return Drums(
        metal, _residues(connection, setups, index, estimates, measured), bounds,
        sum(amounts[index] for _, _, _, amounts, _ in measured),
        _sigma(connection, setups, [(area, lot) for area, lot, *_ in measured], index),
        sum(bound.booked for bound in bounds if bound.lower is None), tested.left_out,
    )  # fmt: skip


_SINCE = """
    SELECT lot.number, lot.class, coalesce(max(CASE WHEN t.kind IN ('assay') THEN t.instant END), min(t.instant))
    FROM lot JOIN line AS l ON l.lot = lot.id JOIN ticket AS t ON t.seq = l.ticket
    WHERE lot.kind = 'lot' AND (lot.class IN (SELECT value FROM json_each(?)) OR EXISTS (
        SELECT 1 FROM line AS s WHERE s.lot = lot.id AND s.side = 'sweep'))
    GROUP BY lot.id"""


def _measured(
    connection: sqlite3.Connection, places: Sequence[tuple[str, str, Amounts]], estimates: Sequence[OpenEstimate]
) -> list[tuple[str, str, str | None, Amounts, int]]:
    """Return the residues that rest on no estimate: swept up, or of a dirty class; with the instant of their assay."""
    import json

    row = connection.execute("SELECT document FROM setup_version ORDER BY since DESC, seq DESC LIMIT 1").fetchone()
    dirty = [c["code"] for c in json.loads(row[0]).get("class", ()) if c.get("dirty")]
    residues = {number: (class_, since) for number, class_, since in connection.execute(_SINCE, (json.dumps(dirty),))}
    guessed = {(e.area, e.lot) for e in estimates}
    return [
        (area, lot, residues[lot][0], amounts, residues[lot][1])
        for area, lot, amounts in places
        if lot in residues and (area, lot) not in guessed and any(amounts)
    ]


def _residues(
    connection: sqlite3.Connection, setups: Setups, index: int, estimates: Sequence[OpenEstimate],
    measured: Sequence[tuple[str, str, str | None, Amounts, int]],
) -> tuple[Residue, ...]:  # fmt: skip
    (last,) = connection.execute("SELECT max(instant) FROM ticket").fetchone()
    calendar = setups.calendar

    def days(since: int) -> int:
        return (calendar.day(last) - calendar.day(since)).days

    found = [
        Residue(e.area, e.lot, e.lot_class, e.amounts[0], e.content(index), True, days(e.since),
                tuple(streams_of(e.origins, e.lot_class)))
        for e in estimates
    ]  # fmt: skip
    found += [
        Residue(area, lot, class_, amounts[0], amounts[index], False, days(since), ())
        for area, lot, class_, amounts, since in measured
    ]
    return tuple(sorted(found, key=lambda r: (-r.days, r.area, r.lot)))


def _sigma(connection: sqlite3.Connection, setups: Setups, measured: Sequence[tuple[str, str]], index: int) -> float:
    """Return σ of the sum of what was measured: shared scales and laboratories count as often as they act."""
    if not measured:
        return 0.0
    state = standings(connection, setups, _ALL)
    ids = {lot.number: id_ for id_, lot in state.lots.items()}
    forms = [(_form(state, area, ids[lot], index), 1.0) for area, lot in measured]
    return state.tape.sigma(combined(forms))


def _form(state: Standings, area: str, lot: int, index: int) -> Form:
    if area != "in transit":
        return state.at(area, lot).forms[index]
    sent = [content.forms[index] for (_, of), (_, content, _) in state.sent.items() if of == lot]
    return combined((form, 1.0) for form in sent)


# ---- history ----------------------------------------------------------------------------------------------------


def proposal(test: StreamTest) -> Proposal | None:
    """Return what a stream's history proposes for its next lot; None for fewer than two pairs."""
    ratio = test.ratio
    if ratio is None or ratio.sd is None:
        return None
    if test.bias in ("below", "above"):
        return Proposal(ratio.mean, ratio.sd * sqrt(1 + 1 / ratio.n) / ratio.mean)
    return Proposal(1.0, sqrt(fsum((p.ratio - 1) ** 2 for p in test.pairs) / ratio.n))


def _bound(test: StreamTest, index: int) -> StreamBound:
    """Return a stream's open estimates with their lower prediction bound.

    Ratios brought ÷ estimated are taken as independent draws of one normal distribution. Of open estimates eᵢ, E in
    all, Σ eᵢrᵢ is then predicted as r̄E with the variance s²(Σeᵢ² + E²/n), and Student's t of n − 1 degrees of freedom;
    the bound is never above what is booked, nor below nothing.
    """
    booked = test.open_content(index)
    ratio = test.ratio
    if ratio is None or ratio.sd is None:
        return StreamBound(test, booked, None, None, None)
    parts = [StreamTest(test.stream, open=[one]).open_content(index) for one in test.open]
    whole = fsum(parts)
    spread = ratio.sd * sqrt(fsum(e * e for e in parts) + whole**2 / ratio.n)
    t = student_t(ratio.n - 1, 2 * ONE_SIDED - 1)
    lower = min(float(booked), max(0.0, ratio.mean * whole - t * spread))
    return StreamBound(test, booked, ratio.mean * whole, lower, proposal(test))


