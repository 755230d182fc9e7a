"""What a line says of a lot's composition: alloy, clad mark, fineness or content, on its basis."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TypeVar

from ledger.book.amounts import ONE, Composition
from ledger.book.draft import Draft
from ledger.book.lots import Basis
from ledger.book.tickets.lines import Line
from ledger.quantities.fineness import parse_fineness
from ledger.refusals import Impossible, LemelError

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Stated:
    """A line's own determination, before it is kept."""

    basis: Basis
    composition: Composition
    method: str | None
    sd: Fraction | None


def stated_composition(draft: Draft, line: Line, field: str, mass_ng: int | None) -> Stated | None:
    """Return what the line states of its lot's composition; None when it states nothing.

    Content comes before fineness, fineness before clad and alloy, these before the class's own. Without method or
    basis it is nominal. Raises Impossible for unknown codes, a metal left out, or more than pure.
    """
    _check_codes(draft, line, field)
    composition = _composition(draft, line, field, mass_ng)
    if composition is None:
        return None
    if sum(composition[1:]) > 1:
        raise Impossible("the metals add up to more than pure", "check the finenesses or contents", field=field)
    basis: Basis = line.basis or ("measured" if line.method else "nominal")
    return Stated(basis, composition, line.method, line.sd)


def needed_composition(draft: Draft, line: Line, field: str, mass_ng: int | None) -> Stated:
    """As `stated_composition`, for a line that must say it; raises Impossible when it does not."""
    stated = stated_composition(draft, line, field, mass_ng)
    if stated is None:
        raise Impossible("the line does not say what the lot is made of",
                         "give alloy, clad, fineness or content", field=f"{field}.fineness")  # fmt: skip
    return stated


def _check_codes(draft: Draft, line: Line, field: str) -> None:
    setup = draft.setup
    known = (("alloy", line.alloy, setup.alloys), ("clad", line.clad, setup.clads),
             ("class", line.class_, setup.classes), ("method", line.method, setup.methods))  # fmt: skip
    for name, code, codes in known:
        if code is not None and code not in codes:
            raise Impossible(f"no {name} {code} in the set-up", "correct the code, or add it by a set-up change",
                             field=f"{field}.{name}")  # fmt: skip


def _composition(draft: Draft, line: Line, field: str, mass_ng: int | None) -> Composition | None:
    if line.content is not None:
        if not mass_ng:
            raise Impossible("content without a mass says no fineness", "weigh the lot", field=f"{field}.content")
        contents = every_metal(draft, dict(line.content), f"{field}.content")
        return (ONE, *(Fraction(ng, mass_ng) for ng in contents))
    if line.fineness is not None:
        return fineness_composition(draft, line.fineness, f"{field}.fineness")
    if line.clad is not None:
        return _nominal(draft, draft.setup.clad_fineness(line.clad))
    if line.alloy is not None:
        return _nominal(draft, draft.setup.alloys[line.alloy].fineness)
    return _class_composition(draft, line)


def _class_composition(draft: Draft, line: Line) -> Composition | None:
    if line.class_ is None:
        return None
    made_of = draft.setup.classes[line.class_]
    if made_of.clad is not None:
        return _nominal(draft, draft.setup.clad_fineness(made_of.clad))
    if made_of.alloy is not None:
        return _nominal(draft, draft.setup.alloys[made_of.alloy].fineness)
    return None


def _nominal(draft: Draft, fineness: dict[str, Fraction]) -> Composition:
    return (ONE, *(fineness.get(metal, Fraction(0)) for metal in draft.metals[1:]))


def fineness_composition(draft: Draft, fineness: str | dict[str, Fraction], field: str) -> Composition:
    """Return the composition of a stated fineness; a bare karat or mark only where the book keeps one metal."""
    if isinstance(fineness, str):
        if len(draft.metals) > 2:
            raise Impossible(
                f"a bare {fineness} says nothing of {draft.metals[2]}",
                'give each booked metal: {"' + '": "…", "'.join(draft.metals[1:]) + '": "…"}', field=field,
            )  # fmt: skip
        return (ONE, parse_fineness(fineness))
    return (ONE, *every_metal(draft, dict(fineness), field))


def every_metal(draft: Draft, given: dict[str, T], field: str) -> list[T]:
    """Return the values in the book's order; raises Impossible for a metal left out or not booked."""
    unknown = [metal for metal in given if metal not in draft.metals[1:]]
    missing = [metal for metal in draft.metals[1:] if metal not in given]
    if unknown or missing:
        what = f"{unknown[0]} is not a booked metal" if unknown else f"nothing is said of {missing[0]}"
        raise Impossible(what, "give " + ", ".join(draft.metals[1:]) + "; 0 where there is none", field=field)
    return [given[metal] for metal in draft.metals[1:]]


def layer_composition(draft: Draft, text: str, field: str) -> Composition:
    """Return the composition of a layer named as an alloy, or as a karat where the book keeps one metal."""
    alloy = draft.setup.alloys.get(text)
    if alloy is not None:
        return _nominal(draft, alloy.fineness)
    try:
        return fineness_composition(draft, text, field)
    except LemelError as wrong:
        raise Impossible(f"the layer {text} is not an alloy of the set-up", "name the alloy of the layer",
                         field=field) from wrong  # fmt: skip
