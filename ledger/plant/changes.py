"""A dated change of the set-up: entries with a known code take the keys given, new codes are added, nothing goes.

A change is written with the same tables as the set-up, and above them ``from`` (when it takes effect: plant time, or a
day of the plant), ``by`` (the code of who decided it) and ``reason``.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from ledger.plant.calendar import Calendar
from ledger.plant.consistency import identity
from ledger.plant.faults import fault
from ledger.plant.forms import read_day
from ledger.plant.reading import TABLES, entry_name, plain
from ledger.plant.setup import Setup
from ledger.refusals import Fault, FormRefused, SetupRefused

_HEAD: Final = ("from", "by", "reason")
_ENTRY = re.compile(r"(\w+)\[(\d+)\](.*)", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Difference:
    """One key that a change sets: its text before (None where it was not stated) and after."""

    key: str
    before: str | None
    after: str | None


@dataclass(frozen=True, slots=True)
class ChangeHead:
    """When a change takes effect, as plant time and as instant, who decided it, and why."""

    from_: str
    instant: int
    by: str
    reason: str


def change_head(setup: Setup, change_document: Mapping[str, Any]) -> ChangeHead:
    """Return the head of a change of ``setup``; raises SetupRefused with every fault of it.

    ``by`` is somebody in the set-up who may ``set``; where nobody may, anybody in it; where nobody is in it, any name.
    """
    faults = list(_head_faults(setup, change_document))
    if faults:
        raise SetupRefused(faults)
    from_, by, reason = (change_document[key] for key in _HEAD)
    return ChangeHead(from_, _instant(setup, from_), by, reason)


def apply_change(setup: Setup, change_document: Mapping[str, Any]) -> tuple[Setup, list[Difference]]:
    """Return the set-up after a change, and what differs, key by key.

    An entry whose code is known takes the keys given; a table by metal (``loss``) takes the metals given; ``may`` is
    given anew as a whole. Raises SetupRefused with every fault, each at a key such as ``area["BUFF"].tolerance``.
    """
    change = plain(change_document)
    faults = [*_head_faults(setup, change), *_form_faults(change), *_lasting_faults(setup, change)]
    if faults:
        raise SetupRefused(faults)
    before = setup.to_document()
    after = _merged(before, {key: value for key, value in change.items() if key not in _HEAD})
    try:
        changed = Setup.from_document(after)
    except SetupRefused as refusal:
        raise SetupRefused([_by_code(found, after) for found in refusal.faults]) from None
    return changed, list(_differences(before, after))


def _head_faults(setup: Setup, change: Mapping[str, Any]) -> Iterator[Fault]:
    for key in _HEAD:
        value = change.get(key)
        if not isinstance(value, str) or not value.strip() or not value.isprintable():
            mend = 'above the first table, write from = "2026-11-01T00:00", by = "…" and reason = "…"'
            yield fault(key, f"{key} is not given" if value is None else f"{key} cannot be read", mend)
        elif key == "from":
            yield from _from_faults(setup, value)
        elif key == "by":
            yield from _by_faults(setup, value)


def _from_faults(setup: Setup, from_: str) -> Iterator[Fault]:
    try:
        _instant(setup, from_)
    except FormRefused as refusal:
        yield fault("from", refusal.faults[0].what, refusal.faults[0].mend)


def _instant(setup: Setup, from_: str) -> int:
    calendar = Calendar(setup)
    try:
        day = read_day(from_)
    except ValueError:
        return calendar.instant(from_)
    return calendar.day_start(day)


def _by_faults(setup: Setup, by: str) -> Iterator[Fault]:
    entitled = [person.code for person in setup.person if "set" in person.may]
    known = entitled or [person.code for person in setup.person]
    if known and by not in known:
        what = f"{by!r} may not set the set-up" if by in setup.persons else f"there is no person {by!r}"
        yield fault("by", what, "somebody who may is " + ", ".join(known))


def _form_faults(change: Mapping[str, Any]) -> Iterator[Fault]:
    """Yield what would keep the tables of a change from being merged."""
    if not isinstance(change.get("plant", {}), dict):
        yield fault("plant", "plant is not a table", "write it under [plant]")
    for table in TABLES:
        entries = change.get(table, [])
        if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
            yield fault(table, f"{table} is not a list of entries", f"write each under [[{table}]]")
            continue
        known = [identity(table, entry) for entry in entries]
        for number, entry in enumerate(entries):
            if known[number] in known[:number]:
                yield fault(
                    f"{table}[{number + 1}]", f"{entry_name(table, entry)} is changed twice", "make one entry of it"
                )


def _lasting_faults(setup: Setup, change: Mapping[str, Any]) -> Iterator[Fault]:
    plant = change.get("plant", {})
    for key, lasting in _lasting(setup).items() if isinstance(plant, dict) else ():
        if plant.get(key, lasting) != lasting:
            what = f"{key} of a plant cannot change: the book is kept by it"
            yield fault(f"plant.{key}", what, "leave it out; another one needs a new book")


def _lasting(setup: Setup) -> dict[str, Any]:
    """Return the keys of the plant that date or value what is already recorded."""
    plant = setup.plant
    return {"metals": list(plant.metals), "timezone": plant.timezone, "cut_off": f"{plant.cut_off:%H:%M}"}


def _merged(before: Mapping[str, Any], change: Mapping[str, Any]) -> dict[str, Any]:
    after = dict(before)
    for key, value in change.items():
        if key in TABLES:
            after[key] = _merged_entries(key, before.get(key, []), value)
        else:
            after[key] = _overlaid(before.get(key), value)
    return after


def _merged_entries(table: str, before: list[Any], change: list[Any]) -> list[Any]:
    by_identity = {identity(table, entry): entry for entry in before}
    for entry in change:
        known = identity(table, entry)
        by_identity[known] = _overlaid(by_identity.get(known), entry)
    return list(by_identity.values())


def _overlaid(before: Any, change: Any) -> Any:
    if not isinstance(before, dict) or not isinstance(change, dict):
        return change
    return {**before, **{key: _overlaid(before.get(key), value) for key, value in change.items()}}


def _by_code(found: Fault, document: Mapping[str, Any]) -> Fault:
    """Return a fault found at the n-th entry as one at the entry's code, which is what a change goes by."""
    match = _ENTRY.fullmatch(found.field)
    if match is None:
        return found
    table, number, rest = match.groups()
    return fault(entry_key(table, document[table][int(number) - 1]) + rest, found.what, found.mend)


def entry_key(table: str, values: Mapping[str, Any]) -> str:
    """Return the key of an entry by its code, ``area["BUFF"]``."""
    return f'{table}["{" ".join(part for part in identity(table, values) if part)}"]'


def _differences(before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterator[Difference]:
    was, now = dict(_leaves(before)), dict(_leaves(after))
    for key, value in now.items():
        if was.get(key) != value:
            yield Difference(key, was.get(key), value)


def _leaves(document: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    for table, value in document.items():
        if isinstance(value, dict):
            yield from _keys(table, value)
            continue
        for entry in value:
            yield from _keys(entry_key(table, entry), entry)


def _keys(place: str, values: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    for key, value in values.items():
        if isinstance(value, dict):
            yield from _keys(f"{place}.{key}", value)
        else:
            yield f"{place}.{key}", _written(value)


def _written(value: Any) -> str:
    if isinstance(value, list):
        return ", ".join(map(str, value))
    return str(value).lower() if isinstance(value, bool) else str(value)
