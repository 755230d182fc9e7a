"""A mass was read in one unit and keyed in another."""

from __future__ import annotations

from collections.abc import Iterator

from ledger.causes.keyed import keyed_as
from ledger.causes.proposals import Proposal, View

#: Units that scales in this trade show.
_SHOWN = ("g", "dwt", "ozt", "ozav", "grain", "kg")


def propose(view: View) -> Iterator[Proposal]:
    """Yield each reading in every other unit."""
    for read in view.reads:
        number, unit = read.text.rsplit(" ", 1) if " " in read.text else (read.text, "")
        others = [other for other in _SHOWN if other != unit]
        for other in others if unit in _SHOWN else ():
            share = view.rates["unit"] / len(others)
            yield from keyed_as(view, "unit", read, f"{number} {other}", share, f"{other} were keyed as {unit}")
