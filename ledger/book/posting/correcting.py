"""What a correction changes beyond its own ticket: lots that took their composition from what was wrong.

A correction that changes a determination re-values what stands of the lot and of what was calculated from it. Every
later line under a changed determination is followed: it took w × Δ more from where the metal was, and put as much
where the metal went, Δ being the change of fineness. So what stands gains x, and what the corrected ticket put down
loses it; metal shipped is set against own, metal lost on the way against the difference of the area that lost it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from ledger.book.amounts import Amounts, minus, negative, plus
from ledger.book.draft import Draft
from ledger.book.hindsight import Handled, corrected_in_turn, later, lines_under, missed_under, valued_under
from ledger.book.lots import Determination, Valuation
from ledger.book.past import Missed
from ledger.quantities.rounding import half_even

#: By how much a fineness changes, by metal; gross 0.
Change = tuple[Fraction, ...]


def revalue_descendants(draft: Draft, corrected: int) -> None:
    """Re-value everything that stands, was lost, or has left under a determination that the correction changed."""
    made_anew = _made_anew(draft, corrected)
    changes = _carried_on(draft, {old.id: _change(old, new) for old, new in made_anew})
    number = max((line.number for line in draft.lines), default=0)
    found = ""
    for line in lines_under(draft.shelf, changes, draft.point):
        number += 1
        _Follow(draft, line, changes[line.determination], number).post(found)
        found = line.area if line.side == "found" else found
    _miss_anew(draft, changes)
    _value_anew(draft, changes, {old.id: new for old, new in made_anew})


def _made_anew(draft: Draft, corrected: int) -> list[tuple[Determination, Determination]]:
    """Return the determinations that the corrected ticket had made, each with the one made in its place."""
    now = {lot: valuation.determination for lot, valuation in draft.valuations}
    pairs = []
    for ticket in corrected_in_turn(draft.shelf, corrected):
        for lot, before in draft.shelf.determinations_by(ticket):
            after = now.get(lot)
            if after is not None:
                pairs.append((before, after))
    return pairs


def _change(old: Determination, new: Determination) -> Change:
    return tuple(a - b for a, b in zip(new.composition, old.composition, strict=True))


def _carried_on(draft: Draft, changes: dict[int, Change]) -> dict[int, Change]:
    """Carry the changes on through every determination calculated from a changed one, in order of making."""
    waiting = sorted(changes)
    while waiting:
        source = waiting.pop(0)
        for child, weight in draft.shelf.derived_from(source):
            before = changes.get(child, (Fraction(0),) * draft.size)
            changes[child] = tuple(x + weight * d for x, d in zip(before, changes[source], strict=True))
            if child not in waiting:
                waiting = sorted([*waiting, child])
    return changes


class _Follow:
    """One later line, and what the change of its lot's fineness does there; gross never changes."""

    def __init__(self, draft: Draft, line: Handled, change: Change, number: int) -> None:
        self.draft = draft
        self.line = line
        self.change = change
        self.number = number

    def more(self, mass: int) -> Amounts:
        """Return the change of content of a mass."""
        return [half_even(mass * d.numerator, d.denominator) for d in self.change]

    def post(self, found: str) -> None:
        """Post the change; ``found`` is the area in which a strayed lot was missed."""
        line, moved = self.line, self.more(self.line.mass)
        match line.side:
            case "in" | "out" if line.taken:
                self._take(moved)
            case "in":
                self._arrive(moved)
            case "out":
                self._place(line.area, line.lot, moved)
                self._counterpart(negative(moved))
            case "receive":
                self._place(line.area, line.lot, moved)
                self._account("own", negative(moved))
            case "count":
                self._place(line.area, line.lot, moved)
                self._difference("take_on" if line.take_on else "count", negative(moved))
            case "found":
                self._place(line.area, line.lot, moved)
                self._difference("count", negative(moved))
            case "strayed":
                self._place(found, line.lot, negative(moved))
                self._place(line.area, line.lot, moved)

    def _take(self, moved: Amounts) -> None:
        """A line that empties its lot took what the lot had: its own change is of what was re-weighed."""
        if self.line.kind in ("discard", "settle"):
            self._measured(moved)
            return
        if self.line.settles:
            self._difference("reweighing", negative(moved))
        else:
            self._place(self.line.area, self.line.lot, negative(moved))
        if self.line.kind == "ship":
            self._account("own", moved)
        elif self.line.move is not None:
            self._on_the_way(self.line.move, moved)
        elif self.line.kind != "move":
            self._counterpart(moved)

    def _measured(self, moved: Amounts) -> None:
        """What was thrown away or settled is known by its own measurement; only what was recorded of it changes."""
        line = self.line
        if not line.settles:
            self._place(line.area, line.lot, negative(moved))
            rest = self.draft.true_up_then(line.lot, moved, self.number, line.point, line.period)
            self._difference("revaluation", rest)

    def _arrive(self, moved: Amounts) -> None:
        sent = self.more(self.line.given)
        if self.line.move is not None:
            self._on_the_way(self.line.move, negative(sent))
        self._place(self.line.area, self.line.lot, moved)
        self._difference("transfer", minus(sent, moved))

    def _counterpart(self, moved: Amounts) -> None:
        """What goes in and does not come out is the work's own difference, or stands in its job."""
        if self.line.job is not None and not self.line.job_done:
            self._place(self.line.area, self.line.job, moved)
        else:
            self._difference("work", moved)

    def _place(self, area: str, lot: int, more: Amounts) -> None:
        self._account("place", more, area=area, lot=lot)
        self.draft.keep_later_stock(area, lot, more, self.number, self.line.point, row=self.line.row)
        if any(more):
            self.draft.write_line(self.number, "revalued", area, self.draft.shelf.lot_by_id(lot), more)

    def _difference(self, origin: str, more: Amounts) -> None:
        self._account("difference", more, area=self.line.area, origin=origin)

    def _on_the_way(self, move: str, more: Amounts) -> None:
        lot = self.line.lot
        self._account("transit", more, area=self.line.sender, lot=lot, move=move)
        for way in self.draft.shelf.on_the_way(move):
            if way.lot == lot:
                self.draft.sent.append(replace(way, amounts=plus(way.amounts, more)))

    def _account(
        self, class_: str, more: Sequence[int], *, area: str | None = None, lot: int | None = None,
        origin: str | None = None, move: str | None = None,
    ) -> None:  # fmt: skip
        self.draft.post(
            class_, more, line=self.number, area=area, lot=lot, origin=origin, move=move,
            instant=self.line.point.instant, period=self.line.period,
        )  # fmt: skip


