"""A new determination of a lot: what it shows more than was recorded, x, and who bears it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from ledger.book.amounts import ONE, Amounts, Composition, content, minus, negative
from ledger.book.draft import Draft
from ledger.book.lots import Determination, Lot, Valuation
from ledger.book.past import OnTheWay
from ledger.book.posting.checks import known
from ledger.book.posting.taking import unknown_lot
from ledger.book.tickets import Assay
from ledger.book.tickets.readings import fineness_of
from ledger.refusals import Impossible, QuantityRefused


def mean_fineness(samples: Sequence[Sequence[str]], field: str) -> Fraction:
    """Return the mean over samples of the mean of each sample's replicates, exactly."""
    try:
        means = [sum(map(fineness_of, replicates), Fraction(0)) / len(replicates) for replicates in samples]
    except QuantityRefused as refused:
        raise Impossible([fault.at(field=field) for fault in refused.faults]) from refused
    return sum(means, Fraction(0)) / len(means)


def true_up(draft: Draft, lot: Lot, less: Sequence[int], number: int) -> Amounts:
    """Post what an estimated lot turned out to hold *less* than recorded to its estimate's origin; return the rest.

    A sweep's shortfall goes back to the dust, a slag's to the difference, of the area that made it. Gross was weighed.
    """
    rest = list(less)
    for (class_, area), shares in lot.valuation.origin.items():
        part = [round(x * share) for x, share in zip(less, shares, strict=True)]
        draft.post(class_, part, area=area, origin="revaluation" if class_ == "difference" else None, line=number)
        rest = minus(rest, part)
    return rest


def post_assay(ticket: Assay, draft: Draft) -> None:
    """Revalue a lot, or all lots on hand of its melt, wherever they stand: place +x, difference −x.

    An estimated lot's x trues up its origin; the first assay of a `content` output goes to the area that made it.
    """
    lot = draft.lot(ticket.lot)
    if lot is None or lot.valuation.determination is None:
        raise Impossible([unknown_lot(draft.setup, ticket.lot, "lot")])
    if lot.kind == "job":
        raise Impossible(f"{ticket.lot} is a job", "assay a lot", field="lot")
    known(draft.setup.methods, ticket.method, "method")
    made = draft.determine(
        "measured", _composition(ticket, draft, lot), method=ticket.method,
    )  # fmt: skip
    lots = [lot] if ticket.apply == "lot" else draft.melt(lot.valuation.determination.id)
    number = 0
    for each in sorted(lots, key=lambda one: one.id):
        number = _revalue(draft, each, made, number)
    if number == 0:
        draft.flag("nothing on hand", f"nothing is left of lot {lot.number} for this assay to change")


def _composition(ticket: Assay, draft: Draft, lot: Lot) -> Composition:
    """Return the new composition; a metal that the results leave out stays as it was."""
    assert lot.valuation.determination is not None
    before = dict(zip(draft.metals[1:], lot.valuation.determination.composition[1:], strict=True))
    if ticket.content is not None:
        mass = sum(place.amounts[0] for place in draft.places(lot.id))
        if mass <= 0:
            raise Impossible(f"nothing is left of lot {lot.number}", "give results", field="content")
        found = {metal: Fraction(ng, mass) for metal, ng in ticket.content.items()}
    else:
        found = {m: mean_fineness(samples, f"results.{m}") for m, samples in (ticket.results or {}).items()}
    for metal in found:
        if metal not in before:
            raise Impossible(f"{metal} is not a booked metal", "leave it out", field=f"results.{metal}")
    after = before | found
    if sum(after.values()) > 1:
        raise Impossible("the metals add up to more than pure", "check the results", field="results")
    return (ONE, *(after[metal] for metal in draft.metals[1:]))


def _revalue(draft: Draft, lot: Lot, made: Determination, number: int) -> int:
    for place in draft.places(lot.id):
        number += 1
        stands = draft.amounts(place.area, lot.id)
        more = minus(content(stands[0], made.composition), stands)
        draft.post("place", more, area=place.area, lot=lot.id, line=number)
        rest = true_up(draft, lot, negative(more), number)
        bearer = lot.valuation.awaiting or place.area
        draft.post("difference", rest, area=bearer, origin="revaluation", line=number)
        draft.write_line(number, "assay", place.area, lot, content(stands[0], made.composition), recorded=stands)
    for way in draft.shelf.lot_on_the_way(lot.id):
        number += 1
        _revalue_on_the_way(draft, lot, made, way, number)
    draft.value(lot, Valuation(made))
    return number


def _revalue_on_the_way(draft: Draft, lot: Lot, made: Determination, way: OnTheWay, number: int) -> None:
    """In transit: transit +x, difference(from) −x."""
    after = content(way.amounts[0], made.composition)
    more = minus(after, way.amounts)
    draft.post("transit", more, area=way.sender, lot=lot.id, move=way.move, line=number)
    rest = true_up(draft, lot, negative(more), number)
    bearer = lot.valuation.awaiting or way.sender
    draft.post("difference", rest, area=bearer, origin="revaluation", line=number)
    draft.write_line(number, "assay", way.sender, lot, after, recorded=way.amounts)
    draft.sent.append(replace(way, amounts=after))
