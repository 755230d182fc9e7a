"""``lemel stock``: lots on hand."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from ledger.faces.cli import options
from ledger.faces.printing import Table, mass, say, say_as_of, say_json, say_table, say_text

if TYPE_CHECKING:
    from ledger.book.holdings import AreaFacts, Held, NotFound, PlantFacts

def stock(
    area: options.Area = None, at: options.At = None, book: options.Book = None, metal: options.Metal = None,
    unit: options.Unit = None, json: options.Json = False,
) -> None:  # fmt: skip
    """List the lots on hand.

    Gross and fine mass, fineness in ‰ with its basis, and whose they are. Fine contents that are estimates (sweeps,
    slag) stand in a column of their own. Lots that a count did not find are listed apart: they are no stock.

    Example:  lemel stock --area VAULT

    Example:  lemel stock --at 2026-10-31 --metal silver --unit ozt
    """
    from ledger.book import holdings

    with options.reading_book(book) as connection:
        facts = holdings.plant_facts(connection)
        wanted = options.metal_of(facts, metal), options.unit_of(facts, unit), options.area_of(facts, area)
        instant = options.instant_of(connection, at)
        held = holdings.stock(connection, facts, wanted[2], instant)
        lost = holdings.not_found(connection, wanted[2], instant)
        as_of = holdings.as_of(connection)
    page = Page(facts, *wanted[:2], at)
    if json:
        say_json({**page.document(held, lost), **as_of.document()})
    else:
        page.say(held, lost)
        say_as_of(as_of)


class Page:
    """One page of stock, for people or as a document."""

    def __init__(self, facts: PlantFacts, metal: str, unit: str, at: str | None) -> None:
        self.facts, self.metal, self.unit, self.at = facts, metal, unit, at
        self.place = facts.place(metal)

    def say(self, held: Sequence[Held], lost: Sequence[NotFound]) -> None:
        """Print the page."""
        when = f", as of {self.at}" if self.at else ""
        say_text(f"Stock of {self.facts.name}{when}: {self.metal}, in {self.unit}")
        for area, lots in self._by_area(held):
            say()
            say(f"{area.code}  {area.name}" + (" (outside the building)" if area.outside else ""))
            say_table(self._table(lots))
        if not held:
            say("nothing on hand")
        say()
        self._say_totals(held)
        if lost:
            self._say_lost(lost)

    def _by_area(self, held: Sequence[Held]) -> list[tuple[AreaFacts, list[Held]]]:
        pairs = [(area, [h for h in held if h.area == area.code]) for area in self.facts.areas]
        return [(area, lots) for area, lots in pairs if lots]

    def _table(self, lots: Sequence[Held]) -> Table:
        heads = ["lot", "what", "gross", *self._fine_heads(), "basis", "owner"]
        table = Table(heads, frozenset((0, 1, len(heads) - 2, len(heads) - 1)))
        for held in lots:
            table.add(
                held.described.lot, held.described.what, self._mass(held.amounts[0]), *self._fine_cells(held),
                held.basis or "", held.described.owner or "",
            )  # fmt: skip
        table.total = ("total", "", self._mass(sum(h.amounts[0] for h in lots)), *self._fine_totals(lots), "", "")
        return table.without_empty_columns()

    @property
    def _fine(self) -> bool:
        return self.metal != "gross"

    def _fine_heads(self) -> list[str]:
        return [self.metal, "estimated", "‰"] if self._fine else []

    def _fine_cells(self, held: Held) -> list[str]:
        if not self._fine:
            return []
        if not held.amounts[self.place]:
            return ["–", "", "–"]
        text = self._mass(held.amounts[self.place])
        return ["" if held.estimated else text, text if held.estimated else "", per_mille(held.amounts, self.place)]

    def _fine_totals(self, lots: Sequence[Held]) -> list[str]:
        if not self._fine:
            return []
        known, estimated = self._sums(lots)
        return [self._mass(known), self._mass(estimated) if any(h.estimated for h in lots) else "", ""]

    def _sums(self, lots: Sequence[Held]) -> tuple[int, int]:
        """Return the content known and the content estimated, in nanograms."""
        estimated = sum(h.amounts[self.place] for h in lots if h.estimated)
        return sum(h.amounts[self.place] for h in lots) - estimated, estimated

    def _say_totals(self, held: Sequence[Held]) -> None:
        known, estimated = self._sums(held)
        more = f", and {self._mass(estimated)} estimated" if estimated else ""
        fine = f"{self._mass(known)} {self.unit} of {self.metal}{more}; " if self._fine else ""
        say_text(f"in all: {fine}{self._mass(sum(h.amounts[0] for h in held))} {self.unit} gross")

    def _say_lost(self, lost: Sequence[NotFound]) -> None:
        say()
        say_text("Not found by a count, and no stock: what was recorded of these lots stands in the area's difference.")
        table = Table(["lot", "what", "area", "gross", *([self.metal] if self._fine else []), "count"],
                      frozenset((0, 1, 2, 5 if self._fine else 4)))  # fmt: skip
        for one in lost:
            fine = [self._mass(one.amounts[self.place])] if self._fine else []
            table.add(one.described.lot, one.described.what, one.area, self._mass(one.amounts[0]), *fine, one.count)
        say_table(table)
        say()

    def _mass(self, mass_ng: int) -> str:
        return mass(mass_ng, self.unit)

    def document(self, held: Sequence[Held], lost: Sequence[NotFound]) -> dict[str, Any]:
        """Return the page as JSON-able figures, masses in grams with all their digits."""
        return {
            "plant": self.facts.name,
            "metal": self.metal,
            "at": self.at,
            "areas": [self._area_document(area, lots) for area, lots in self._by_area(held)],
            "total": self._totals_document(held),
            "not_found": [
                {"area": n.area, **described(n.described), **self._amounts_document(n.amounts), "count": n.count}
                for n in lost
            ],
        }

    def _area_document(self, area: AreaFacts, lots: Sequence[Held]) -> dict[str, Any]:
        rows = [
            {**described(h.described), **self._amounts_document(h.amounts), "basis": h.basis, "estimated": h.estimated}
            for h in lots
        ]
        return {"area": area.code, "name": area.name, "outside": area.outside, "lots": rows,
                "total": self._totals_document(lots)}  # fmt: skip

    def _amounts_document(self, amounts: Sequence[int]) -> dict[str, Any]:
        from ledger.quantities.mass import grams_text

        return {"gross": grams_text(amounts[0]), "fine": grams_text(amounts[self.place]),
                "fineness": per_mille(amounts, self.place, 6) or None}  # fmt: skip

    def _totals_document(self, lots: Sequence[Held]) -> dict[str, str]:
        from ledger.quantities.mass import grams_text

        known, estimated = self._sums(lots)
        return {"gross": grams_text(sum(h.amounts[0] for h in lots)), "fine": grams_text(known),
                "estimated": grams_text(estimated)}  # fmt: skip


def described(description: Any) -> dict[str, Any]:
    """Return what a lot is, as JSON-able fields named as tickets name them."""
    return {
        "lot": description.lot, "kind": description.kind, "form": description.form, "class": description.class_,
        "alloy": description.alloy, "clad": description.clad, "owner": description.owner, "serial": description.serial,
    }  # fmt: skip


def per_mille(amounts: Sequence[int], place: int, places: int = 2) -> str:
    """Return fine over gross in per mille; nothing where there is no mass."""
    from fractions import Fraction

    from ledger.quantities.fineness import per_mille_text

    return per_mille_text(Fraction(amounts[place], amounts[0]), places) if amounts[0] > 0 else ""
