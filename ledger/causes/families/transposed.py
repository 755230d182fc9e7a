"""Two neighbouring digits of a recorded mass are swapped."""

from __future__ import annotations

from collections.abc import Iterator

from ledger.causes.keyed import keyed_as, texts_with_neighbours_swapped
from ledger.causes.proposals import Proposal, View


def propose(view: View) -> Iterator[Proposal]:
    """Yield each reading with each pair of unequal neighbours swapped."""
    for read in view.reads:
        others = list(texts_with_neighbours_swapped(read.text))
        for other in others:
            share = view.rates["transposed"] / len(others)
            yield from keyed_as(view, "transposed", read, other, share, "two neighbouring digits are swapped")
