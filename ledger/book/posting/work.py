"""Work within one area: inputs R and W, outputs O by the operation's composition, the ticket's own difference.

Composition says what a gram of lost mass carries away; a wrong answer here is a false loss.
See docs/reference/postings.md.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import hypot

from ledger.book.amounts import ONE, Amounts, Composition, content, minus, shared_by_mass, total
from ledger.book.draft import Draft
from ledger.book.expected import Worked, expected_in
from ledger.book.lots import Determination, Valuation
from ledger.book.posting.checks import known
from ledger.book.posting.jobs import post_job
from ledger.book.posting.making import flag_mixed_owners, mixed_origin
from ledger.book.posting.outputs import Output, is_clad, put_down, value_stated, weigh_output
from ledger.book.posting.taking import Taken, take
from ledger.book.posting.weighing import reading_sd_ng
from ledger.book.tickets import Work
from ledger.book.tickets.lines import Line
from ledger.plant.process import Operation
from ledger.quantities.mass import mass_text
from ledger.refusals import Impossible


@dataclass(frozen=True, slots=True)
class Bench:
    """What a composition works on: the draft, the operation, what was taken in, and what came out."""

    draft: Draft
    area: str
    operation: Operation
    taken: list[Taken]
    stated: list[Output]
    rest: list[Output]

    @property
    def put_in(self) -> Amounts:
        """ΣW of the inputs."""
        return total((t.weighed for t in self.taken), self.draft.size)

    @property
    def left(self) -> Amounts:
        """ΣW less what the outputs with their own determination hold: what the rest share."""
        return minus(self.put_in, total((o.amounts for o in self.stated), self.draft.size))


def post_work(ticket: Work, draft: Draft) -> None:
    """Post a work ticket: inputs, outputs, and its own difference ΣW − ΣO; or its part of a job."""
    operation = known(draft.setup.operations, ticket.operation, "operation")
    known(draft.setup.areas, ticket.area, "area")
    if ticket.job is not None:
        post_job(ticket, draft, operation)
    else:
        _post_at_once(ticket, draft, operation)


def _post_at_once(ticket: Work, draft: Draft, operation: Operation) -> None:
    taken = [
        take(draft, ticket.area, line, f"in[{i}]", i + 1, "in") for i, line in enumerate(ticket.in_)
    ]  # fmt: skip
    outputs = [weigh_output(draft, line, i, len(taken)) for i, line in enumerate(ticket.out)]
    bench = Bench(
        draft, ticket.area, operation, taken, [o for o in outputs if o.own], [o for o in outputs if not o.own]
    )
    flag_mixed_owners(draft, [t.lot for t in taken])
    value_stated(draft, ticket.area, bench.stated)
    if bench.rest:
        _COMPOSE[operation.composition](bench)
    parents = [t.lot for t in taken]
    for output in outputs:
        material = _material(bench) if output.own is None else (None, None)
        put_down(draft, ticket.area, output, parents, _layer(bench, output.line), material)
    _own_difference(bench, outputs)
    _flag_unlikely(bench, outputs)


# The four compositions. Each gives the outputs without a determination of their own amounts and a valuation.


def _carries(bench: Bench) -> None:
    """Roll, draw, blank, cut: the outputs keep the inputs' one fineness."""
    compositions = {t.composition: t for t in bench.taken}
    if len(compositions) > 1:
        named = "; ".join(f"{t.lot.number} {_per_mille(c)}" for c, t in compositions.items())
        raise Impossible(
            f"operation {bench.operation.code} carries one fineness, and the inputs have several: {named}",
            "enter them as separate tickets, or use an operation that combines", field="in",
        )  # fmt: skip
    first = bench.taken[0]
    if len({t.determination.id for t in bench.taken}) == 1 and first.lot.kind != "bin":
        valuation = first.lot.valuation
    else:
        mass = bench.put_in[0] or 1
        sources = [(t.determination, Fraction(t.weighed[0], mass)) for t in bench.taken]
        valuation = _calculated(bench, first.composition, sources)
    for output in bench.rest:
        output.amounts, output.valuation = content(output.mass, first.composition), valuation


def _combines(bench: Bench) -> None:
    """Melt, lay-up, bond, solder, assemble: the rest share what is left; fume is base metal with nothing in it."""
    left = bench.left
    charge = max(bench.put_in[0] * (1 - bench.operation.fume), Fraction(sum(bench.put_in[1:])))
    mass = charge - sum(o.mass for o in bench.stated)
    if mass <= 0:
        raise Impossible("the outputs with a determination of their own weigh more than all that was put in",
                         "check the masses", field="out")  # fmt: skip
    composition = (ONE, *(max(Fraction(fine) / mass, Fraction(0)) for fine in left[1:]))
    if any(fine < 0 for fine in left):
        bench.draft.flag("more than was put in", "outputs with their own determination hold more than the inputs")
    if sum(composition[1:]) > 1:
        raise Impossible("the rest would be finer than pure", "check the masses and finenesses", field="out")
    valuation = _calculated(bench, composition, [(t.determination, t.weighed[0] / mass) for t in bench.taken])
    for output in bench.rest:
        output.amounts, output.valuation = content(output.mass, composition), valuation


def _surface(bench: Bench) -> None:
    """Buff, polish, tumble, engrave clad metal: what is lost is the layer, not the average."""
    lost = bench.put_in[0] - sum(o.mass for o in [*bench.stated, *bench.rest])
    layer = _mean_layer(bench)
    fine = [round(x - lost * f) for x, f in zip(bench.left[1:], layer[1:], strict=True)]
    if any(x < 0 for x in fine):
        bench.draft.flag("less than nothing", "more layer is lost than the lot held; the content is put at zero")
    worn = [0 if t.lot.layer else Fraction(lost, bench.put_in[0] or 1) for t in bench.taken]
    _share(bench, [0, *(max(x, 0) for x in fine)], None, worn)


