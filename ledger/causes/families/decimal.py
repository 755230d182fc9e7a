"""The decimal point of a recorded mass stands in the wrong place."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from ledger.causes.keyed import keyed_as, times_text
from ledger.causes.proposals import Proposal, View

_SHIFTS = (Fraction(10), Fraction(1, 10), Fraction(100), Fraction(1, 100))


def propose(view: View) -> Iterator[Proposal]:
    """Yield each reading ten and a hundred times as large and as small."""
    for read in view.reads:
        for shift in _SHIFTS:
            share = view.rates["decimal"] * (0.45 if shift in _SHIFTS[:2] else 0.05)
            yield from keyed_as(
                view, "decimal", read, times_text(read.text, shift), share, "the decimal point is misplaced"
            )
