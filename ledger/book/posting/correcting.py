"""What a correction changes beyond its own ticket: lots that took their composition from what was wrong.

A correction that changes a determination re-values what stands of the lot and of what was calculated from it:
place +x there, −x where the corrected ticket put it; for metal that has left, against own.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from ledger.book.amounts import Amounts, content, negative
from ledger.book.draft import Draft
from ledger.book.lots import Determination, Lot, Standing, Valuation
from ledger.quantities.rounding import half_even


class Home(NamedTuple):
    """Where the corrected ticket put a lot whose determination it changed."""

    area: str
    lot: int


#: By how much a fineness changes on account of each home: home → change by metal, gross 0.
Change = dict[Home, tuple[Fraction, ...]]


@dataclass(frozen=True, slots=True)
class _Affected:
    old: Determination
    new: Determination
    change: Change


def revalue_descendants(draft: Draft, corrected: int) -> None:
    """Re-value everything that stands, or has left, under a determination that the correction changed."""
    changes = _changes(draft, _first_changes(draft, corrected))
    number = max((line.number for line in draft.lines), default=0)
    for lot, affected in _affected_lots(draft, changes):
        for place in draft.shelf.places(lot.id):
            number += 1
            _revalue_place(draft, lot, place, affected, number)
        draft.value(lot, Valuation(affected.new, lot.valuation.origin, lot.valuation.awaiting))
    for gone in draft.shelf.left_under(sorted(changes)):
        number += 1
        for home, more in _shares(gone.mass, changes[gone.determination]).items():
            draft.post("own", more, line=number)
            _take_from_home(draft, home, more, number)


def _first_changes(draft: Draft, corrected: int) -> dict[int, Change]:
    """Return the changes of the determinations that the corrected ticket itself had made."""
    changes: dict[int, Change] = {}
    now = dict(draft.valuations)
    for lot_id, before in draft.shelf.determinations_by(corrected):
        after = now[lot_id].determination if lot_id in now else None
        if after is not None and after.composition != before.composition:
            home = next(Home(line.area, line.lot) for line in draft.lines if line.lot == lot_id)
            change = tuple(a - b for a, b in zip(after.composition, before.composition, strict=True))
            changes[before.id] = {home: change}
    return changes


def _changes(draft: Draft, changes: dict[int, Change]) -> dict[int, Change]:
    """Carry the changes on through every determination calculated from a changed one, in order of making."""
    waiting = sorted(changes)
    while waiting:
        source = waiting.pop(0)
        for child, weight in draft.shelf.derived_from(source):
            into = changes.setdefault(child, {})
            for home, change in changes[source].items():
                nothing = (Fraction(0),) * draft.size
                into[home] = tuple(x + weight * d for x, d in zip(into.get(home, nothing), change, strict=True))
            if child not in waiting:
                waiting = sorted([*waiting, child])
    return changes


def _affected_lots(draft: Draft, changes: dict[int, Change]) -> Iterator[tuple[Lot, _Affected]]:
    done: dict[int, _Affected] = {}
    valued = {lot for lot, _ in draft.valuations}
    for determination in sorted(changes):
        for lot in draft.shelf.melt(determination):
            if lot.id in valued:
                continue
            old = lot.valuation.determination
            assert old is not None
            if determination not in done:
                change = changes[determination]
                total = [sum((c[i] for c in change.values()), Fraction(0)) for i in range(draft.size)]
                composition = tuple(f + d for f, d in zip(old.composition, total, strict=True))
                new = draft.determine(old.basis, composition, method=old.method, sd=old.sd)
                done[determination] = _Affected(old, new, change)
            yield lot, done[determination]


def _revalue_place(draft: Draft, lot: Lot, place: Standing, affected: _Affected, number: int) -> None:
    area, stands = place.area, place.amounts
    for home, more in _shares(stands[0], affected.change).items():
        draft.post("place", more, area=area, lot=lot.id, line=number, instant=draft.occasion.instant)
        _take_from_home(draft, home, more, number)
    draft.write_line(number, "revalued", area, lot, content(stands[0], affected.new.composition), recorded=stands)


def _take_from_home(draft: Draft, home: Home, more: Amounts, number: int) -> None:
    draft.post("place", negative(more), area=home.area, lot=home.lot, line=number)


def _shares(mass: int, change: Change) -> dict[Home, Amounts]:
    return {home: [half_even(mass * d.numerator, d.denominator) for d in change_] for home, change_ in change.items()}

