"""Making up charges, melting, sampling and assay: from the vault and the scrap store to an assayed bar."""

from __future__ import annotations

from collections.abc import Generator
from datetime import datetime, timedelta

from year_maker.clock import Course, open_from
from year_maker.floor import Document, Floor, Item, Tag
from year_maker.instruments import mean
from year_maker.metal import Metal, total
from year_maker.people import on_duty

#: Fineness aimed at (gold, silver), the scrap that goes back into it and the most of it, and the operation.
ALLOYS = {
    "G12": (0.5, 0.2, "TRIM12", 0.3, "MELTING"),
    "G14": (0.585, 0.12, "TRIM14", 0.35, "MELTING"),
    "ST925": (0.0, 0.925, "TRIMST", 0.4, "SILVER-MELT"),
}
#: What metal of a kind is taken to hold when a charge is made up.
TAKEN_AS = {"TRIM14": (0.585, 0.12), "TRIMST": (0.0, 0.925), "DEPOSIT": (0.583, 0.21), "KARAT": (0.585, 0.12)}


def _charge(floor: Floor, alloy: str, mass: float) -> tuple[list[Item], list[Item]]:
    """Return what is taken from the scrap store and what from the vault."""
    gold, silver, scrap, most, _ = ALLOYS[alloy]
    from_store = floor.choose("SCRAP", scrap, most * mass)
    old = floor.choose("VAULT", "DEPOSIT", 0.25 * mass) if alloy == "G14" else []
    old += floor.choose("VAULT", "KARAT", 0.15 * mass) if alloy == "G14" else []
    held = [(area, item) for area, items in (("SCRAP", from_store), ("VAULT", old)) for item in items]
    need_gold, need_silver, rest = gold * mass, silver * mass, mass
    for area, (lot, part) in held:
        there = part if part is not None else floor.stock[area][lot].mass
        fine = TAKEN_AS[floor.tags[lot].kind]
        need_gold, need_silver, rest = need_gold - there * fine[0], need_silver - there * fine[1], rest - there
    from_vault = old + floor.choose("VAULT", "GOLD", max(need_gold, 0) * 1.001)
    from_vault += floor.choose("VAULT", "SILVER", max(need_silver, 0) * 1.002)
    from_vault += floor.choose("VAULT", "COPPER", max(rest - max(need_gold, 0) - max(need_silver, 0), 0) * 1.004)
    return from_store, from_vault


def melt(floor: Floor, alloy: str, mass: float) -> Generator[datetime, None, str]:
    """Charge, melt, sample and assay a bar; the course's result is its lot."""
    from_store, from_vault = _charge(floor, alloy, mass)
    charge = []
    for giver, items in (("SCRAP", from_store), ("VAULT", from_vault)):
        if items:
            _, metals = floor.move(giver, "MELT", items)
            charge += [(lot, metal.mass) for (lot, _), metal in zip(items, metals, strict=True)]
    yield floor.later(0.3, 0.9)
    returned = [(lot, floor.stock["MELT"][lot].mass) for lot in floor.on_hand("MELT", f"SAMPLE-{alloy}")]
    brought = charge + returned
    operation = ALLOYS[alloy][-1]
    if floor.chance.between(0, 1, "melt", "job") < 0.3:
        bar, outs = yield from _as_job(floor, alloy, brought)
    else:
        yield floor.later(1.5, 3)
        ins, metals = floor.issue("MELT", [floor.again("MELT", *item) for item in brought])
        bar, outs = _pour(floor, alloy, total(metals))
        floor.work(operation, "MELT", ins, outs, machine=floor.chance.pick(("induction 1", "induction 2"), "furnace"))
    floor.schedule.begin(_sample(floor, alloy, outs[-1]["lot"], bar), floor.later(0.5, 1.5))
    yield open_from((floor.now + timedelta(days=1)).replace(hour=9, minute=30))
    yield floor.later(0.5, 3)
    assay(floor, bar, "FIRE", silver_only=alloy == "ST925")
    yield floor.later(0.5, 2)
    return bar


def _as_job(
    floor: Floor, alloy: str, items: list[tuple[str, float]]
) -> Generator[datetime, None, tuple[str, list[Document]]]:
    """Charge in one shift and pour in the next."""
    ins, metals = floor.issue("MELT", [floor.again("MELT", *item) for item in items])
    operation, job = ALLOYS[alloy][-1], floor.new("JM")
    floor.tags[job] = Tag("JOB")
    floor.put("MELT", job, total(metals))
    floor.work(operation, "MELT", ins, [], job=job, machine="induction 1")
    yield floor.later(5, 13, nights=True)
    bar, outs = _pour(floor, alloy, floor.take("MELT", job))
    floor.work(operation, "MELT", [], outs, job=job, done=True, machine="induction 1")
    return bar, outs


