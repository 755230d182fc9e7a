"""What work truly loses: the stated rate, this month's drift, this ticket's spread; and the dust that stays behind."""

from __future__ import annotations

from typing import Any

from year_maker.chance import Chance
from year_maker.instruments import share
from year_maker.metal import Metal, of_fineness


class Losses:
    """True losses by operation, after the rates of the plant's own set-up; recoverable dust by area."""

    def __init__(self, operations: list[dict[str, Any]], areas: list[str], chance: Chance) -> None:
        self.operations = {operation["code"]: operation for operation in operations}
        self._chance = chance
        self.dust = {area: Metal() for area in areas}

    def share_lost(self, code: str, metal: str, month: int) -> float:
        """Return the share of its content that one ticket of an operation loses in a metal (or in gross)."""
        rates = self.operations[code]
        stated = share(rates["loss"][metal])
        if not stated:
            return 0.0
        drift = share(rates["drift"][metal]) * self._chance.fixed("drift", code, metal, month)
        return max(stated + drift + share(rates["spread"][metal]) * self._chance.normal("loss", code, metal), 0.0)

    def lose(self, code: str, area: str, month: int, metal: Metal, layer: tuple[float, float] | None = None) -> Metal:
        """Return what is left of metal after an operation; the recoverable part of what is lost stays in the area."""
        rates = self.operations[code]
        basis = "gold" if "gold" in rates["loss"] else "silver"
        rate = self.share_lost(code, basis, month)
        content = metal.gold if basis == "gold" and metal.gold > 0 else metal.silver
        fine = rate * content + (float(rates["each"][basis].split()[0]) if "each" in rates else 0.0)
        if rates["composition"] == "content":
            lost = Metal(metal.mass * self.share_lost(code, "gross", month), metal.gold * rate, metal.silver * rate)
        elif rates["composition"] == "surface" and layer is not None:
            lost = of_fineness(fine / (layer[0] or layer[1]), *layer)
        else:
            lost = metal.times(fine / content) if content else Metal()
        recovered = share(rates.get("recoverable", "0%"))
        recovered += share(rates.get("recoverable_spread", "0%")) * self._chance.fixed("dust", area, month)
        self.dust[area] += lost.times(recovered)
        left = metal - lost
        fume = share(rates.get("fume", "0%")) * left.mass * (1 + 0.03 * self._chance.normal("fume", code))
        return left - Metal(fume)