def _content(bench: Bench) -> None:
    """Anneal, pickle, wash, dry, or a melt that is always assayed: no fine metal is lost before the assay."""
    _share(bench, [0, *(max(x, 0) for x in bench.left[1:])], bench.area, [0 for _ in bench.taken])


def _share(bench: Bench, amounts: Amounts, awaiting: str | None, worn: Sequence[Fraction | int]) -> None:
    """Share contents by mass; ``worn`` is the share of each input that was lost at the input's own fineness."""
    masses = [o.mass for o in bench.rest]
    whole = sum(masses)
    composition = (ONE, *(Fraction(x, whole) for x in amounts[1:]))
    if sum(composition[1:]) > 1:
        raise Impossible("the outputs would be finer than pure", "check the masses", field="out")
    kept = [(t, (1 - w) * t.weighed[0]) for t, w in zip(bench.taken, worn, strict=True)]
    sources = [(t.determination, Fraction(mass) / whole) for t, mass in kept]
    valuation = _calculated(bench, composition, sources, awaiting)
    for output, share in zip(bench.rest, shared_by_mass(amounts, masses), strict=True):
        output.amounts, output.valuation = share, valuation


_COMPOSE: dict[str, Callable[[Bench], None]] = {
    "carries": _carries,
    "combines": _combines,
    "surface": _surface,
    "content": _content,
}


def _calculated(
    bench: Bench, composition: Composition, sources: Sequence[tuple[Determination, Fraction]],
    awaiting: str | None = None,
) -> Valuation:  # fmt: skip
    origin = mixed_origin([(t.weighed, t.lot.valuation.origin) for t in bench.taken])
    basis = "estimated" if origin and _wholly(origin) else "calculated"
    made = bench.draft.determine(basis, composition, sources=sources)  # type: ignore[arg-type]
    return Valuation(made, origin, awaiting)


def _wholly(origin: dict[tuple[str, str], tuple[Fraction, ...]]) -> bool:
    return any(sum(shares[i] for shares in origin.values()) == 1 for i in range(1, len(next(iter(origin.values())))))


def _mean_layer(bench: Bench) -> Composition:
    """Return the inputs' layer, weighted by mass where they differ; a lot without a layer wears as itself."""
    whole = bench.put_in[0] or 1
    layers = [(t.lot.layer or t.composition, Fraction(t.weighed[0], whole)) for t in bench.taken]
    return tuple(sum((f[i] * w for f, w in layers), Fraction(0)) for i in range(bench.draft.size))


# Outputs and the ticket's own difference.


def _material(bench: Bench) -> tuple[str | None, str | None]:
    """Carry alloy and clad codes on where the operation keeps the material and the inputs agree."""
    if bench.operation.composition == "combines":
        return (None, None)
    codes = {(t.lot.alloy, t.lot.clad) for t in bench.taken}
    return codes.pop() if len(codes) == 1 else (None, None)


def _layer(bench: Bench, line: Line) -> Composition | None:
    """Return the layer carried on, or, for a lay-up's clad output, the finest input's."""
    layers = [t.lot.layer for t in bench.taken if t.lot.layer is not None]
    if bench.operation.composition != "combines":
        return max(layers, key=lambda c: c[1]) if layers else None
    if is_clad(bench.draft, line):
        return max((t.lot.layer or t.composition for t in bench.taken), key=lambda c: c[1])
    return None


def _own_difference(bench: Bench, outputs: Sequence[Output]) -> None:
    draft = bench.draft
    difference = minus(bench.put_in, total((o.amounts for o in outputs), draft.size))
    origin = mixed_origin([(t.weighed, t.lot.valuation.origin) for t in bench.taken])
    if origin and not bench.rest and all(o.own and o.own.basis == "measured" for o in outputs):
        for (class_, area), shares in origin.items():
            part = [round(x * s) for x, s in zip(difference, shares, strict=True)]
            draft.post(class_, part, area=area, origin="revaluation" if class_ == "difference" else None)
            difference = minus(difference, part)
    draft.post("difference", difference, area=bench.area, origin="work")


def _flag_unlikely(bench: Bench, outputs: Sequence[Output]) -> None:
    """Flag a gain beyond the weighings, and ten times the normal loss."""
    draft = bench.draft
    difference = minus(bench.put_in, total((o.amounts for o in outputs), draft.size))
    readings = [(t.scale, t.weighed[0]) for t in bench.taken] + [(o.line.scale, o.mass) for o in outputs]
    weighing_sd = hypot(*(reading_sd_ng(draft, scale, mass) for scale, mass in readings))
    if -difference[0] > float(draft.setup.plant.act) * weighing_sd:
        draft.flag("gain", f"{mass_text(-difference[0], 'g', 4)} g more came out than went in")
    if difference[1] <= 0:
        return
    inputs = [Worked(t.weighed, t.lot.alloy, t.lot.class_, t.lot.layer or t.composition) for t in bench.taken]
    normal = expected_in(draft.setup, bench.operation, inputs, draft.metals, 1)
    if normal and difference[1] > 10 * normal:
        draft.flag("ten times the normal loss", f"{mass_text(difference[1], 'g', 4)} g of {draft.metals[1]}")


def _per_mille(composition: Composition) -> str:
    return " / ".join(f"{float(f * 1000):.3f} ‰" for f in composition[1:])