def _pour(floor: Floor, alloy: str, molten: Metal) -> tuple[str, list[Document]]:
    """Pour a bar, skim the slag, take a dip sample."""
    left = floor.lose(ALLOYS[alloy][-1], "MELT", molten)
    bar = floor.new("PL" if alloy == "G12" else "KB" if alloy == "G14" else "SB")
    prills = left.part(left.mass * floor.chance.between(0.0008, 0.0016, "slag"))
    dip = (left - prills).part(floor.chance.between(1.6, 3.2, "dip"))
    poured = left - prills - dip
    slag, sample = floor.new("SL"), floor.new("SA")
    kind = {"G12": "PLATE12", "G14": "BAR14", "ST925": "BARST"}[alloy]
    seal = f"7{1000 + len(floor.papers):05d}"
    of_slag = Tag("SLAG", foreign=floor.chance.between(5, 14, "flux"), seal=seal)
    lines = [
        floor.make("MELT", bar, poured, Tag(kind), form="bar", planned={"G12": "12K", "G14": "14K"}.get(alloy, alloy)),
        floor.make("MELT", slag, prills, of_slag, form="slag", class_="SLAG", content=guess(floor, prills),
                   basis="estimated", seal=seal),
    ]  # fmt: skip
    floor.tags[sample] = Tag("SAMPLE")
    floor.put("MELT", sample, dip)
    read = floor.scales["S-LAB"].read(dip.mass, floor.now)
    lines.append({"lot": sample, "mass": read, "scale": "S-LAB", "form": "sample"})
    return bar, lines


def guess(floor: Floor, metal: Metal, sd: float = 0.15) -> Document:
    """Return the content that people estimate of a residue."""
    off = max(1 + sd * floor.chance.normal("estimate"), 0.3)
    off = min(off, 0.96 * metal.mass / (metal.gold + metal.silver))
    return {"gold": f"{metal.gold * off:.3f} g", "silver": f"{metal.silver * off:.3f} g"}


def assay(floor: Floor, lot: str, method: str, silver_only: bool = False, samples: int = 2) -> None:
    """Write the assay of a lot by its true fineness, wherever it stands."""
    area = next(area for area in floor.areas if lot in floor.stock[area])
    gold, silver = floor.stock[area][lot].fineness
    found = floor.methods[method].results
    results = {} if silver_only else {"gold": found(gold, "gold", samples)}
    results["silver"] = found(silver, "silver", samples)
    apply = "melt" if method == "FIRE" else "lot"
    floor.write("assay", on_duty("LAB", floor.now), lot=lot, method=method, results=results, apply=apply)


def _sample(floor: Floor, alloy: str, sample: str, bar: str) -> Course:
    """The sample goes to the laboratory, and is dissolved there, or comes back for the next melt."""
    floor.move("MELT", "LAB", [(sample, None)])
    yield open_from((floor.now + timedelta(days=2)).replace(hour=8, minute=0))
    yield floor.later(1, 8)
    if floor.chance.between(0, 1, "sample") < 0.3:
        floor.move("LAB", "MELT", [(sample, None)])
        floor.tags[sample].kind = f"SAMPLE-{alloy}"
        return
    line, (metal,) = floor.issue("LAB", [(sample, None)])
    fire = floor.methods["FIRE"]
    found = {m: mean(fire.results(f, m)) for m, f in zip(("gold", "silver"), metal.fineness, strict=True)}
    mass = float(line[0]["mass"].split()[0])
    line[0]["content"] = {m: f"{mass * (f if f > 0.001 else 0.0):.4f} g" for m, f in found.items()}
    line[0]["basis"] = "measured"
    by = on_duty("LAB", floor.now)
    floor.write("discard", by, "XI" if by == "QA" else "QA", area="LAB", lots=line,
                note="dip sample, dissolved in the laboratory")  # fmt: skip


def clad_scrap(floor: Floor) -> Course:
    """Melt drums of clad scrap to a bar for the refiner; it is always assayed."""
    items: list[Item] = [(lot, None) for lot in floor.on_hand("SCRAP", "CLADSCRAP")[:7]]
    if not items:
        return
    _, metals = floor.move("SCRAP", "MELT", items)
    yield floor.later(0.5, 1.5)
    ins, metals = floor.issue("MELT", items)
    job = floor.new("JM")
    floor.tags[job] = Tag("JOB")
    floor.put("MELT", job, total(metals))
    floor.work("SCRAP-MELT", "MELT", ins, [], job=job, machine="tilting furnace")
    yield floor.later(3, 9, nights=True)
    left = floor.lose("SCRAP-MELT", "MELT", floor.take("MELT", job))
    bar = floor.new("RB")
    line = floor.make("MELT", bar, left, Tag("REFINE"), form="bar")
    floor.work("SCRAP-MELT", "MELT", [], [line], job=job, done=True, machine="tilting furnace")
    yield floor.later(6, 10)
    assay(floor, bar, "BEAD", samples=4)
    yield floor.later(1, 3)
    floor.move("MELT", "SCRAP", [(bar, None)])
