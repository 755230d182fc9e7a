"""Reading the tables of a set-up: each entry into its model, and every fault on the way."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any, Final

from pydantic import BaseModel, ValidationError

from ledger.plant.consistency import Listed, contradictions, identity
from ledger.plant.faults import fault, faults_of, nearest, take_faults
from ledger.plant.forms import shown
from ledger.plant.materials import Alloy, Bin, Clad, Class
from ledger.plant.measuring import Container, Method, Scale
from ledger.plant.people import Party, Person
from ledger.plant.prices import Fixing
from ledger.plant.process import Operation, Rate
from ledger.plant.sense import nonsense
from ledger.plant.site import Area, Period, Plant
from ledger.refusals import Fault

#: The tables of a set-up that list entries, in the order in which the reference shows them.
TABLES: Final[dict[str, type[BaseModel]]] = {
    "period": Period,
    "area": Area,
    "operation": Operation,
    "rate": Rate,
    "scale": Scale,
    "method": Method,
    "alloy": Alloy,
    "clad": Clad,
    "class": Class,
    "bin": Bin,
    "container": Container,
    "party": Party,
    "person": Person,
    "fixing": Fixing,
}


def plain(value: Any) -> Any:
    """Return a copy of a TOML value in JSON's types: decimals, dates and times as their text."""
    if isinstance(value, Mapping):
        return {key: plain(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [plain(inner) for inner in value]
    if isinstance(value, Decimal):
        return str(value)
    return value.isoformat() if isinstance(value, date | datetime | time) else value


class Reading:
    """One reading of a document: the models of its sound entries, and all its faults."""

    def __init__(self, document: dict[str, Any]) -> None:
        self.document = document
        self.plant: Plant | None = None
        self.faults: list[Fault] = []
        self.read: dict[str, list[Any]] = {table: [] for table in TABLES}
        take_faults(self._unknown_tables(), self.faults)
        self._plant()
        listed = {table: list(self._listed(table)) for table in TABLES}
        for table, entries in listed.items():
            self._entries(table, entries)
        metals = self.plant.metals if self.plant else ()
        take_faults(contradictions(listed, metals), self.faults)
        if not self.faults:
            self.faults += nonsense(self.read["period"], self.read["clad"], self.read["alloy"], metals)

    def _unknown_tables(self) -> Iterator[Fault]:
        for key in self.document:
            if key != "plant" and key not in TABLES:
                yield fault(key, f"nobody knows the table {shown(key)}", nearest(key, ["plant", *TABLES]))

    def _plant(self) -> None:
        values = self.document.get("plant")
        if not isinstance(values, dict):
            mend = 'write [plant] with name = "…" and metals = ["gold"]'
            self.faults.append(fault("plant", "the plant is not given", mend))
            return
        try:
            self.plant = Plant.model_validate(values)
        except ValidationError as error:
            take_faults(faults_of(error, Plant, "plant", "plant"), self.faults)

    def _listed(self, table: str) -> Iterator[Listed]:
        entries = self.document.get(table, [])
        if not isinstance(entries, list):
            what = f"{table} is not a list of entries"
            take_faults([fault(table, what, f"write each under [[{table}]]")], self.faults)
            return
        for number, values in enumerate(entries, 1):
            place = f"{table}[{number}]"
            if isinstance(values, dict):
                yield Listed(place, entry_name(table, values), values)
            else:
                what = f"entry {number} of {table} is not a table"
                take_faults([fault(place, what, f"write it under [[{table}]]")], self.faults)

    def _entries(self, table: str, entries: list[Listed]) -> None:
        model = TABLES[table]
        for place, entry, values in entries:
            try:
                self.read[table].append(model.model_validate(values))
            except ValidationError as error:
                if not take_faults(faults_of(error, model, place, entry), self.faults):
                    return


def entry_name(table: str, values: Mapping[str, Any]) -> str:
    """Return what to call an entry in a message: ``area "BUFF"``."""
    return f'{table} "{" ".join(part for part in identity(table, values) if part)}"'
