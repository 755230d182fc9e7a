"""Reading an out-turn: its tables into their models, and every fault on the way."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Final

from pydantic import ValidationError

from ledger.bench.settle_forms import Samples
from ledger.bench.settle_rounding import Rounding
from ledger.bench.settle_terms import Advance, Charge, Heading, Lot, OutTurn, Terms
from ledger.plant.faults import faults_of, keys_of, nearest, take_faults
from ledger.plant.forms import Entry, shown
from ledger.refusals import Fault, FormRefused

_LISTS: Final[dict[str, type[Entry]]] = {"metal": Terms, "charge": Charge, "advance": Advance, "lot": Lot}


def out_turn_from(document: Mapping[str, Any]) -> OutTurn:
    """Return the out-turn of a document in JSON's types; raises FormRefused with every fault, each at its key."""
    faults: list[Fault] = []
    own = {key: value for key, value in document.items() if key in keys_of(Heading)}
    known = [*keys_of(Heading), "rounding", *_LISTS]
    unknown = (key for key in document if key not in known)
    take_faults((_fault(key, f"nobody knows {shown(key)}", nearest(key, known)) for key in unknown), faults)
    heading = _one(Heading, own, "", "the out-turn", faults)
    rounding = _one(Rounding, document.get("rounding", {}), "rounding", "rounding", faults)
    listed = {key: list(_listed(document, key, model, faults)) for key, model in _LISTS.items()}
    if not faults:
        take_faults(contradictions(heading, listed), faults)
    if faults:
        raise FormRefused([Fault(FormRefused.code, f.what, f.mend, f.field.removeprefix(".")) for f in faults])
    return OutTurn(heading, rounding, *(tuple(listed[key]) for key in ("metal", "charge", "advance", "lot")))


def _one(model: type[Entry], values: object, place: str, entry: str, faults: list[Fault]) -> Any:
    if not isinstance(values, dict):
        take_faults([_fault(place, f"{shown(values)} is not a table", f"write [{place}]")], faults)
        return None
    try:
        return model.model_validate(values)
    except ValidationError as error:
        take_faults(faults_of(error, model, place, entry), faults)
        return None


def _listed(document: Mapping[str, Any], key: str, model: type[Entry], faults: list[Fault]) -> Iterator[Any]:
    rows = document.get(key, [])
    if not isinstance(rows, list):
        take_faults([_fault(key, f"{key} is not a list of entries", f"write each under [[{key}]]")], faults)
        return
    for number, values in enumerate(rows, 1):
        yield _one(model, values, f"{key}[{number}]", f"{key} {number}", faults)


def contradictions(heading: Heading, listed: Mapping[str, list[Any]]) -> Iterator[Fault]:
    """Yield what contradicts itself between the entries of an out-turn."""
    metals = [terms.metal for terms in listed["metal"]]
    if not metals:
        yield _fault("metal", "no metal is settled for", 'write [[metal]] with metal = "gold"')
    if not listed["lot"]:
        yield _fault("lot", "the out-turn has no lot", "write a [[lot]] for each")
    for key, names in (("metal", metals), ("lot", [lot.lot for lot in listed["lot"]])):
        seen: set[str] = set()
        for i, name in enumerate(names, 1):
            if name in seen:
                yield _fault(f"{key}[{i}].{key}", f"{key} {name} is there twice", "put it in one entry")
            seen.add(name)
    for i, terms in enumerate(listed["metal"], 1):
        if heading.pay == "money" and terms.price is None:
            yield _fault(f"metal[{i}].price", f"{terms.metal} is sold, and there is no price", "give price, price_per")
    for i, lot in enumerate(listed["lot"], 1):
        yield from _of_lot(f"lot[{i}]", lot, metals)
    for i, charge in enumerate(listed["charge"], 1):
        yield from _of_charge(f"charge[{i}]", charge, metals)
    for i, advance in enumerate(listed["advance"], 1):
        yield from _of_advance(f"advance[{i}]", advance, metals)


def _of_lot(place: str, lot: Lot, metals: list[str]) -> Iterator[Fault]:
    if lot.melted is not None and sum(lot.melted) > lot.received:
        yield _fault(f"{place}.melted", f"lot {lot.lot}: more was weighed after the melt than was received",
                     "check both masses; samples and bar count once")  # fmt: skip
    if lot.metallic is not None and lot.metallic > lot.received:
        yield _fault(f"{place}.metallic", f"lot {lot.lot}: the metal weighs more than the whole", "check both masses")
    if lot.melted is not None and lot.metallic is not None:
        yield _fault(f"{place}.metallic", f"lot {lot.lot}: the melt already says how much metal there is",
                     "leave metallic out")  # fmt: skip
    for whose in ("ours", "theirs", "umpire"):
        assays: dict[str, Samples] = getattr(lot, whose)
        for metal in assays:
            if metal not in metals:
                yield _unknown_metal(f"{place}.{whose}", metal, metals)
    for metal in lot.apart:
        if metal not in metals:
            yield _unknown_metal(f"{place}.apart", metal, metals)
    for metal in metals:
        if metal not in lot.theirs:
            yield _fault(f"{place}.theirs", f"lot {lot.lot}: the refiner's {metal} is missing",
                         f'add {metal} = "0‰" if he found none')  # fmt: skip


def _of_charge(place: str, charge: Charge, metals: list[str]) -> Iterator[Fault]:
    ways = [name for name in ("amount", "share", "mass") if getattr(charge, name) is not None]
    if len(ways) != 1:
        what = f"{charge.what} is charged in {len(ways) or 'no'} ways"
        yield _fault(place, what, "give one of amount, share and mass")
    elif ways != ["amount"] and charge.metal is None:
        yield _fault(f"{place}.metal", f"{charge.what} is kept in metal, and no metal is named", 'add metal = "gold"')
    elif ways != ["amount"] and charge.minimum is not None:
        yield _fault(f"{place}.minimum", f"{charge.what} is kept in metal and has a minimum in money", "leave it out")
    elif charge.amount is not None and charge.metal is not None and charge.per in ("lot", "settlement"):
        yield _fault(f"{place}.per", f"{charge.what} goes by what is payable of {charge.metal}", 'write per = "ozt"')
    if charge.metal is not None and charge.metal not in metals:
        yield _unknown_metal(f"{place}.metal", charge.metal, metals)


def _of_advance(place: str, advance: Advance, metals: list[str]) -> Iterator[Fault]:
    if (advance.amount is None) == (advance.mass is None) or (advance.mass is None) != (advance.metal is None):
        yield _fault(place, "an advance is in money, or in so much of a metal", "give amount, or metal and mass")
    if advance.metal is not None and advance.metal not in metals:
        yield _unknown_metal(f"{place}.metal", advance.metal, metals)
    if advance.rate and advance.days is None and not (advance.since and advance.until):
        yield _fault(f"{place}.days", "interest runs over an unknown number of days", "give days, or since and until")
    if advance.since and advance.until and advance.until < advance.since:
        yield _fault(f"{place}.until", "interest ends before the advance was paid", "check the two days")
    if advance.days is not None and (advance.since or advance.until):
        yield _fault(f"{place}.days", "the days of interest are given twice", "give days, or since and until")


def _unknown_metal(place: str, metal: str, metals: list[str]) -> Fault:
    return _fault(place, f"{shown(metal)} is not settled for", nearest(metal, metals))


def _fault(field: str, what: str, mend: str) -> Fault:
    return Fault(FormRefused.code, what, mend, field)