def _value_anew(draft: Draft, changes: dict[int, Change], anew: dict[int, Determination]) -> None:
    """Give every lot under a changed determination the one in its place; a later determination of its own stands."""
    shelf = draft.shelf
    known = {lot for lot, _ in draft.valuations} - {lot.id for lot in draft.new_lots}
    present = {lot: shelf.lot_by_id(lot).valuation for lot in sorted(known)}
    for lot_id, old, valuation in valued_under(shelf, changes):
        if old not in anew:
            anew[old] = _changed(draft, valuation.determination, changes[old])
        lot = shelf.lot_by_id(lot_id)
        present.setdefault(lot_id, lot.valuation)
        draft.value(lot, Valuation(anew[old], valuation.origin, valuation.awaiting))
    for lot_id, valuation in present.items():
        stands = valuation.determination
        if stands is not None and stands.id not in changes and later(shelf, stands.ticket, draft.point):
            draft.value(shelf.lot_by_id(lot_id), valuation)


def _miss_anew(draft: Draft, changes: dict[int, Change]) -> None:
    """What a count did not find is missed with the content it should have had."""
    for missed, determination in missed_under(draft.shelf, changes):
        if missed not in draft.found:
            more = [half_even(missed.amounts[0] * d.numerator, d.denominator) for d in changes[determination]]
            draft.found.append(missed)
            draft.missed.append(Missed(missed.area, missed.lot, plus(missed.amounts, more), missed.ticket))


def _changed(draft: Draft, old: Determination | None, change: Change) -> Determination:
    assert old is not None
    composition = tuple(f + d for f, d in zip(old.composition, change, strict=True))
    return draft.determine(old.basis, composition, method=old.method, sd=old.sd)
