"""An assay is wrong, a nominal composition is not what is there, or a laboratory is out."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from ledger.causes.case import Direction
from ledger.causes.determined import Determined, determined
from ledger.causes.proposals import Proposal, View

#: A free error of a fineness, in its standard deviations: beyond that it is no error of an assay. And as fineness.
_LEAST_SD, _MOST_SD, _MOST = 2.0, 25.0, 0.0005
#: Of the rate of single determinations: the share of a whole laboratory's, for each method and metal.
_LABORATORY = 2.0


def propose(view: View) -> Iterator[Proposal]:
    """Yield each determination of a metal with a free error, and each method's bias."""
    for one, metal, column in view.worth("determinations", lambda: _singles(view), lambda each: each[2]):
        yield _single(view, one, metal, column)
    for reference, column in view.worth("biases", lambda: _biases(view), lambda each: each[1]):
        yield _bias(view, reference, column)


def _singles(view: View) -> list[tuple[Determined, str, Direction]]:
    known = [one for one in determined(view) if one.kind != "estimated"]
    return [(one, metal, column) for one in known for metal, column in one.columns.items()]


def _biases(view: View) -> list[tuple[int, Direction]]:
    return [(r, c) for r, c in view.case.columns.items() if view.evidence.tape.source(r).kind == "bias"]


def _single(view: View, one: Determined, metal: str, column: Direction) -> Proposal:
    tape = view.evidence.tape
    sd = tape.source(one.sources[metal]).variance ** 0.5
    rate = view.rates["determination"] / max(len(one.columns), 1)
    how = f"the assay by {one.method}" if one.method else "the stated composition"
    return Proposal(
        "determination",
        (one.ticket, one.line, metal),
        column,
        rate,
        _says(f"{one.ticket}: {how} of {one.lot} gives {{}} {metal}"),
        f"assay {one.lot} again, from a new sample",
        least=_LEAST_SD * sd,
        most=max(_MOST, _MOST_SD * sd),
        tickets=(one.ticket,),
        lots=(one.lot,),
        what={"method": one.method} if one.method else {},
        of_size=_of_metal(view, metal, one.mass),
    )


def _bias(view: View, reference: int, column: Direction) -> Proposal:
    source = view.evidence.tape.source(reference)
    sd = source.variance**0.5
    return Proposal(
        "determination",
        ("bias", source.of, source.metal),
        column,
        _LABORATORY * view.rates["determination"],
        _says(f"all determinations by {source.of} give {{}} {source.metal}"),
        f"assay a standard by {source.of}, or send duplicates to another laboratory",
        least=2 * sd,
        most=max(0.005, 4 * sd),
        what={"method": source.of},
        of_size=_of_metal(view, source.metal, sum(map(abs, column.values()))),
    )


def _of_metal(view: View, metal: str, mass: float) -> tuple[float, ...]:
    return tuple(mass if m == metal else 0.0 for m in view.evidence.metals)


def _says(template: str) -> Callable[[float], str]:
    def say(size: float) -> str:
        return template.format(f"about {abs(size) * 1000:.2f} ‰ too {'much' if size > 0 else 'little'}")

    return say
