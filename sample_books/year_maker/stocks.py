"""What the plant buys: fine metal with its certificate, base metal and solder by nominal alloy, karat scrap."""

from __future__ import annotations

from year_maker.floor import Document, Floor, Tag
from year_maker.metal import of_fineness

#: Kind → prefix, form, what the line says of its composition, true fineness and its standard deviation.
CERTIFIED: dict[str, tuple[str, str, Document, tuple[float, float], float]] = {
    "GOLD": ("GB", "grain", {"fineness": {"gold": "999.9‰", "silver": "0.0‰"}, "basis": "measured", "sd": "0.03‰"},
             (0.9999, 0.0), 0.00003),
    "SILVER": ("AG", "grain", {"alloy": "FINE-SILVER", "basis": "measured", "sd": "0.2‰"}, (0.0, 0.999), 0.0002),
    "COPPER": ("CU", "grain", {"alloy": "COPPER"}, (0.0, 0.0), 0.0),
    "BRASS": ("BR", "plate", {"alloy": "BRASS"}, (0.0, 0.0), 0.0),
    "NICKEL-SILVER": ("NS", "plate", {"alloy": "NICKEL-SILVER"}, (0.0, 0.0), 0.0),
    "SOLDER": ("SO", "foil", {"alloy": "SOLDER", "sd": "1.0‰"}, (0.0, 0.45), 0.001),
    "KARAT": ("KG", "grain", {"alloy": "G14", "sd": "0.5‰"}, (0.585, 0.12), 0.0005),
}  # fmt: skip


def stock_line(floor: Floor, area: str, kind: str, mass: float) -> Document:
    """Put a bought lot down in an area and return its line."""
    prefix, form, says, (gold, silver), sd = CERTIFIED[kind]
    lot = floor.new(prefix)
    off = sd * floor.chance.fixed("nominal", lot)
    true = (min(gold + off, 1.0) if gold else 0.0, silver + off if silver and not gold else silver)
    return floor.make(area, lot, of_fineness(mass, *true), Tag(kind), form=form, **says)
