"""Putting metal into a lot: a new one, one that a ticket puts back under its own number, or an open bin."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from ledger.book.amounts import Amounts, Composition, composition_of, plus
from ledger.book.draft import Draft
from ledger.book.lots import Determination, Lot, Origin, Valuation
from ledger.book.posting.composing import Stated, layer_composition
from ledger.book.posting.taking import where_it_is
from ledger.book.tickets.lines import Line
from ledger.plant.numbering import check_holds
from ledger.refusals import Impossible


def make_lot(
    draft: Draft, area: str, line: Line, field: str, valuation: Valuation, *, parents: Sequence[Lot] = (),
    layer: Composition | None = None, material: tuple[str | None, str | None] = (None, None),
) -> Lot:  # fmt: skip
    """Make the lot a line names, or, for a lot that this ticket has wholly taken in, put it back under its number.

    ``material`` is the (alloy, clad) code carried on from the inputs where the line says none.
    """
    number = line.lot or ""
    _check_owner(draft, line, field)
    existing = draft.lot(number)
    if existing is not None and existing.valuation.determination is not None:
        lot = _put_back(draft, area, existing, field, valuation, parents)
    else:
        if existing is None:
            _check_number(draft, number, field)
        lot = draft.new_lot(
            number, valuation, form=line.form, class_=line.class_, alloy=line.alloy or material[0],
            clad=line.clad or material[1], owner=line.owner or _one_owner(parents), serial=line.serial,
            layer=_own_layer(draft, line, field) or layer or _set_up_layer(draft, line),
        )  # fmt: skip
    draft.descend(lot, parents)
    return lot


def _check_number(draft: Draft, number: str, field: str) -> None:
    if draft.setup.plant.check_character and not check_holds(number):
        raise Impossible(
            f"the new lot's number {number} does not end in its check character",
            "read the label again; a number that is really new comes from lemel ticket, by new", field=f"{field}.lot",
        )  # fmt: skip


def _own_layer(draft: Draft, line: Line, field: str) -> Composition | None:
    return layer_composition(draft, line.layer, f"{field}.layer") if line.layer else None


def _set_up_layer(draft: Draft, line: Line) -> Composition | None:
    """Return the layer that the set-up gives a clad, for clad that comes in from outside."""
    clad = draft.setup.clads.get(line.clad or "")
    return None if clad is None or clad.layer is None else layer_composition(draft, clad.layer, "layer")


def _one_owner(parents: Sequence[Lot]) -> str | None:
    """Return the owner that all parents have: segregated metal stays its owner's."""
    owners = {parent.owner for parent in parents}
    return owners.pop() if len(owners) == 1 else None


def flag_mixed_owners(draft: Draft, lots: Sequence[Lot]) -> None:
    """Flag work that mixes the segregated metal of different owners, or an owner's with the plant's."""
    owners = sorted({lot.owner or "the plant" for lot in lots})
    if len(owners) > 1:
        draft.flag("owners mixed", "segregated metal of " + " and ".join(owners) + " is worked together")


def _check_owner(draft: Draft, line: Line, field: str) -> None:
    if line.owner is not None and line.owner not in draft.setup.parties:
        raise Impossible(f"no party {line.owner} in the set-up", "correct the code, or add it by a set-up change",
                         field=f"{field}.owner")  # fmt: skip


def _put_back(
    draft: Draft, area: str, lot: Lot, field: str, valuation: Valuation, parents: Sequence[Lot]
) -> Lot:
    if lot not in parents and not _of_the_same_job(draft, lot, parents):
        raise Impossible(
            f"lot {lot.number} was made before; {where_it_is(draft, lot)}",
            "give this lot a number of its own", field=f"{field}.lot",
        )  # fmt: skip
    if valuation.determination is lot.valuation.determination:
        return lot
    others = [p.area for p in draft.places(lot.id) if p.area != area]
    if others or any(draft.amounts(area, lot.id)):
        raise Impossible(
            f"a part of lot {lot.number} is left in {', '.join([*others, area][:1])} at its earlier composition",
            "give this output a number of its own", field=f"{field}.lot",
        )  # fmt: skip
    return draft.value(lot, valuation)


def _of_the_same_job(draft: Draft, lot: Lot, parents: Sequence[Lot]) -> bool:
    """Whether the lot went into, or came out of, the job that now puts it out."""
    return any(job.kind == "job" and draft.shelf.related(job.id, lot.id) for job in parents)


def own_valuation(draft: Draft, stated: Stated, dust_or_difference: str, area: str) -> Valuation:
    """Keep a line's own determination; an estimate remembers whose ``dust`` or ``difference`` it is."""
    determination = draft.determine(stated.basis, stated.composition, method=stated.method, sd=stated.sd)
    if stated.basis != "estimated" or not dust_or_difference:
        return Valuation(determination)
    whole = (Fraction(0), *(Fraction(1) for _ in draft.metals[1:]))
    return Valuation(determination, {(dust_or_difference, area): whole})


def mixed_origin(parts: Sequence[tuple[Amounts, Origin]]) -> Origin:
    """Return the origin of a mixture: each part's estimated shares, weighted by its content, metal by metal."""
    if not any(origin for _, origin in parts):
        return {}
    size = len(parts[0][0])
    sums = [sum(amounts[i] for amounts, _ in parts) for i in range(size)]
    mixed: dict[tuple[str, str], list[Fraction]] = {}
    for amounts, origin in parts:
        for key, shares in origin.items():
            into = mixed.setdefault(key, [Fraction(0)] * size)
            for i in range(1, size):
                if sums[i]:
                    into[i] += Fraction(amounts[i], sums[i]) * shares[i]
    return {key: tuple(shares) for key, shares in mixed.items() if any(shares)}


def add_to_bin(
    draft: Draft, area: str, line: Line, field: str, added: Amounts, valuation: Valuation, parents: Sequence[Lot]
) -> Lot:
    """Add metal to an open bin: its fineness becomes content over mass. The caller posts the metal itself."""
    code = line.bin or ""
    settings = draft.setup.bins.get(code)
    if settings is None or settings.area not in (None, area):
        where = f"bin {code} stands in {settings.area}, not {area}" if settings else f"no bin {code} in the set-up"
        raise Impossible(where, "correct the bin", field=f"{field}.bin")
    lot = draft.lot(code)
    before = draft.amounts(area, lot.id) if lot else [0] * draft.size
    after = plus(before, added)
    sources: list[tuple[Determination, Fraction]] = []
    parts: list[tuple[Amounts, Origin]] = [(added, valuation.origin)]
    if valuation.determination is not None and after[0]:
        sources.append((valuation.determination, Fraction(added[0], after[0])))
    if lot is not None and lot.valuation.determination is not None and after[0]:
        sources.append((lot.valuation.determination, Fraction(before[0], after[0])))
        parts.append((before, lot.valuation.origin))
    made = Valuation(draft.determine("calculated", composition_of(after), sources=sources), mixed_origin(parts))
    lot = draft.new_lot(code, made, kind="bin", class_=settings.class_) if lot is None else draft.value(lot, made)
    draft.descend(lot, parents)
    return lot
