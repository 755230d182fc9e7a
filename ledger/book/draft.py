"""A ticket being posted: everything it would change, kept apart from the book until it is whole and balanced.

Posting modules read the book through the draft, so that a later line of a ticket sees what an earlier one did, and
nothing reaches the book when a line is refused.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from functools import cached_property
from typing import NamedTuple

from ledger.book.amounts import Amounts, Composition, content, minus, negative, plus
from ledger.book.closes import NEVER
from ledger.book.hindsight import (
    Point,
    amounts_before,
    areas_of,
    corrected_in_turn,
    difference_before,
    events_after,
    found_later,
    handled_in,
    later,
    melt_at,
    valuation_at,
)
from ledger.book.lots import Basis, Determination, JobState, Lot, LotKind, Standing, Valuation
from ledger.book.past import Missed, OnTheWay, Posting
from ledger.book.shelf import Shelf
from ledger.plant.calendar import Calendar
from ledger.plant.setup import Setup


class LineRow(NamedTuple):
    """What one line said and did: the evidence that differences are explained from.

    ``recorded`` is R, ``content`` what was weighed (W, O, C, A or M), ``given`` the other party's figure (V or B).
    ``settles`` is 1 where the line emptied or counted the lot, whatever was recorded before.
    """

    ticket: int
    number: int
    side: str
    area: str
    lot: int
    instant: int
    determination: int | None
    scale: str | None
    weighed_ng: int | None
    settles: int
    recorded: Sequence[int] | None
    content: Sequence[int]
    given: Sequence[int] | None


class SheetRow(NamedTuple):
    """One count sheet."""

    ticket: int
    area: str
    count_id: str
    sheet: str | None
    team: str
    ended: int
    spot: int
    take_on: int


@dataclass(slots=True)
class Numbering:
    """The next free ids of the book's tables; a draft takes from a copy, so that a refused ticket uses none."""

    lot: int = 1
    determination: int = 1


@dataclass(frozen=True, slots=True)
class Occasion:
    """When and under which set-up a ticket counts; dated before ``closed_until`` it counts in the first open period."""

    seq: int
    number: str
    instant: int
    period: str
    day: date
    setup: Setup
    calendar: Calendar
    corrects: int | None = None
    closed_until: int = NEVER


