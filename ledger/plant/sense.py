"""What well-formed entries say against one another: periods that overlap, a mark that its layer does not bear out."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from datetime import timedelta
from fractions import Fraction
from typing import Final

from ledger.plant.faults import fault
from ledger.plant.materials import Alloy, Clad
from ledger.plant.site import Period
from ledger.refusals import Fault

#: Half a karat: a layer whose fineness is farther from its mark is taken for another alloy. Common practice, no source.
MARK_LATITUDE: Final = Fraction(1, 48)

_MONTH = re.compile(r"\d{4}-(0[1-9]|1[0-2])", re.ASCII)


def nonsense(
    periods: Sequence[Period], clads: Sequence[Clad], alloys: Sequence[Alloy], metals: tuple[str, ...]
) -> Iterator[Fault]:
    """Yield what entries that are each in order say against one another."""
    yield from _periods(periods)
    by_code = {alloy.code: alloy for alloy in alloys}
    for number, clad in enumerate(clads, 1):
        layer = by_code[clad.layer] if clad.layer else None
        yield from _clad(f"clad[{number}]", clad, layer, metals)


def _periods(periods: Sequence[Period]) -> Iterator[Fault]:
    before: Period | None = None
    for number, period in enumerate(periods, 1):
        place, entry = f"period[{number}]", f'period "{period.code}"'
        if before is not None and period.ends <= before.ends:
            mend = "list the periods in order of time"
            yield fault(f"{place}.ends", f"{entry} ends no later than the one before it, on {period.ends}", mend)
        elif before is not None and period.starts not in (None, before.ends + timedelta(1)):
            mend = "leave starts out: a period begins the day after the one before it ends"
            yield fault(f"{place}.starts", f"{entry} leaves a gap or overlaps the one before it", mend)
        elif period.starts is not None and period.starts > period.ends:
            yield fault(f"{place}.starts", f"{entry} starts after it ends", "correct starts or ends")
        if _MONTH.fullmatch(period.code) and f"{period.code}-01" < periods[0].opens.isoformat():
            mend = "give it a code of its own"
            yield fault(f"{place}.code", f"{entry} is called like a calendar month that is not listed", mend)
        before = period


def _clad(place: str, clad: Clad, layer: Alloy | None, metals: tuple[str, ...]) -> Iterator[Fault]:
    if clad.marked is None:
        return
    fineness = clad.marked[1]
    if layer is None:
        if len(metals) > 1 and not clad.mark_in_karat:
            what = f'clad "{clad.code}": the mark {clad.mark!r} does not say of which metal it speaks'
            yield fault(f"{place}.mark", what, "give layer, the alloy of the layer")
    elif all(abs(stated - fineness) > MARK_LATITUDE for stated in layer.fineness.values()):
        what = f'clad "{clad.code}": the mark {clad.mark!r} and the alloy {layer.code!r} of its layer do not agree'
        yield fault(f"{place}.layer", what, "correct the mark or the layer")
