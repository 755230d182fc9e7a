"""Outputs of work: weighed, valued by their own determination where they state one, and put down as lots."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ledger.book.amounts import Amounts, Composition, content
from ledger.book.draft import Draft
from ledger.book.lots import Lot, Valuation
from ledger.book.posting.checks import known
from ledger.book.posting.composing import Stated, needed_composition
from ledger.book.posting.making import add_to_bin, make_lot, own_valuation
from ledger.book.posting.weighing import metallic_ng
from ledger.book.tickets.lines import Line
from ledger.quantities.fineness import parse_fineness
from ledger.refusals import Impossible, QuantityRefused


@dataclass(slots=True)
class Output:
    """One output line: its mass, and its own determination where it states one."""

    line: Line
    field: str
    number: int
    mass: int
    own: Stated | None
    amounts: Amounts
    valuation: Valuation | None = None


def weigh_output(draft: Draft, line: Line, index: int, inputs: int) -> Output:
    """Weigh the output line of that index; ``inputs`` is how many lines stand before the outputs."""
    field = f"out[{index}]"
    class_ = draft.setup.bins[line.bin].class_ if line.bin in draft.setup.bins else line.class_
    if class_ is not None:
        known(draft.setup.classes, class_, f"{field}.class")
    mass = metallic_ng(draft, line, field, class_, number=inputs + index + 1)
    if mass is None:
        raise Impossible("an output must be weighed", 'add "mass"', field=f"{field}.mass")
    own = needed_composition(draft, line, field, mass) if line.method or line.basis else None
    if own is None and (line.fineness is not None or line.content is not None):
        draft.flag("planned only", "fineness without method or basis is kept as planned, not used", inputs + index + 1)
    return Output(line, field, inputs + index + 1, mass, own, content(mass, own.composition) if own else [])


def value_stated(draft: Draft, area: str, stated: Sequence[Output]) -> None:
    """Keep the outputs' own determinations; an estimate remembers the area that made it."""
    for output in stated:
        assert output.own is not None
        output.valuation = own_valuation(draft, output.own, "difference", area)


def put_down(
    draft: Draft, area: str, output: Output, parents: Sequence[Lot], layer: Composition | None,
    material: tuple[str | None, str | None],
) -> None:  # fmt: skip
    """Put an output down in its lot or bin: place +O, and its line."""
    line = output.line
    assert output.valuation is not None
    if line.bin is not None:
        lot = add_to_bin(draft, area, line, output.field, output.amounts, output.valuation, parents)
    else:
        lot = make_lot(draft, area, line, output.field, output.valuation, parents=parents, layer=layer,
                       material=material)  # fmt: skip
    draft.post("place", output.amounts, area=area, lot=lot.id, line=output.number)
    draft.write_line(output.number, "out", area, lot, output.amounts, scale=line.scale, weighed_ng=output.mass)


def is_clad(draft: Draft, line: Line) -> bool:
    """Return whether an output is clad: by its clad code, or a clad mark it aims at."""
    return line.clad is not None or (line.planned is not None and _clad_mark(draft, line.planned))


def _clad_mark(draft: Draft, planned: str) -> bool:
    if planned in draft.setup.clads:
        return True
    try:
        parse_fineness(planned)
    except QuantityRefused:
        return False
    return planned.startswith("1/")
