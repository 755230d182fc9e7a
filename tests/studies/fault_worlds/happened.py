"""What happens to instruments, work, dust and settlements: scales out, losses changed, dust gone, a refiner low."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from functools import partial
from random import Random
from typing import Any

from tests.studies.fault_worlds.base import Base
from tests.studies.fault_worlds.plans import Plan
from tests.studies.fault_worlds.truth import Band
from tests.studies.fault_worlds.world import Course, Floor, Metal, Paper, moment, share


def scale(base: Base, chance: Random, band: Band) -> Plan | None:
    """Plan a scale out by a factor from a day of the month on; its check weights are read, or left out."""
    used = {str(x.line.get(name, "")) for x in base.readings() for name in ("scale", "received_scale")}
    code = chance.choice(sorted(used - {"", "S-BATH"}))
    begins = date(2026, base.world.months, chance.randint(3, 20))
    checked = chance.random() < 0.5
    area = next(x.area for x in base.readings() if x.line.get("scale") == code or x.line.get("received_scale") == code)

    def sized(factor: float) -> Plan:
        prepare = partial(_out, code, begins, factor, checked)
        return Plan("scale", "checks read" if checked else "checks left out", area, what={"scale": code}, size=factor,
                    says=f"{code} out by {factor:+.4%} from {begins}", prepare=prepare, diffuse=True)  # fmt: skip

    return replace(sized(chance.choice((-1, 1)) * 0.005), scaled=sized, limits=(0.0001, 0.02))


def _out(code: str, begins: date, factor: float, checked: bool, floor: Floor) -> None:
    floor.scales[code].out_by = lambda now: factor if now.date() >= begins else 0.0
    if not checked:
        floor.skips_check = lambda scale_, day: scale_ == code and day >= begins


def loss_rate(base: Base, chance: Random, band: Band) -> Plan | None:
    """Plan an operation that loses more or less than is stated, all month."""
    rated = base.world.floor.losses.operations
    used = sorted({str(p.document["operation"]) for p in base.in_period if p.kind == "work"})
    code = chance.choice([one for one in used if any(share(x) for x in rated[one]["loss"].values())])
    area = next(str(p.document["area"]) for p in base.in_period if p.document.get("operation") == code)

    def sized(more: float) -> Plan:
        return Plan("loss_rate", "more" if more > 0 else "less", area, what={"operation": code}, size=more,
                    says=f"{code} loses {more:+.1%} of what is stated", prepare=partial(_losing, code, more),
                    diffuse=True)  # fmt: skip

    way = chance.choice((-1, 1))
    return replace(sized(2.5 if way > 0 else -0.9), scaled=sized, limits=(0.02, 0.9 if way < 0 else 3.0))


def _losing(code: str, more: float, floor: Floor) -> None:
    rates = floor.losses.operations[code]
    loss = {metal: f"{100 * max(share(text) * (1 + more), 0.0):.8f}%" for metal, text in rates["loss"].items()}
    floor.losses.operations[code] = rates | {"loss": loss}


def estimate(base: Base, chance: Random, band: Band) -> Plan | None:
    """Plan dust that leaves before the clean-out: the buffing shop's in any month, others' at a quarter's end."""
    swept = [p for p in base.in_period if p.kind == "sweep" and p.document.get("cleaned_out")]
    if not swept:
        return None
    area = str(chance.choice(swept).document["area"])
    at = [p for p in base.in_period if p.kind == "sweep" and p.document["area"] == area]
    lots = tuple(str(line["lot"]) for p in at for *_, line in p.lines())

    def sized(part: float) -> Plan:
        def edit(world: Any) -> list[Paper]:
            return [p for p in world.papers if p.kind == "sweep" and p.document["area"] == area and p.at >= at[0].at]

        says = f"{part:.0%} of the dust of {area} left before it was swept"
        return Plan("estimate", "dust gone", area, lots, size=part, metal="gold", says=says,
                    prepare=partial(_gone, at, area, part), edit=edit, dust=True)  # fmt: skip

    return replace(sized(0.4), scaled=sized, limits=(0.03, 0.95))


def _gone(sweeps: list[Paper], area: str, part: float, floor: Floor) -> None:
    def course() -> Course:
        for paper in sweeps:
            yield paper.at - timedelta(minutes=10)
            floor.losses.dust[area] = floor.losses.dust[area].times(1 - part)

    floor.schedule.begin(course(), moment(1, 2, 6, 1))


def salted(base: Base, chance: Random, band: Band) -> Plan | None:
    """Plan sweeps robbed after they were taken up and estimated: what settles is poorer than what was sealed."""
    settled = [p for p in base.in_period if p.kind == "settle"]
    out = {str(line["lot"]) for p in settled for *_, line in p.lines()}
    swept = [
        (p, str(line["lot"])) for p in base.papers if p.kind == "sweep" and p.document["area"] == "FINISH"
        for *_, line in p.lines() if line["lot"] in out
    ]  # fmt: skip
    if not swept:
        return None
    part = chance.uniform(0.6, 0.95)

    def prepare(floor: Floor) -> None:
        for paper, lot in swept:
            floor.schedule.begin(_robbed(floor, lot, part), paper.at + timedelta(minutes=25))

    says = f"{part:.0%} of the fine metal in {len(swept)} drums of sweeps changed for filings"
    return Plan("estimate", "sweeps salted", "FINISH", tuple(lot for _, lot in swept), size=part, metal="gold",
                says=says, prepare=prepare, whole=True)  # fmt: skip


def _robbed(floor: Floor, lot: str, part: float) -> Course:
    for stock in floor.stock.values():
        if lot in stock:
            there = stock[lot]
            stock[lot] = Metal(there.mass, there.gold * (1 - part), there.silver * (1 - part))
    return
    yield


def settlement(base: Base, chance: Random, band: Band) -> Plan | None:
    """Plan a refiner who agrees to less than is there, every time."""
    settled = [p for p in base.in_period if p.kind == "settle"]
    if not settled:
        return None
    lots = tuple(str(line["lot"]) for p in settled for *_, line in p.lines())

    def sized(low: float) -> Plan:
        def prepare(floor: Floor) -> None:
            floor.refiner_low = low

        def edit(world: Any) -> list[Paper]:
            return [p for p in world.papers if p.kind == "settle"]

        return Plan("settlement", "always low", "REFINER", lots, {"party": "EDDLE"}, low, "gold",
                    f"EDDLE agrees to {low:.3%} less than is there", prepare, edit, diffuse=True)  # fmt: skip

    return replace(sized(0.05), scaled=sized, limits=(0.0002, 0.05))
