"""The floor of the plant: where which metal truly is, and the tickets that are written as it is handled."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from year_maker.chance import Chance
from year_maker.clock import Schedule, open_from
from year_maker.instruments import Method, Scale
from year_maker.losses import Losses
from year_maker.metal import Metal
from year_maker.people import SHIFTS, beside, on_duty, shift_at

Document = dict[str, Any]
#: A lot and how much of it, grams; None is all of it.
Item = tuple[str, float | None]

SCALE_OF = {
    "VAULT": "S-VAULT", "SCRAP": "S-STORE", "MELT": "S-MELT", "LAB": "S-LAB", "BOND": "S-BOND", "ROLL": "S-ROLL",
    "PRESS": "S-PRESS", "DRAW": "S-DRAW", "ASSEM": "S-ASSEM", "FINISH": "S-FINISH", "WET": "S-FINISH",
    "DISPATCH": "S-DISP", "REFINER": "S-EDDLE",
}  # fmt: skip
#: Kinds of metal heavy enough for the platform scale of the vault and the store.
HEAVY = frozenset(("COPPER", "BRASS", "NICKEL-SILVER", "SILVER"))


@dataclass(eq=False)
class Paper:
    """One ticket as written: its number is given last; ``lost`` is a form filled in and never entered."""

    at: datetime
    document: Document
    lost: bool = False
    number: str = ""
    entered: datetime | None = None
    mended: bool = False

    @property
    def kind(self) -> str:
        """Its kind."""
        return str(self.document["kind"])

    def lines(self) -> Iterator[tuple[str, int, Document]]:
        """Yield its lines with their list and place."""
        for side in ("in", "lots", "out"):
            for place, line in enumerate(self.document.get(side, ())):
                yield side, place, line

    def lots(self) -> set[str]:
        """Return the lots, bins and the job it speaks of."""
        named = {line.get("lot") or line["bin"] for _, _, line in self.lines()}
        return named | {self.document[name] for name in ("lot", "job") if name in self.document}


@dataclass
class Tag:
    """What people know of a lot: its kind, its layer, the foreign matter or water in it, its seal and vessel."""

    kind: str
    layer: tuple[float, float] | None = None
    foreign: float = 0.0
    moisture: float = 0.0
    seal: str = ""
    container: str = ""


class Floor:
    """The plant as it truly is."""

    def __init__(self, setup: Document, seed: int) -> None:
        self.chance = Chance(seed)
        self.schedule = Schedule()
        self.areas: list[str] = [area["code"] for area in setup["area"]]
        self.keepers = {area["code"]: area.get("keeper") for area in setup["area"]}
        self.bins = {one["code"]: one["area"] for one in setup["bin"]}
        self.tares = {one["code"]: float(one["tare"].split()[0]) for one in setup["container"]}
        self.scales = {one["code"]: Scale(one, self.chance) for one in setup["scale"]}
        self.methods = {one["code"]: Method(one, self.chance) for one in setup["method"]}
        self.losses = Losses(setup["operation"], self.areas, self.chance)
        self.stock: dict[str, dict[str, Metal]] = {area: {} for area in self.areas}
        self.tags = {code: Tag("BATH" if code == "BATH-AG" else "BIN") for code in self.bins}
        self.made_of: dict[str, tuple[float, float]] = {}
        self.papers: list[Paper] = []
        self.outturn = [0.0]
        self.refiner_low = 0.0
        self.skips_check: Callable[[str, date], bool] = lambda scale, day: False
        self.found_out: Callable[[str, date], bool] = lambda scale, day: False
        self._numbers: dict[str, int] = {}

    # Time and names.

    @property
    def now(self) -> datetime:
        """The moment."""
        return self.schedule.now

    def later(self, low: float, high: float, nights: bool = False) -> datetime:
        """Return a moment between so many working hours from now, when the floor is open."""
        minutes = round(60 * self.chance.between(low, high, "clock"))
        return open_from(self.now + timedelta(minutes=minutes), nights)

    def new(self, prefix: str) -> str:
        """Return the next number of a lot."""
        self._numbers[prefix] = self._numbers.get(prefix, 0) + 1
        return f"{prefix}-{self._numbers[prefix]:04d}"

    # True metal.

    def put(self, area: str, lot: str, metal: Metal) -> None:
        """Put metal down as (a part of) a lot."""
        self.stock[area][lot] = self.stock[area].get(lot, Metal()) + metal
        self.made_of[lot] = self.stock[area][lot].fineness

    def take(self, area: str, lot: str, mass: float | None = None) -> Metal:
        """Take all of a lot in an area, or so many grams."""
        there = self.stock[area][lot]
        taken = there if mass is None else there.part(mass)
        if mass is None:
            del self.stock[area][lot]
        else:
            self.stock[area][lot] = there - taken
        return taken

    def on_hand(self, area: str, kind: str) -> list[str]:
        """Return the lots of a kind in an area, the oldest first."""
        return [lot for lot in self.stock[area] if self.tags[lot].kind == kind]

    def choose(self, area: str, kind: str, mass: float) -> list[Item]:
        """Choose so many grams of a kind, the oldest lots first; what would leave a rest too small is taken whole."""
        items: list[Item] = []
        for lot in self.on_hand(area, kind):
            there = self.stock[area][lot].mass
            if mass <= 0.5:
                break
            part = mass < there - max(0.02 * there, 2.0)
            items.append((lot, mass if part else None))
            mass -= mass if part else there
        return items

    def again(self, area: str, lot: str, mass: float) -> Item:
        """Return the item of a lot that came in with so many grams: all, unless another part of it is there too."""
        return (lot, None if self.stock[area][lot].mass - mass < 0.5 else mass)

    # Lines.

    def scale_for(self, area: str, lot: str) -> Scale:
        """Return the scale that a lot is weighed on in an area."""
        code = SCALE_OF[area]
        if area == "VAULT" and self.tags[lot].kind in HEAVY:
            code = "S-STORE"
        return self.scales["S-DWT" if area == "ASSEM" and self.tags[lot].kind == "WIRE" else code]

    def weighed(self, area: str, lot: str, metal: Metal, plain: bool = False) -> Document:
        """Return the readings of metal of a lot: as a mass, gross with its vessel, or with what is foreign in it."""
        tag, scale = self.tags[lot], self.scale_for(area, lot)
        if tag.foreign:
            seen = metal.mass * (1 + 0.01 * self.chance.normal("metallic"))
            whole = scale.read(metal.mass + tag.foreign, self.now)
            return {"mass": whole, "metallic": f"{seen:.3f} g", "scale": scale.code}
        if tag.moisture:
            seen = tag.moisture + 0.002 * self.chance.normal("moisture")
            whole = scale.read(metal.mass / (1 - tag.moisture), self.now)
            return {"mass": whole, "moisture": f"{100 * seen:.1f}%", "scale": scale.code}
        if tag.container and not plain and scale.unit == "g":
            true_tare = self.tares[tag.container] + 0.01 * self.chance.fixed("tare", tag.container)
            whole = scale.read(metal.mass + true_tare, self.now)
            return {"gross": whole, "container": tag.container, "scale": scale.code}
        return {"mass": scale.read(metal.mass, self.now), "scale": scale.code}

    def named(self, lot: str) -> Document:
        """Return how a line names a lot, or a bin."""
        return {"bin" if lot in self.bins else "lot": lot}

    def issue(self, area: str, items: list[Item]) -> tuple[list[Document], list[Metal]]:
        """Take items out of an area; return the lines and the true metal."""
        lines, metals = [], []
        for lot, mass in items:
            metal = self.take(area, lot, mass)
            lines.append(self.named(lot) | self.weighed(area, lot, metal) | ({"all": True} if mass is None else {}))
            metals.append(metal)
        return lines, metals

    def make(self, area: str, lot: str, metal: Metal, tag: Tag, **fields: Any) -> Document:
        """Put down a new lot, or add to a bin; return its line."""
        if lot not in self.bins:
            self.tags[lot] = tag
        self.put(area, lot, metal)
        return (
            self.named(lot)
            | self.weighed(area, lot, metal)
            | {name.rstrip("_"): value for name, value in fields.items()}
        )

    # Tickets.

    def write(self, kind: str, by: str, witness: str | None = None, **fields: Any) -> Paper:
        """Write a ticket of this moment."""
        document: Document = {"ticket": "", "kind": kind, "at": "", "by": by}
        if witness is not None and witness != by:
            document["witness"] = witness
        for name, value in fields.items():
            if value is not None:
                document[name.rstrip("_")] = value
        paper = Paper(self.now, document)
        self.papers.append(paper)
        return paper

    def move(self, giver: str, taker: str, items: list[Item], transit: bool = False) -> tuple[Paper, list[Metal]]:
        """Move items from one area to another; in transit they are nowhere until they arrive."""
        lines, metals = [], []
        for lot, mass in items:
            tag = self.tags[lot]
            metal = self.take(giver, lot, mass)
            if tag.seal:
                line = {"lot": lot, "all": True, "seal": tag.seal}
            else:
                line = self.named(lot) | self.weighed(giver, lot, metal) | ({"all": True} if mass is None else {})
            if not transit:
                self.put(taker, lot, metal)
                if not tag.seal:
                    read = self.weighed(taker, lot, metal, plain=True)
                    line |= {"received_mass": read["mass"], "received_scale": read["scale"]}
            lines.append(line)
            metals.append(metal)
        by = on_duty(giver, self.now)
        paper = self.write(
            "move", by, beside(taker, self.now, by), from_=giver, to=taker, lots=lines, in_transit=transit or None
        )
        return paper, metals

    def arrive(self, taker: str, sent: Paper, metals: list[Metal]) -> Paper:
        """Weigh what has arrived, without the sender's figures in sight."""
        lines = []
        for line, metal in zip(sent.document["lots"], metals, strict=True):
            lot = line["lot"]
            self.put(taker, lot, metal)
            if "seal" in line:
                lines.append({"lot": lot, "all": True, "seal": line["seal"]})
            else:
                lines.append({"lot": lot} | self.weighed(taker, lot, metal))
        by = on_duty(taker, self.now)
        return self.write("arrive", by, beside(taker, self.now, by), of=sent, lots=lines)

    def work(
        self, operation: str, area: str, ins: list[Document], outs: list[Document], job: str | None = None,
        done: bool = False, machine: str | None = None,
    ) -> Paper:  # fmt: skip
        """Write a work ticket."""
        by = on_duty(area, self.now)
        return self.write(
            "work", by, beside(area, self.now, by) if area == "MELT" else None, workers=[by],
            shift=SHIFTS[shift_at(self.now)], machine=machine, operation=operation, area=area, in_=ins or None,
            out=outs or None, job=job, done=done or None,
        )  # fmt: skip

    def lose(self, operation: str, area: str, metal: Metal, layer: tuple[float, float] | None = None) -> Metal:
        """Return what is left of metal after an operation in an area, this month."""
        return self.losses.lose(operation, area, self.now.month, metal, layer)
