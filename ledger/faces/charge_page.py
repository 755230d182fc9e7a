"""A charge, for people, for programs, and as the draft of a work ticket."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ledger.bench.charge import Charge
from ledger.bench.charge_forms import Figures
from ledger.bench.charge_karat import fineness_text
from ledger.faces.caution import at_work, say_at_work
from ledger.faces.printing import Table, say, say_table, say_text
from ledger.faces.working_page import say_working
from ledger.quantities.fineness import per_mille_text
from ledger.quantities.mass import grams_text


@dataclass(frozen=True, slots=True)
class ChargePage:
    """A charge and how it is told; ``draft``: what the ticket says besides (operation, area)."""

    charge: Charge
    figures: Figures
    first: str
    draft: Mapping[str, str]

    def say(self) -> None:
        """Print the page."""
        charge, metal = self.charge, self.charge.wanted.metal
        say(f"Charge for {charge.wanted.name}")
        say()
        table = Table(["take", "", self.figures.unit, "‰", f"{metal}, {self.figures.unit}"], frozenset((0, 1)))
        for line in charge.lines:
            how = "all of it" if line.all else "to be bought" if line.source.bought else ""
            share = line.source.share(metal)
            table.add(line.source.name, how, self._plain(self.figures.mass(line.mass_ng)),
                      "" if share is None else per_mille_text(share),
                      self._plain(self.figures.content(line.content_ng(metal))))  # fmt: skip
        total = sum(line.content_ng(metal) for line in charge.lines)
        table.total = ("in all", "", self._plain(self.figures.mass(charge.mass_ng)), "",
                       self._plain(self.figures.content(total)))  # fmt: skip
        say_table(table.without_empty_columns())
        say()
        say_text(f"Poured: {self.figures.mass(charge.poured_ng)} of {fineness_text(metal, charge.fineness[metal])}.")
        if charge.bought_ng:
            say_text(f"{metal.capitalize()} to buy: {self.figures.content(charge.bought_ng)} fine.")
        say_text(f'On the work ticket\'s output: planned "{charge.wanted.name}"; the bar\'s own assay or the charge '
                 "decides, and the book keeps the two side by side.")  # fmt: skip
        for source, why in charge.left_out:
            say_text(f"Left out: {source.name}, since {why}.")
        say()
        say_working(charge.working)
        say()
        say_at_work("melt")

    def _plain(self, text: str) -> str:
        return text.rpartition(" ")[0]

    def ticket(self) -> dict[str, Any]:
        """Return the draft of the work ticket: number, time and names are for whoever weighs."""
        charge = self.charge
        lines = [
            {"lot": line.source.name, "mass": _reading(line.mass_ng), **({"all": True} if line.all else {})}
            for line in charge.lines
        ]
        return {"kind": "work", **self.draft, "in": lines, "out": [{"planned": charge.wanted.name}]}

    def document(self) -> dict[str, Any]:
        """Return the page as JSON-able figures."""
        charge = self.charge
        return {
            "target": charge.wanted.name,
            "metal": charge.wanted.metal,
            "first": self.first,
            "lines": [
                {
                    "lot": line.source.name, "bought": line.source.bought, "mass": grams_text(line.mass_ng),
                    "all": line.all,
                    "content": {m: grams_text(line.content_ng(m)) for m in charge.fineness},
                }
                for line in charge.lines
            ],
            "charged": grams_text(charge.mass_ng),
            "fume": grams_text(charge.fume_ng),
            "loss": grams_text(charge.loss_ng),
            "poured": grams_text(charge.poured_ng),
            "fineness": {metal: per_mille_text(share, 6) for metal, share in charge.fineness.items()},
            "above": per_mille_text(self.above, 6),
            "to_buy": grams_text(charge.bought_ng),
            "left_out": [{"lot": source.name, "why": why} for source, why in charge.left_out],
            "ticket": self.ticket(),
            "working": charge.working.document(),
            "caution": at_work("melt"),
        }  # fmt: skip

    @property
    def above(self) -> Any:
        """By how much the poured alloy lies above what is wanted of its metal."""
        wanted = self.charge.wanted
        return wanted.windows[wanted.metal].beyond(self.charge.fineness[wanted.metal])

    def say_ticket(self) -> None:
        """Print the draft of the ticket as one JSON line."""
        print(json.dumps(self.ticket(), ensure_ascii=False))


def _reading(mass_ng: int) -> str:
    """Return a mass as a ticket has it, without idle digits."""
    whole, _, decimals = grams_text(mass_ng).partition(".")
    return f"{whole}.{decimals.rstrip('0') or '0'} g"
