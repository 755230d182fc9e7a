"""What one table of the set-up says about another: references, double entries, metals that are not booked.

Works on the document as read, so that these faults are found beside those of form, in one go. An entry is
``(place, entry, values)``: ``("area[2]", 'area "BUFF"', {...})``.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Final, NamedTuple

from ledger.plant.faults import fault
from ledger.plant.process import GROSS
from ledger.plant.site import METALS
from ledger.refusals import Fault


class Listed(NamedTuple):
    """One entry of the document: where it is, what to call it, and its keys as read."""

    place: str
    entry: str
    values: Mapping[str, Any]


Tables = Mapping[str, list[Listed]]

#: table → key → the table whose code it names.
REFERENCES: Final[dict[str, dict[str, str]]] = {
    "area": {"keeper": "person", "holder": "party"},
    "rate": {"operation": "operation", "alloy": "alloy", "class": "class"},
    "clad": {"layer": "alloy", "bond": "alloy"},
    "class": {"alloy": "alloy", "clad": "clad"},
    "bin": {"area": "area", "class": "class"},
}
#: What tells the entries of a table apart, where it is not the code.
IDENTITY: Final[dict[str, tuple[str, ...]]] = {"rate": ("operation", "alloy", "class"), "fixing": ("metal", "date")}


def identity(table: str, values: Mapping[str, Any]) -> tuple[str, ...]:
    """Return what tells an entry apart from the others of its table; empty text for a key that is left out."""
    return tuple(str(values.get(key, "")) for key in IDENTITY.get(table, ("code",)))


def contradictions(tables: Tables, metals: tuple[str, ...]) -> Iterator[Fault]:
    """Yield what the tables say against one another; ``metals`` is empty where the plant's could not be read."""
    yield from _doubles(tables)
    yield from _dangling(tables)
    yield from _either_or(tables)
    if metals:
        yield from _unbooked_rates(tables, metals)
        yield from _unbooked_alloys(tables, metals)
        yield from _unbooked_fixings(tables, metals)


def _doubles(tables: Tables) -> Iterator[Fault]:
    for table, entries in tables.items():
        first: dict[tuple[str, ...], str] = {}
        for place, entry, values in entries:
            known = identity(table, values)
            if not any(known):
                continue
            if known in first:
                yield fault(place, f"{entry} is entered twice, first as {first[known]}", "keep one, or rename it")
            first.setdefault(known, place)


def _dangling(tables: Tables) -> Iterator[Fault]:
    codes = {target: _codes(tables, target) for named in REFERENCES.values() for target in named.values()}
    for table, references in REFERENCES.items():
        for place, entry, values in tables.get(table, ()):
            for key, target in references.items():
                code = values.get(key)
                if isinstance(code, str) and code not in codes[target]:
                    what = f"{entry}: there is no {target} {code!r}"
                    yield fault(f"{place}.{key}", what, f"enter it under [[{target}]], or correct the code")


def _codes(tables: Tables, table: str) -> set[str]:
    return {values["code"] for _, _, values in tables.get(table, ()) if isinstance(values.get("code"), str)}


def _either_or(tables: Tables) -> Iterator[Fault]:
    for place, entry, values in tables.get("rate", ()):
        if ("alloy" in values) == ("class" in values):
            what = f"{entry} is for one alloy or for one class"
            yield fault(place, what, "give alloy or class, and only one of them")
    for place, entry, values in tables.get("class", ()):
        if "alloy" in values and "clad" in values:
            yield fault(place, f"{entry} is of an alloy or of clad stock", "give alloy or clad, not both")


def _unbooked_rates(tables: Tables, metals: tuple[str, ...]) -> Iterator[Fault]:
    booked = (*metals, GROSS)
    for table in ("operation", "rate"):
        for place, entry, values in tables.get(table, ()):
            for key in ("loss", "each", "spread", "drift"):
                by_metal = values.get(key)
                for metal in by_metal if isinstance(by_metal, dict) else ():
                    if metal not in booked:
                        what = f"{entry}: {metal!r} is not booked by this plant"
                        yield fault(f"{place}.{key}.{metal}", what, "booked are " + ", ".join(booked))


def _unbooked_alloys(tables: Tables, metals: tuple[str, ...]) -> Iterator[Fault]:
    for place, entry, values in tables.get("alloy", ()):
        for metal in METALS:
            if metal in metals and metal not in values:
                mend = f'add it; {metal} = "0" where there is none'
                yield fault(f"{place}.{metal}", f"{entry}: its fineness of {metal} is not given", mend)
            if metal in values and metal not in metals:
                mend = "leave it out, or add it to the plant's metals"
                yield fault(f"{place}.{metal}", f"{entry}: {metal} is not booked by this plant", mend)


def _unbooked_fixings(tables: Tables, metals: tuple[str, ...]) -> Iterator[Fault]:
    for place, entry, values in tables.get("fixing", ()):
        metal = values.get("metal")
        if isinstance(metal, str) and metal not in metals:
            what = f"{entry}: {metal!r} is not booked by this plant"
            yield fault(f"{place}.metal", what, "booked are " + ", ".join(metals))
