"""A recorded mass is wrong, for no reason that its digits show."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from ledger.causes.keyed import CHECK_READING
from ledger.causes.proposals import Proposal, View, content_of
from ledger.causes.reads import Read
from ledger.quantities.mass import mass_text

#: A free error is at least so many σ of the scale, at most this share of the mass.
_LEAST_SIGMA, _MOST_SHARE = 3.0, 0.5


def propose(view: View) -> Iterator[Proposal]:
    """Yield each reading with an error of either sign."""
    for read in view.reads:
        scale = view.evidence.setup.scales.get(read.scale)
        least = _LEAST_SIGMA * (float(scale.weighing_sd_ng) if scale else 1e7)
        yield Proposal(
            "mass",
            (read.source,),
            read.column,
            view.rates["mass"],
            _says(read),
            CHECK_READING.format(read.ticket),
            least=least,
            most=max(_MOST_SHARE * read.ng, least),
            tickets=(read.ticket,),
            lots=(read.lot,),
            of_size=content_of(view, read),
            relative=_MOST_SHARE,
        )


def _says(read: Read) -> Callable[[float], str]:
    def say(size: float) -> str:
        way = "much" if size > 0 else "little"
        return f"{read.where}: {read.text} is about {mass_text(round(abs(size)))} g too {way}"

    return say
