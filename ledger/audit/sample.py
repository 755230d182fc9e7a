"""Samples of the record, of the floor and of tickets, with their sizes; the same arguments give the same sample."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from ledger.audit.bounds import attribute_size, unit_factor, unit_size
from ledger.audit.inquiry import Document, Inquiry, money_text
from ledger.audit.sampling import UnitSample, digest, draw, draw_spots, draw_units
from ledger.book.holdings import TICKET_STANDS, Held, stock
from ledger.quantities.mass import grams_text
from ledger.quantities.rounding import half_even
from ledger.refusals import WrongUsage

#: Units of value: a ten-thousandth of the currency, so that rounding an item's value moves no hit worth naming.
VALUE_UNITS = 10_000


@dataclass(frozen=True, slots=True)
class Plan:
    """How a sample is planned: seed; risk, tolerable and expected as shares; or the size itself."""

    seed: str
    risk: Fraction
    tolerable: Fraction
    expected: Fraction
    size: int | None = None

    def document(self, size: int, *, given: bool) -> Document:
        """Return the plan as figures."""
        shares = {key: float(getattr(self, key)) for key in ("risk", "tolerable", "expected")}
        return {"seed": self.seed, **shares, "size": size, "size_given": given}


@dataclass(frozen=True, slots=True)
class Item:
    """A lot in an area, with its size in the sampling units."""

    held: Held
    units: int


@dataclass(frozen=True, slots=True)
class LotSample:
    """A unit sample of lots on hand: the items in the book's order, and what was drawn."""

    items: list[Item]
    drawn: UnitSample
    size: int

    @property
    def chosen(self) -> list[int]:
        """The items to look at, in the book's order."""
        return sorted({*self.drawn.certain, *self.drawn.hit})


def sample_lots(inquiry: Inquiry, plan: Plan, instant: int | None, *, by_value: bool) -> LotSample:
    """Draw lots on hand, now or at an instant, by units of fine content or of value; raises WrongUsage."""
    size = plan.size or unit_size(float(plan.risk), plan.tolerable, plan.expected)
    if size is None:
        raise WrongUsage("no sample tells the expected from the tolerable", "expect less, or tolerate more",
                         field="--expected")  # fmt: skip
    at = inquiry.last_instant() if instant is None else instant
    items = [Item(held, _units(inquiry, held, at, by_value=by_value))
             for held in stock(inquiry.connection, inquiry.facts, None, instant)]  # fmt: skip
    return LotSample(items, draw_units(plan.seed, [item.units for item in items], size), size)


def _units(inquiry: Inquiry, held: Held, instant: int, *, by_value: bool) -> int:
    if not by_value:
        return held.amounts[inquiry.index]
    value = inquiry.value(held.amounts, instant)
    if value is None:
        raise WrongUsage("a metal on hand has no price on that day", "give a fixing in the set-up, or leave --by out",
                         field="--by")  # fmt: skip
    scaled = value * VALUE_UNITS
    return half_even(scaled.numerator, scaled.denominator)


def lots_document(inquiry: Inquiry, plan: Plan, instant: int | None, *, by_value: bool) -> Document:
    """Return the sample from the record to the floor, with what it takes to draw it again."""
    sample = sample_lots(inquiry, plan, instant, by_value=by_value)
    drawn, size = sample.drawn, sample.size
    factor = unit_factor(float(plan.risk), plan.expected / plan.tolerable) if plan.tolerable else None
    return {
        "sample": "lots", "metal": inquiry.metal, "by": "value" if by_value else "fine",
        "at": instant and inquiry.text(instant), "plan": plan.document(size, given=plan.size is not None),
        "factor": factor and round(factor, 6),
        "population": {"lots": len(sample.items), **_whole(inquiry, sample, by_value=by_value)},
        "interval": drawn.interval and _size(drawn.interval, by_value=by_value),
        "start": None if drawn.start is None else _size(drawn.start, by_value=by_value),
        "without_units": sum(item.units <= 0 for item in sample.items),
        "items": [_item(inquiry, sample, i, by_value=by_value) for i in sample.chosen],
    }  # fmt: skip


