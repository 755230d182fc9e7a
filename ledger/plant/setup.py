"""The set-up of a plant as a whole: every table, read at once, and what follows from them together."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction
from functools import cached_property
from typing import Any, Protocol, TypeVar

from ledger.plant.materials import Alloy, Bin, Clad, Class
from ledger.plant.measuring import Container, Method, Scale
from ledger.plant.people import Party, Person
from ledger.plant.prices import Fixing
from ledger.plant.process import Operation, Rate, Rates, rates_in_force
from ledger.plant.reading import Reading, plain
from ledger.plant.site import Area, Period, Plant
from ledger.refusals import Impossible, SetupRefused


class _Coded(Protocol):
    @property
    def code(self) -> str: ...


_C = TypeVar("_C", bound=_Coded)


@dataclass(frozen=True)
class Setup:
    """The set-up in force: one tuple per table, in the order of the file, and a look-up by code for each.

    Two set-ups are equal when they say the same, however it was written.
    """

    plant: Plant
    period: tuple[Period, ...]
    area: tuple[Area, ...]
    operation: tuple[Operation, ...]
    rate: tuple[Rate, ...]
    scale: tuple[Scale, ...]
    method: tuple[Method, ...]
    alloy: tuple[Alloy, ...]
    clad: tuple[Clad, ...]
    class_: tuple[Class, ...]
    bin: tuple[Bin, ...]
    container: tuple[Container, ...]
    party: tuple[Party, ...]
    person: tuple[Person, ...]
    fixing: tuple[Fixing, ...]
    _document: dict[str, Any] = field(compare=False, repr=False)

    @staticmethod
    def from_document(document: Mapping[str, Any]) -> Setup:
        """Return the set-up of a document: nested tables as TOML gives them, or as ``to_document`` did.

        Raises SetupRefused with every fault found, each at a key such as ``area[2].tolerance``.
        """
        reading = Reading(plain(document))
        if reading.plant is None or reading.faults:
            raise SetupRefused(reading.faults)
        tables = {("class_" if table == "class" else table): tuple(read) for table, read in reading.read.items()}
        return Setup(plant=reading.plant, **tables, _document=reading.document)

    def to_document(self) -> dict[str, Any]:
        """Return the set-up as JSON-able tables, every text as it was read: ``from_document`` gives it back."""
        copy: dict[str, Any] = plain(self._document)
        return copy

    @cached_property
    def areas(self) -> dict[str, Area]:
        """Areas by code."""
        return _by_code(self.area)

    @cached_property
    def operations(self) -> dict[str, Operation]:
        """Operations by code."""
        return _by_code(self.operation)

    @cached_property
    def scales(self) -> dict[str, Scale]:
        """Scales by code."""
        return _by_code(self.scale)

    @cached_property
    def methods(self) -> dict[str, Method]:
        """Methods of assay by code."""
        return _by_code(self.method)

    @cached_property
    def alloys(self) -> dict[str, Alloy]:
        """Alloys by code."""
        return _by_code(self.alloy)

    @cached_property
    def clads(self) -> dict[str, Clad]:
        """Clad stock by code."""
        return _by_code(self.clad)

    @cached_property
    def classes(self) -> dict[str, Class]:
        """Classes of scrap and residue by code."""
        return _by_code(self.class_)

    @cached_property
    def bins(self) -> dict[str, Bin]:
        """Bins by code."""
        return _by_code(self.bin)

    @cached_property
    def containers(self) -> dict[str, Container]:
        """Containers by code."""
        return _by_code(self.container)

    @cached_property
    def parties(self) -> dict[str, Party]:
        """Parties by code."""
        return _by_code(self.party)

    @cached_property
    def persons(self) -> dict[str, Person]:
        """People by code."""
        return _by_code(self.person)

    @cached_property
    def _overrides(self) -> dict[tuple[str, str | None, str | None], Rate]:
        return {(rate.operation, rate.alloy, rate.class_): rate for rate in self.rate}

    @cached_property
    def _rates(self) -> dict[tuple[str, str | None, str | None], Rates]:
        return {}

    def rates_for(self, operation_code: str, alloy: str | None = None, class_: str | None = None) -> Rates:
        """Return the rates in force for an operation on a material, by alloy or by class.

        Key by key, what a ``[[rate]]`` for the class states goes before one for the alloy, that before the operation's
        own. A class of an alloy is also of that alloy. Raises Impossible for an operation that is not in the set-up.
        """
        key = (operation_code, alloy, class_)
        if key not in self._rates:
            self._rates[key] = self._rates_for(*key)
        return self._rates[key]

    def _rates_for(self, operation_code: str, alloy: str | None, class_: str | None) -> Rates:
        operation = self.operations.get(operation_code)
        if operation is None:
            raise Impossible(f"there is no operation {operation_code!r}", "use a code of the set-up", field="operation")
        if alloy is None and class_ in self.classes:
            alloy = self.classes[class_].alloy
        for_alloy = self._overrides.get((operation_code, alloy, None)) if alloy else None
        for_class = self._overrides.get((operation_code, None, class_)) if class_ else None
        return rates_in_force(operation, *(rate for rate in (for_alloy, for_class) if rate))

    def clad_fineness(self, code: str) -> dict[str, Fraction]:
        """Return the fineness of clad stock by booked metal: the mark's share of the weight × the layer's fineness.

        Without a layer alloy only the mark speaks, and every other metal is taken as none (listed as assumed). The
        bond is not counted. Raises Impossible for a code that is not there, or stock without a mark.
        """
        clad = self.clads.get(code)
        if clad is None or clad.marked is None:
            what = f"there is no clad stock {code!r}" if clad is None else f"the clad stock {code!r} has no mark"
            raise Impossible(what, "state its fineness on the ticket, or enter the mark under [[clad]]", field="clad")
        share, fineness = clad.marked
        if clad.layer is not None:
            return {metal: share * layer for metal, layer in self.alloys[clad.layer].fineness.items()}
        return {metal: share * fineness if metal == self.marked_metal else Fraction(0) for metal in self.plant.metals}

    @property
    def marked_metal(self) -> str:
        """The metal that a bare karat or mark speaks of: gold, or the plant's first where it books no gold."""
        return "gold" if "gold" in self.plant.metals else self.plant.metals[0]

    def price(self, metal: str, day: date) -> Fixing | None:
        """Return the latest fixing of ``metal`` on or before ``day``, or None."""
        held = [fixing for fixing in self.fixing if fixing.metal == metal and fixing.date <= day]
        return max(held, key=lambda fixing: fixing.date, default=None)


def _by_code(entries: Iterable[_C]) -> dict[str, _C]:
    return {entry.code: entry for entry in entries}
