"""A reversal: the exact opposite of one earlier ticket, at that ticket's date.

What a later ticket emptied or counted keeps the stock this left: the opposite is taken back there, into the area's
difference, at the later ticket's date. The reversed ticket's own emptying is undone with it.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from ledger.book.amounts import Amounts, plus, total
from ledger.book.draft import Draft
from ledger.book.hindsight import Point
from ledger.book.lots import Valuation
from ledger.book.past import OnTheWay, Recorded
from ledger.book.shelf import Shelf
from ledger.book.tickets import Reverse
from ledger.refusals import Impossible


def reversible(ticket: Reverse, shelf: Shelf) -> Recorded:
    """Return the ticket to reverse; raises Impossible when it cannot be."""
    of = shelf.recorded(ticket.of)
    if of is None:
        raise Impossible(f"no ticket {ticket.of} is recorded", "correct the number", field="of")
    if of.kind == "reverse":
        raise Impossible(f"{ticket.of} is itself a reversal", "enter the first ticket anew, with corrects", field="of")
    if of.reversed_by is not None:
        raise Impossible(f"{ticket.of} was reversed before, by {of.reversed_by}", "leave this one out", field="of")
    if of.kind == "void":
        raise Impossible(f"{ticket.of} declares spoiled numbers; they stay spoiled", "leave this one out", field="of")
    return of


def post_reverse(ticket: Reverse, draft: Draft, of: Recorded) -> None:
    """Post the opposite of every posting of the ticket, and give its lots back what stood of them before."""
    change: dict[tuple[str, int], dict[int, Amounts]] = {}
    for posting in draft.shelf.postings(of.seq):
        amounts = [-posting.ng if metal == posting.metal else 0 for metal in draft.metals]
        draft.post(
            posting.class_, amounts, line=posting.line, area=posting.area, lot=posting.lot, party=posting.party,
            terms=posting.terms, cause=posting.cause, move=posting.move, origin=posting.origin, instant=posting.instant,
            period=posting.period, prior=bool(posting.prior),
        )  # fmt: skip
        if posting.class_ == "place" and posting.area is not None and posting.lot is not None:
            dated = change.setdefault((posting.area, posting.lot), {})
            dated[posting.instant] = plus(dated.get(posting.instant, [0] * draft.size), amounts)
    for number, ((area, lot), dated) in enumerate(change.items(), 1):
        for instant, amounts in sorted(dated.items()):
            if any(amounts):
                draft.keep_later_stock(area, lot, amounts, number, Point(instant, of.seq), recorded_after=of.seq)
        whole = total(dated.values(), draft.size)
        draft.write_line(number, "reversed", area, draft.shelf.lot_by_id(lot), whole)
    _revert_valuations(draft, of)
    _revert_missing(draft, of)
    _revert_jobs(draft, of)
    _revert_transit(draft, of)


def _revert_valuations(draft: Draft, of: Recorded) -> None:
    for lot_id in draft.shelf.lots_valued_by(of.seq):
        if draft.shelf.last_valued_by(lot_id) == of.seq:
            before = draft.shelf.valuation_before(lot_id, of.seq)
            draft.value(draft.shelf.lot_by_id(lot_id), before or Valuation(None))


def _revert_missing(draft: Draft, of: Recorded) -> None:
    """Lots the ticket did not find are missed no more; lots it found again are missed again."""
    draft.found.extend(draft.shelf.missed_by(of.seq))
    draft.missed.extend(draft.shelf.found_by(of.seq))


def _revert_jobs(draft: Draft, of: Recorded) -> None:
    """Take what the ticket did to a job's state out of what the state is now."""
    for before, after in draft.shelf.job_states_around(of.seq):
        now = draft.job_state(after.lot)
        assert now is not None
        was = before or replace(after, mass_in=0, fume_due=Fraction(0), surface=(Fraction(0),) * draft.size, done=False)
        draft.job_states.append(replace(
            now,
            mass_in=now.mass_in + was.mass_in - after.mass_in,
            fume_due=now.fume_due + was.fume_due - after.fume_due,
            surface=tuple(n + w - a for n, w, a in zip(now.surface, was.surface, after.surface, strict=True)),
            done=now.done and not (after.done and not was.done),
        ))  # fmt: skip


def _revert_transit(draft: Draft, of: Recorded) -> None:
    """What the ticket sent is on its way no more; what arrived by it is on its way again."""
    change: dict[tuple[str, int, str], Amounts] = {}
    for posting in draft.shelf.postings(of.seq):
        if posting.class_ == "transit" and posting.move is not None and posting.lot is not None:
            key = (posting.move, posting.lot, posting.area or "")
            sums = change.setdefault(key, [0] * draft.size)
            sums[draft.metals.index(posting.metal)] -= posting.ng
    for (move, lot, sender), amounts in change.items():
        waiting = next((way for way in draft.shelf.on_the_way(move) if way.lot == lot), None)
        now = plus(waiting.amounts, amounts) if waiting else amounts
        receiver, instant = draft.shelf.destination(move)
        way = OnTheWay(move, lot, sender, receiver, instant, now)
        (draft.sent if any(now) else draft.arrived).append(way)
