"""What the plant holds on 1 January, taken on area by area beside a count."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from year_maker.clock import Course, moment
from year_maker.counting import WALK, sheets
from year_maker.floor import Document, Floor, Tag
from year_maker.metal import Metal, of_fineness
from year_maker.people import on_duty
from year_maker.routes import assembly_course, finish_course, press_course, ship, to_customer
from year_maker.stocks import stock_line

_L12, _L14 = (0.5, 0.2), (0.585, 0.12)


def _lots() -> list[tuple[str, str, float, tuple[float, float], Tag, Document]]:
    """Return area, prefix, mass, true fineness, tag and what the line says, of lots in work at New Year."""
    clad20 = {"fineness": {"gold": "25.420‰", "silver": "11.150‰"}, "method": "BEAD"}
    clad10 = {"fineness": {"gold": "59.260‰", "silver": "13.820‰"}, "method": "BEAD"}
    karat = {"fineness": {"gold": "585.00‰", "silver": "120.10‰"}, "method": "FIRE"}
    sterling = {"fineness": {"gold": "0", "silver": "925.20‰"}, "method": "FIRE"}
    of20, of10 = (0.02542, 0.01115), (0.05926, 0.01382)
    work20, work10 = {**clad20, "layer": "G12"}, {**clad10, "layer": "G14"}
    return [
        ("ROLL", "CC", 4120.0, of20, Tag("COIL", layer=_L12), {"form": "coil", **work20}),
        ("ROLL", "CC", 2605.0, of10, Tag("COIL", layer=_L14), {"form": "coil", **work10}),
        ("PRESS", "BL", 1480.0, of20, Tag("BLANKS", layer=_L12), {"form": "blanks", **work20}),
        ("DRAW", "WI", 410.0, (0.585, 0.1201), Tag("WIRE", container="SPOOL-1"), {"form": "wire", **karat}),
        ("PRESS", "BL", 905.0, of10, Tag("BLANKS", layer=_L14, container="TRAY-2"), {"form": "blanks", **work10}),
        ("FINISH", "BL", 1240.0, (0.0, 0.9252), Tag("BLANKS", layer=(0.0, 0.9252)), {"form": "blanks", **sterling}),
        ("DISPATCH", "FB", 1310.0, of20, Tag("WARE", layer=_L12), {"form": "ware", **work20}),
        ("SCRAP", "DR", 640.0, (0.585, 0.1201), Tag("TRIM14"), {"form": "trim", "class": "KARAT-SCRAP", **karat}),
        ("SCRAP", "DR", 1420.0, (0.0, 0.9252), Tag("TRIMST"), {"form": "trim", "class": "STERLING-SCRAP", **sterling}),
        ("SCRAP", "DR", 3890.0, of20, Tag("CLADSCRAP"), {"form": "trim", "class": "CLAD-SCRAP", **clad20}),
        ("LAB", "RM", 20.0, (0.585, 0.12), Tag("REFERENCE"), {"form": "bar", **karat}),
        ("REFINER", "RB", 9240.0, of20, Tag("REFINE"), {"form": "bar", **clad20}),
    ]  # fmt: skip


def _take_on(floor: Floor, area: str, prefix: str, metal: Metal, tag: Tag, says: Document) -> Document:
    lot = floor.new(prefix)
    fields = {name: value for name, value in says.items() if value is not None}
    return floor.make(area, lot, metal, tag, **fields)


def take_on(floor: Floor) -> Course:
    """Write the opening of every area and the count beside it, and set going what was in work."""
    in_work = _lots()
    for area in WALK:
        lines = [
            _take_on(floor, where, prefix, of_fineness(mass, *fine), tag, says)
            for where, prefix, mass, fine, tag, says in in_work
            if where == area
        ]
        parties = None
        if area == "VAULT":
            lines += _vault(floor)
            parties = [{"party": "EDDLE", "terms": "settled", "metal": "gold", "fine": "212.40 g"}]
        if area in ("BOND", "ASSEM"):
            lines.append(stock_line(floor, area, "SOLDER", 60.0))
        if area == "MELT":
            lines.append(stock_line(floor, area, "COPPER", 850.0))
        if area == "WET":
            lines += _bath(floor)
        floor.write("open", on_duty(area, floor.now), "MQ", area=area, lots=lines or None, parties=parties,
                    dust=_dust(floor, area))  # fmt: skip
        yield floor.now + timedelta(minutes=5)
        sheets(floor, area, f"take-on-{area}")
        yield floor.now + timedelta(minutes=25)
    _set_going(floor)


def _vault(floor: Floor) -> list[Document]:
    lines = [stock_line(floor, "VAULT", kind, mass) for kind, mass in (
        ("GOLD", 1104.0), ("SILVER", 5210.0), ("COPPER", 4480.0), ("BRASS", 38200.0), ("NICKEL-SILVER", 16400.0),
        ("SOLDER", 910.0),
    )]  # fmt: skip
    leased = stock_line(floor, "VAULT", "GOLD", 1500.0) | {"terms": "leased", "party": "CORVANE"}
    deposit = Tag("DEPOSIT")
    metal = of_fineness(286.4, 0.5833, 0.2104)
    says = {"form": "scrap", "fineness": {"gold": "583.3‰", "silver": "210.4‰"}, "method": "FIRE"}
    line = floor.make("VAULT", floor.new("DC"), metal, deposit, **says)
    return [*lines, leased, line | {"terms": "deposited", "party": "ALDERTON"}]


def _bath(floor: Floor) -> list[Document]:
    floor.put("WET", "BATH-AG", of_fineness(180.0, 0.0, 0.999))
    read = floor.scales["S-BATH"].read(180.0, floor.now)
    bath: Document = {"bin": "BATH-AG", "mass": "5610.0 g", "metallic": read, "scale": "S-BATH", "class": "BATH"}
    return [bath | {"fineness": {"gold": "0", "silver": "999.0‰"}, "basis": "measured", "sd": "0.3‰"}]


def _dust(floor: Floor, area: str) -> dict[str, str] | None:
    """Dust as surveyed at New Year: what is truly there, a little wrong."""
    known: dict[str, Any] = {
        "MELT": (1.6, 0.8, 0.5), "ROLL": (8.0, 0.25, 0.12), "PRESS": (7.0, 0.2, 0.1), "DRAW": (1.2, 0.7, 0.14),
        "ASSEM": (4.0, 0.3, 0.12), "FINISH": (2.6, 0.9, 0.7),
    }  # fmt: skip
    if area not in known:
        return None
    true = Metal(*known[area])
    floor.losses.dust[area] = true
    off = 1 + 0.05 * floor.chance.fixed("survey", area)
    return {m: f"{x * off:.3f} g" for m, x in zip(("gross", "gold", "silver"), known[area], strict=True)}


def _set_going(floor: Floor) -> None:
    day = moment(1, 2, 7)
    coils, blanks = floor.on_hand("ROLL", "COIL"), floor.on_hand("PRESS", "BLANKS")
    floor.schedule.begin(press_course(floor, coils[0], "CL20"), day)
    floor.schedule.begin(press_course(floor, coils[1], "CL10"), day + timedelta(hours=2))
    floor.schedule.begin(finish_course(floor, "PRESS", blanks[0], "CL20"), day + timedelta(hours=1))
    floor.schedule.begin(assembly_course(floor, "PRESS", blanks[1], "CL10"), day + timedelta(hours=3))
    floor.schedule.begin(to_customer(floor, "FINISH", floor.on_hand("FINISH", "BLANKS")[0], "ST"), day)
    floor.schedule.begin(ship(floor, floor.on_hand("DISPATCH", "WARE")[0], "CL20"), day)