def _whole(inquiry: Inquiry, sample: LotSample, *, by_value: bool) -> Document:
    units = sum(max(item.units, 0) for item in sample.items)
    fine = sum(item.held.amounts[inquiry.index] for item in sample.items)
    return {"fine": grams_text(fine), "units": _size(units, by_value=by_value)}


def _size(units: int, *, by_value: bool) -> str:
    return money_text(Fraction(units, VALUE_UNITS)) or "" if by_value else grams_text(units)


def _item(inquiry: Inquiry, sample: LotSample, place: int, *, by_value: bool) -> Document:
    item = sample.items[place]
    held = item.held
    outside = {a.code: a.outside for a in inquiry.facts.areas}
    return {
        "area": held.area, "outside": outside.get(held.area, False), "lot": held.described.lot,
        "what": held.described.what, "basis": held.basis, "gross": grams_text(held.amounts[0]),
        "fine": grams_text(held.amounts[inquiry.index]), "units": _size(item.units, by_value=by_value),
        "why": "certain" if place in sample.drawn.certain else "hit", "hits": sample.drawn.hit.get(place, 0),
    }  # fmt: skip


# ---------------------------------------------------------------------------------------------------------- the floor


def floor_document(inquiry: Inquiry, plan: Plan) -> Document:
    """Return the sample from the floor to the record: where to begin in which area, without what is recorded there."""
    areas = [area.code for area in inquiry.facts.areas if not area.outside]
    size = plan.size or 25
    spots = draw_spots(plan.seed, areas, size)
    return {
        "sample": "floor", "plan": plan.document(size, given=plan.size is not None), "areas": areas,
        "items": [{"pick": s.pick, "area": s.area, "along": round(s.along, 6)} for s in spots],
    }  # fmt: skip


# ------------------------------------------------------------------------------------------------------------ tickets

_TICKETS = f"""
    SELECT t.number, t.kind, t.instant, json_extract(record.body, '$.by'), json_extract(record.body, '$.witness')
    FROM ticket AS t JOIN record ON record.seq = t.seq
    WHERE t.instant BETWEEN ? AND ? AND (?3 IS NULL OR t.kind = ?3) AND t.kind <> 'close'
    AND {TICKET_STANDS.format('t')} ORDER BY t.seq"""


def tickets_document(inquiry: Inquiry, plan: Plan, span: tuple[int, int], kind: str | None) -> Document:
    """Return a sample of the tickets that stand, of a span and of one kind or all, in the order drawn."""
    rows = {row[0]: row for row in inquiry.connection.execute(_TICKETS, (*span, kind))}
    chosen, size = drawn_tickets(plan, list(rows))
    return {
        "sample": "tickets", "kind": kind, "from": inquiry.text(span[0]), "to": inquiry.text(span[1]),
        "plan": plan.document(size, given=plan.size is not None), "population": {"tickets": len(rows)},
        "items": [
            {"ticket": number, "kind": rows[number][1], "at": inquiry.text(rows[number][2]), "by": rows[number][3],
             "witness": rows[number][4], "digest": f"{digest(plan.seed, number):064x}"[:12]}
            for number in chosen
        ],
    }  # fmt: skip


def tickets_between(inquiry: Inquiry, span: tuple[int, int], kind: str | None) -> list[str]:
    """Return the numbers of the tickets that a sample is drawn from."""
    return [row[0] for row in inquiry.connection.execute(_TICKETS, (*span, kind))]


def drawn_tickets(plan: Plan, numbers: Sequence[str]) -> tuple[list[str], int]:
    """Return the tickets drawn and the planned size; raises WrongUsage where no size suffices."""
    size = plan.size or attribute_size(float(plan.risk), plan.tolerable, plan.expected)
    if size is None:
        raise WrongUsage("no sample tells the expected rate from the tolerable", "expect less, or tolerate more",
                         field="--expected")  # fmt: skip
    return draw(plan.seed, numbers, size), size