class Draft:
    """One ticket's effects. ``metals`` is the book's order, "gross" first."""

    def __init__(self, occasion: Occasion, metals: tuple[str, ...], shelf: Shelf, numbering: Numbering) -> None:
        self.occasion = occasion
        self.setup = occasion.setup
        self.metals = metals
        self.size = len(metals)
        self.shelf = shelf
        self.numbering = Numbering(numbering.lot, numbering.determination)
        self.postings: list[Posting] = []
        self.lines: list[LineRow] = []
        self.lots: dict[str, Lot] = {}
        self.new_lots: list[Lot] = []
        self.determinations: list[Determination] = []
        self.derivations: list[tuple[int, int, Fraction]] = []
        self.valuations: list[tuple[int, Valuation]] = []
        self.parents: dict[tuple[int, int], None] = {}
        self.flags: list[tuple[int, str, str]] = []
        self.sheet: SheetRow | None = None
        self.opened: str | None = None
        self.void_numbers: list[str] = []
        self.job: int | None = None
        self.job_states: list[JobState] = []
        self.sent: list[OnTheWay] = []
        self.arrived: list[OnTheWay] = []
        self.checked: tuple[str | None, str | None, bool] | None = None
        self.missed: list[Missed] = []
        self.found: list[Missed] = []
        self._stood: dict[tuple[str, int], Amounts] = {}
        self._changes: dict[tuple[str, int], Amounts] = {}
        self._then: dict[str, Lot | None] = {}

    # Reading the book as this ticket sees it.

    def lot(self, number: str) -> Lot | None:
        """Return the lot of that number as it stands after the lines so far."""
        if number in self.lots:
            return self.lots[number]
        return self.shelf.lot(number) if self.occasion.corrects is None else self._lot_then(number)

    def _lot_then(self, number: str) -> Lot | None:
        """Return a lot as it stood at a correction's place in the book; undetermined where it is yet to be made."""
        if number not in self._then:
            lot = self.shelf.lot(number)
            then = valuation_at(self.shelf, lot.id, self.point) if lot else None
            if lot is not None and (then is not None or lot.id in self._made_wrongly):
                lot = replace(lot, valuation=then or Valuation(None))
            self._then[number] = lot
        return self._then[number]

    @cached_property
    def _made_wrongly(self) -> set[int]:
        """The lots that the corrected ticket had made or valued."""
        return {lot for ticket in self._chain for lot in self.shelf.lots_valued_by(ticket)}

    @cached_property
    def _chain(self) -> list[int]:
        corrects = self.occasion.corrects
        return [] if corrects is None else corrected_in_turn(self.shelf, corrects)

    @cached_property
    def point(self) -> Point:
        """The ticket's place in the book: a correction's is that of the first ticket it corrects, at its own date."""
        return Point(self.occasion.instant, self._chain[-1] if self._chain else self.occasion.seq)

    def melt(self, determination: int) -> list[Lot]:
        """Return the lots that share a determination; for a correction, those that did at its place in the book."""
        if self.occasion.corrects is None:
            return self.shelf.melt(determination)
        numbers = [self.shelf.lot_by_id(lot).number for lot in melt_at(self.shelf, determination, self.point)]
        return [lot for lot in map(self.lot, numbers) if lot is not None]

    def amounts(self, area: str, lot: int) -> Amounts:
        """Return what is recorded of the lot in the area after the lines so far; never change it in place."""
        key = (area, lot)
        if key not in self._stood:
            self._stood[key] = self._before(area, lot)
        change = self._changes.get(key)
        return self._stood[key] if change is None else plus(self._stood[key], change)

    def _before(self, area: str, lot: int) -> Amounts:
        if self.occasion.corrects is not None:
            return amounts_before(self.shelf, area, lot, self.point, self._chain, self.metals)
        standing = self.shelf.standing(area, lot)
        return list(standing.amounts) if standing else [0] * self.size

    def job_state(self, lot: int) -> JobState | None:
        """Return where a job stands after this ticket so far; None before its first ticket."""
        own = [state for state in self.job_states if state.lot == lot]
        return own[-1] if own else self.shelf.job_state(lot)

    def places(self, lot: int) -> list[Standing]:
        """Return where the lot stands; for a correction, where it stood at the correction's date."""
        o = self.occasion
        if o.corrects is not None:
            areas = areas_of(self.shelf, lot)
            stood = [Standing(area, lot, self._before(area, lot), o.instant, "") for area in areas]
            return [standing for standing in stood if standing.on_hand]
        return self.shelf.places(lot)

    def on_hand(self, area: str) -> list[tuple[int, Amounts]]:
        """Return (lot, amounts) of what stands in an area; for a correction, of what stood at its place in the book."""
        o = self.occasion
        if o.corrects is None:
            stands = [s for s in self.shelf.on_hand(area) if s.last_instant <= o.instant]
            return [(s.lot, self.amounts(area, s.lot)) for s in stands]
        stood = [(lot, self.amounts(area, lot)) for lot in handled_in(self.shelf, area)]
        return [(lot, amounts) for lot, amounts in stood if any(amounts)]

    def miss(self, area: str, lot: int, amounts: Amounts) -> None:
        """Keep a lot as missed, unless, seen from a correction, a later ticket has found it."""
        if self.occasion.corrects is None or not found_later(self.shelf, area, lot, self.point):
            self.missed.append(Missed(area, lot, list(amounts), self.occasion.seq))

    def missed_places(self, lot: int) -> list[Missed]:
        """Return where the lot is missed, and not found by an earlier line; a correction sees earlier counts only."""
        missed = [m for m in self.shelf.missed(lot) if m not in self.found]
        if self.occasion.corrects is None:
            return missed
        return [m for m in missed if not later(self.shelf, m.ticket, self.point)]

    def open_difference(self, area: str, metal: str) -> int:
        """Return what stands open on an area's difference; for a correction, what stood at its place in the book."""
        if self.occasion.corrects is None:
            return self.shelf.balance("difference", metal, area=area)
        return difference_before(self.shelf, area, metal, self.point, self._chain)

    def touched(self) -> list[tuple[str, int]]:
        """Return the (area, lot) pairs this ticket speaks of, in order."""
        return list(dict.fromkeys((line.area, line.lot) for line in self.lines))

    @property
    def day(self) -> date:
        """The plant day the ticket counts on."""
        return self.occasion.day

    def calibrated_day(self, scale: str) -> date | None:
        """Return the plant day on which a check last found the scale calibrated anew, by the ticket's date."""
        instant = self.shelf.calibrated_on(scale, self.occasion.instant)
        return None if instant is None else self.occasion.calendar.day(instant)

    def period_of(self, ticket: int) -> str:
        """Return the period of an earlier ticket, by its place in the book."""
        return self.shelf.period_of(ticket)

    # Writing.

    def post(
        self, class_: str, amounts: Sequence[int], *, line: int = 0, area: str | None = None, lot: int | None = None,
        party: str | None = None, terms: str | None = None, cause: str | None = None, move: str | None = None,
        origin: str | None = None, prior: bool = False, instant: int | None = None, period: str | None = None,
    ) -> None:  # fmt: skip
        """Post amounts to one account; members that are zero make no posting.

        A correction's posting to a lot that a later ticket has emptied or counted is taken back there, into the
        area's difference, at that later ticket's date: the lot keeps the stock this left. What is dated in a closed
        period counts in the ticket's own, as prior period.
        """
        o = self.occasion
        when = o.instant if instant is None else instant
        if when < o.closed_until:
            period, prior = o.period, True
        rest = (when, period or o.period, class_, area, lot, party, terms, cause, move, origin, int(prior))
        for metal, ng in zip(self.metals, amounts, strict=True):
            if ng:
                self.postings.append(Posting._make((o.seq, line, *rest, metal, ng)))
        if class_ == "place" and area is not None and lot is not None and any(amounts):
            before = self._changes.get((area, lot))
            self._changes[area, lot] = list(amounts) if before is None else plus(before, amounts)
            if o.corrects is not None and instant is None:
                self.keep_later_stock(area, lot, amounts, line, self.point)

    def keep_later_stock(
        self, area: str, lot: int, amounts: Sequence[int], line: int, point: Point, *, recorded_after: int = 0,
        row: int | None = None,
    ) -> None:  # fmt: skip
        """Keep the stock that later tickets left: take amounts back where one has emptied or counted the lot.

        Where one has assayed it, metal keeps the fineness that was found. See `events_after` for what counts as later.
        """
        left = list(amounts)
        for event in events_after(self.shelf, area, lot, point, recorded_after=recorded_after, row=row):
            kept = [0] * self.size if event.composition is None else content(left[0], event.composition)
            gone, when = minus(left, kept), (event.point, event.period)
            self.post("place", negative(gone), area=area, lot=lot, line=line, instant=when[0].instant, period=when[1])
            if event.trues_up:
                gone = self.true_up_then(lot, gone, line, *when, assayed=event.composition is not None)
            self.post("difference", gone, area=area, origin=event.origin, line=line, instant=when[0].instant,
                      period=when[1])  # fmt: skip
            left = kept

    def true_up_then(
        self, lot: int, less: Sequence[int], line: int, point: Point, period: str, *, assayed: bool = False
    ) -> Amounts:
        """Post what a later ticket would have found an estimated lot to hold less to its origin; return the rest.

        At an assay nothing is left where another area waited for it.
        """
        then = valuation_at(self.shelf, lot, point) or dict(self.valuations).get(lot) or Valuation(None)
        when = {"line": line, "instant": point.instant, "period": period}
        rest = list(less)
        for (class_, area), shares in then.origin.items():
            part = [round(x * share) for x, share in zip(less, shares, strict=True)]
            origin = "revaluation" if class_ == "difference" else None
            self.post(class_, part, area=area, origin=origin, **when)  # type: ignore[arg-type]
            rest = minus(rest, part)
        if not assayed or then.awaiting is None:
            return rest
        self.post("difference", rest, area=then.awaiting, origin="revaluation", **when)  # type: ignore[arg-type]
        return [0] * self.size

    def write_line(
        self, number: int, side: str, area: str, lot: Lot, content: Sequence[int], *, scale: str | None = None,
        weighed_ng: int | None = None, settles: bool = False, recorded: Sequence[int] | None = None,
        given: Sequence[int] | None = None,
    ) -> None:  # fmt: skip
        """Keep what a line said; ``number`` counts the ticket's lines from 1."""
        determination = lot.valuation.determination
        self.lines.append(LineRow(
            self.occasion.seq, number, side, area, lot.id, self.occasion.instant,
            determination.id if determination else None, scale, weighed_ng, int(settles), recorded, content, given,
        ))  # fmt: skip

    def determine(
        self, basis: Basis, composition: Composition, *, method: str | None = None, sd: Fraction | None = None,
        sources: Sequence[tuple[Determination, Fraction]] = (),
    ) -> Determination:  # fmt: skip
        """Make a determination; ``sources`` are those it was calculated from, with ∂(its fineness)/∂(theirs)."""
        made = Determination(self.numbering.determination, self.occasion.seq, basis, composition, method, sd)
        self.numbering.determination += 1
        self.determinations.append(made)
        weights: dict[int, Fraction] = {}
        for source, weight in sources:
            weights[source.id] = weights.get(source.id, Fraction(0)) + weight
        self.derivations.extend((made.id, source, weight) for source, weight in weights.items() if weight)
        return made

    def value(self, lot: Lot, valuation: Valuation) -> Lot:
        """Give a lot a new valuation from this ticket on; returns the lot as it now is."""
        valued = Lot(
            lot.id, lot.number, lot.kind, lot.made_by, lot.form, lot.class_, lot.alloy, lot.clad, lot.owner,
            lot.serial, lot.layer, valuation,
        )  # fmt: skip
        self.lots[lot.number] = valued
        self.valuations.append((lot.id, valuation))
        return valued

    def new_lot(
        self, number: str, valuation: Valuation, *, kind: LotKind = "lot", form: str | None = None,
        class_: str | None = None, alloy: str | None = None, clad: str | None = None, owner: str | None = None,
        serial: str | None = None, layer: Composition | None = None,
    ) -> Lot:  # fmt: skip
        """Make a lot. A number that a reversal unmade is made again and keeps its id."""
        unmade = self.lot(number)
        if unmade is not None:
            return self.value(unmade, valuation)
        lot = Lot(
            self.numbering.lot, number, kind, self.occasion.seq, form, class_, alloy, clad, owner, serial, layer,
            valuation,
        )  # fmt: skip
        self.numbering.lot += 1
        self.lots[number] = lot
        self.new_lots.append(lot)
        self.valuations.append((lot.id, valuation))
        return lot

    def descend(self, lot: Lot, parents: Sequence[Lot]) -> None:
        """Record that a lot was made from others (or took them in)."""
        for parent in parents:
            if parent.id != lot.id:
                self.parents[lot.id, parent.id] = None

    def flag(self, flag: str, words: str, line: int = 0) -> None:
        """Mark the ticket irregular: recorded all the same, since the weighing did happen."""
        self.flags.append((line, flag, words))

    # What the book takes over.

    def imbalance(self) -> dict[tuple[str, str], int]:
        """Return what the postings do not sum to zero in, by period and metal; empty for every sound ticket."""
        sums: dict[tuple[str, str], int] = {}
        for posting in self.postings:
            key = (posting.period, posting.metal)
            sums[key] = sums.get(key, 0) + posting.ng
        return {key: ng for key, ng in sums.items() if ng}

    @cached_property
    def standings(self) -> list[Standing]:
        """The stock of every (area, lot) that this ticket posted to or spoke of; asked for once all is posted."""
        nothing = [0] * self.size
        pairs = dict.fromkeys((*self.touched(), *self._changes))
        return [self._after(area, lot, self._changes.get((area, lot), nothing)) for area, lot in pairs]

    def _after(self, area: str, lot: int, change: Amounts) -> Standing:
        o, before = self.occasion, self.shelf.standing(area, lot)
        if before is None:
            return Standing(area, lot, change, o.instant, o.number)
        after = plus(before.amounts, change)
        if before.last_instant > o.instant:
            return Standing(area, lot, after, before.last_instant, before.last_ticket)
        return Standing(area, lot, after, o.instant, o.number)
