"""The way of a bar through the plant: bonding, rolling, blanking, drawing, assembly, buffing, dispatch."""

from __future__ import annotations

from collections.abc import Generator
from datetime import datetime, timedelta

from year_maker.clock import Course, open_from
from year_maker.floor import Document, Floor, Tag
from year_maker.melting import assay, melt
from year_maker.metal import Metal, of_fineness, total

#: Layer's share of gold in the article, the base, and what is written on a bill.
CLAD = {"CL20": (0.025, "BRASS", "1/20 12K", "20"), "CL10": (0.1 * 14 / 24, "NICKEL-SILVER", "1/10 14K", "10")}
CONTAINERS = ("TOTE-1", "TOTE-2", "TOTE-3", "TOTE-4")
TRAYS = ("TRAY-1", "TRAY-2", "TRAY-3")


def clad_heat(floor: Floor, product: str) -> Course:
    """A heat of karat plate, bonded and rolled to coils, which then go their own ways."""
    alloy = "G12" if product == "CL20" else "G14"
    bar = yield from melt(floor, alloy, floor.chance.between(330, 520, "heat", product))
    sandwich = yield from _bond(floor, bar, product)
    coils = yield from _roll(floor, "BOND", sandwich, product)
    for coil in coils:
        yield from _anneal(floor, coil, product)
    yield floor.later(0.1, 0.2)


def sterling_heat(floor: Floor) -> Course:
    """A heat of sterling, rolled and blanked."""
    bar = yield from melt(floor, "ST925", floor.chance.between(2600, 3800, "heat", "ST"))
    coils = yield from _roll(floor, "MELT", bar, "ST")
    for coil in coils:
        floor.schedule.begin(press_course(floor, coil, "ST"), floor.later(4, 20))


def wire_heat(floor: Floor) -> Course:
    """A heat of 14K, drawn to wire over several shifts; the trim goes into its bin."""
    bar = yield from melt(floor, "G14", floor.chance.between(900, 1400, "heat", "wire"))
    floor.move("MELT", "DRAW", [(bar, None)])
    yield floor.later(1, 4)
    job = floor.new("JD")
    ins, metals = floor.issue("DRAW", [(bar, None)])
    floor.work("DRAWING", "DRAW", ins, [], job=job, machine="bull block 2")
    floor.tags[job] = Tag("JOB")
    floor.put("DRAW", job, metals[0])
    yield floor.later(8, 20)
    spool = floor.new("WI")
    first = floor.take("DRAW", job, metals[0].mass * floor.chance.between(0.35, 0.5, "spool"))
    line = floor.make("DRAW", spool, first, Tag("WIRE", container="SPOOL-1"), form="wire")
    floor.work("DRAWING", "DRAW", [], [line], job=job, machine="bull block 2")
    yield floor.later(6, 16)
    rest = floor.take("DRAW", job)
    left = floor.lose("DRAWING", "DRAW", first + rest) - first
    trim = left.part(left.mass * floor.chance.between(0.12, 0.2, "trim"))
    second = floor.new("WI")
    lines = [
        floor.make("DRAW", second, left - trim, Tag("WIRE", container="SPOOL-2"), form="wire"),
        floor.make("DRAW", "B-TRIM14", trim, Tag("BIN")),
    ]
    floor.work("DRAWING", "DRAW", [], lines, job=job, done=True, machine="bull block 2")
    yield floor.later(2, 8)
    for spool in floor.on_hand("DRAW", "WIRE")[:-2]:
        floor.tags[spool].kind = "SOLD"
        floor.schedule.begin(to_customer(floor, "DRAW", spool, "WIRE"))


def _bond(floor: Floor, bar: str, product: str) -> Generator[datetime, None, str]:
    share, base_kind, mark, _ = CLAD[product]
    floor.move("MELT", "BOND", [(bar, None)])
    yield floor.later(0.3, 2)
    plate = floor.stock["BOND"][bar]
    whole = plate.gold / (share * (1 + floor.chance.between(0.012, 0.024, "lay-up")))
    solder = 0.005 * whole
    items = floor.choose("VAULT", base_kind, whole - plate.mass - solder) + floor.choose("VAULT", "SOLDER", solder)
    _, metals = floor.move("VAULT", "BOND", items)
    brought = [(lot, metal.mass) for (lot, _), metal in zip(items, metals, strict=True)]
    yield floor.later(2, 7)
    ins, metals = floor.issue("BOND", [(bar, None), *(floor.again("BOND", *item) for item in brought)])
    left = floor.lose("BONDING", "BOND", total(metals))
    out = of_fineness(solder * floor.chance.between(0.25, 0.4, "squeeze"), 0.02, 0.38)
    sandwich = floor.new("CB")
    screen = floor.methods["SCREEN"].results
    squeezed = {metal: screen(f, metal, 1, 1)[0][0] for metal, f in (("gold", 0.02), ("silver", 0.38))}
    lines = [
        floor.make("BOND", sandwich, left - out, Tag("SANDWICH", layer=plate.fineness), form="sandwich", planned=mark),
        floor.make("BOND", "B-SQUEEZE", out, Tag("BIN"), fineness=squeezed, method="SCREEN"),
    ]
    floor.work("BONDING", "BOND", ins, lines, machine=floor.chance.pick(("press 1", "press 2"), "press"))
    yield floor.later(2, 6)
    return sandwich


def _roll(floor: Floor, giver: str, lot: str, product: str) -> Generator[datetime, None, list[str]]:
    """To the mill in the other hall, in transit; rolled over two shifts as a job, slit into two coils."""
    sent, metals = floor.move(giver, "ROLL", [(lot, None)], transit=True)
    yield floor.later(3, 16)
    floor.arrive("ROLL", sent, metals)
    yield open_from(floor.now.replace(hour=14, minute=30) + timedelta(minutes=floor.now.minute))
    edge_bin, layer = f"B-EDGE{_suffix(product)}", floor.tags[lot].layer
    kind = "COILST" if product == "ST" else "COIL"
    ins, (whole,) = floor.issue("ROLL", [(lot, None)])
    job = floor.new("JR")
    floor.work("ROLLING", "ROLL", ins, [], job=job, machine="mill 1")
    floor.tags[job] = Tag("JOB")
    floor.put("ROLL", job, whole)
    yield floor.later(7, 11, nights=True)
    first = floor.take("ROLL", job, whole.mass * floor.chance.between(0.44, 0.5, "slit"))
    coils = [floor.new("CC")]
    line = floor.make("ROLL", coils[0], first, Tag(kind, layer=layer), form="coil")
    floor.work("ROLLING", "ROLL", [], [line], job=job, machine="mill 1")
    yield floor.later(4, 12, nights=True)
    left = floor.lose("ROLLING", "ROLL", floor.take("ROLL", job) + first, layer) - first
    edges = left.part(left.mass * floor.chance.between(0.03, 0.06, "edges"))
    coils.append(floor.new("CC"))
    lines = [
        floor.make("ROLL", coils[1], left - edges, Tag(kind, layer=layer), form="coil"),
        floor.make("ROLL", edge_bin, edges, Tag("BIN")),
    ]
    floor.work("ROLLING", "ROLL", [], lines, job=job, done=True, machine="mill 1")
    yield floor.later(2, 6)
    return coils


def _suffix(product: str) -> str:
    return "ST" if product == "ST" else CLAD[product][3]


def _anneal(floor: Floor, coil: str, product: str) -> Course:
    """Anneal and pickle a coil, have its bead determined, and sometimes roll it once more."""
    ins, (metal,) = floor.issue("ROLL", [(coil, None)])
    annealed, layer = floor.new("AN"), floor.tags[coil].layer
    left = floor.lose("ANNEALING", "ROLL", metal)
    mark = CLAD[product][2]
    line = floor.make("ROLL", annealed, left, Tag("COIL", layer=layer), form="coil", planned=mark)
    paper = floor.work(
        "ANNEALING", "ROLL", ins, [line], machine=floor.chance.pick(("furnace 3", "furnace 4"), "anneal")
    )
    paper.document["conditions"] = {"temperature": f"{round(floor.chance.between(610, 640, 'temperature'))} °C"}
    yield floor.later(3, 9)
    assay(floor, annealed, "BEAD", samples=4)
    if floor.chance.between(0, 1, "second pass") < 0.4:
        yield floor.later(2, 8)
        annealed = _pass(floor, annealed, product)
    floor.schedule.begin(press_course(floor, annealed, product), floor.later(4, 14))


def _pass(floor: Floor, coil: str, product: str) -> str:
    """Roll a coil once more, within a shift."""
    ins, (metal,) = floor.issue("ROLL", [(coil, None)])
    thin, layer = floor.new("CC"), floor.tags[coil].layer
    left = floor.lose("ROLLING", "ROLL", metal)
    edges = left.part(left.mass * floor.chance.between(0.01, 0.02, "edges"))
    lines = [
        floor.make("ROLL", thin, left - edges, Tag("COIL", layer=layer), form="coil"),
        floor.make("ROLL", f"B-EDGE{_suffix(product)}", edges, Tag("BIN")),
    ]
    floor.work("ROLLING", "ROLL", ins, lines, machine="mill 2")
    return thin


def press_course(floor: Floor, coil: str, product: str) -> Course:
    """Blank a coil in two parts; the skeleton goes into its bin, the blanks on."""
    for share in (floor.chance.between(0.45, 0.6, "part"), None):
        whole = floor.stock["ROLL"][coil]
        _, (metal,) = floor.move("ROLL", "PRESS", [(coil, None if share is None else whole.mass * share)])
        yield floor.later(0.5, 4)
        blanks = yield from _blank(floor, coil, metal, product)
        onward = assembly_course if product == "CL10" and share is not None else finish_course
        floor.schedule.begin(onward(floor, "PRESS", blanks, product), floor.later(2, 8))
        yield floor.later(3, 14)


def _blank(floor: Floor, coil: str, metal: Metal, product: str) -> Generator[datetime, None, str]:
    lot, layer = floor.new("BL"), floor.tags[coil].layer
    job = floor.new("JP") if floor.chance.between(0, 1, "press", "job") < 0.4 else None
    ins: list[Document] = []
    if job is not None:
        ins, (taken,) = floor.issue("PRESS", [floor.again("PRESS", coil, metal.mass)])
        floor.tags[job] = Tag("JOB")
        floor.put("PRESS", job, taken)
        floor.work("BLANKING", "PRESS", ins, [], job=job, machine="press 4")
    yield floor.later(3, 8)
    if job is not None:
        ins, taken = [], floor.take("PRESS", job)
    else:
        ins, (taken,) = floor.issue("PRESS", [floor.again("PRESS", coil, metal.mass)])
    left = floor.lose("BLANKING", "PRESS", taken)
    skeleton = left.part(left.mass * floor.chance.between(0.24, 0.33, "skeleton"))
    pieces = round((left - skeleton).mass / 3.4)
    tag = Tag("BLANKS", layer=layer, container=floor.chance.pick(CONTAINERS, "tote"))
    lines: list[Document] = [
        floor.make("PRESS", lot, left - skeleton, tag, form="blanks", pieces=pieces),
        floor.make("PRESS", f"B-SKEL{_suffix(product)}", skeleton, Tag("BIN")),
    ]
    floor.work("BLANKING", "PRESS", ins, lines, job=job, done=job is not None, machine="press 4")
    return lot


def assembly_course(floor: Floor, giver: str, blanks: str, product: str) -> Course:
    """Solder blanks and karat wire to frames."""
    floor.move(giver, "ASSEM", [(blanks, None)])
    yield floor.later(1, 5)
    brought: list[tuple[str, float]] = []
    whole = floor.stock["ASSEM"][blanks].mass
    for source, kind, share in (("DRAW", "WIRE", 0.06), ("VAULT", "SOLDER", 0.01)):
        items = floor.choose(source, kind, share * whole)
        if items:
            _, metals = floor.move(source, "ASSEM", items)
            brought += [(lot, metal.mass) for (lot, _), metal in zip(items, metals, strict=True)]
            yield floor.later(0.3, 1.5)
    yield floor.later(3, 8)
    ins, metals = floor.issue("ASSEM", [(blanks, None), *(floor.again("ASSEM", *item) for item in brought)])
    frames = floor.new("FR")
    left = floor.lose("ASSEMBLY", "ASSEM", total(metals))
    tag = Tag("FRAMES", layer=metals[1].fineness if len(metals) > 2 else floor.tags[blanks].layer)
    tag.container = floor.chance.pick(TRAYS, "tray")
    line = floor.make("ASSEM", frames, left, tag, form="frames", planned=CLAD[product][2])
    floor.work("ASSEMBLY", "ASSEM", ins, [line], machine=floor.chance.pick(("bench 1", "bench 2"), "bench"))
    floor.schedule.begin(finish_course(floor, "ASSEM", frames, product), floor.later(2, 8))


def finish_course(floor: Floor, giver: str, lot: str, product: str) -> Course:
    """Buff ware, flash some of the sterling, and send it to dispatch."""
    floor.move(giver, "FINISH", [(lot, None)])
    yield floor.later(2, 9)
    ins, (metal,) = floor.issue("FINISH", [(lot, None)])
    layer = metal.fineness if product == "ST" else floor.tags[lot].layer
    operation = "SILVER-BUFF" if product == "ST" else "BUFFING"
    left = floor.lose(operation, "FINISH", metal, layer)
    ware = floor.new("FB")
    tag = Tag("WARE", layer=layer, container=floor.tags[lot].container)
    line = floor.make("FINISH", ware, left, tag, form="ware", planned=CLAD[product][2] if product in CLAD else product)
    floor.work(operation, "FINISH", ins, [line], machine=floor.chance.pick(("buff 1", "buff 2", "buff 3"), "buff"))
    yield floor.later(1, 5)
    if product == "ST" and floor.chance.between(0, 1, "flash") < 0.5:
        ware = yield from _flash(floor, ware)
        floor.schedule.begin(to_customer(floor, "WET", ware, product))
        return
    floor.schedule.begin(to_customer(floor, "FINISH", ware, product))


def _flash(floor: Floor, ware: str) -> Generator[datetime, None, str]:
    """Flash sterling with fine silver out of the bath."""
    floor.move("FINISH", "WET", [(ware, None)])
    yield floor.later(1, 3)
    ins, (metal,) = floor.issue("WET", [(ware, None)])
    drawn = floor.take("WET", "BATH-AG", metal.mass * floor.chance.between(0.004, 0.006, "flash"))
    ins.append(bath_line(floor, drawn))
    flashed = floor.new("FS")
    left = floor.lose("FLASHING", "WET", metal + drawn)
    line = floor.make("WET", flashed, left, Tag("WARE", layer=left.fineness), form="ware", planned="ST925")
    floor.work("FLASHING", "WET", ins, [line], machine="bath 1")
    yield floor.later(1, 4)
    return flashed


def bath_line(floor: Floor, metal: Metal) -> Document:
    """Return the line of silver in solution: by ampere-hours or titration, as if weighed on the bath's own scale."""
    seen = floor.scales["S-BATH"].read(metal.mass, floor.now)
    solution = float(seen.split()[0]) / 0.032
    return {"bin": "BATH-AG", "mass": f"{solution:.1f} g", "metallic": seen, "scale": "S-BATH"}


def to_customer(floor: Floor, giver: str, ware: str, product: str) -> Course:
    """To dispatch, in transit; and then, days later, to the customer."""
    sent, metals = floor.move(giver, "DISPATCH", [(ware, None)], transit=True)
    yield floor.later(1, 8)
    floor.arrive("DISPATCH", sent, metals)
    floor.schedule.begin(ship(floor, ware, product), floor.later(4, 30))


def billed_as(product: str, metal: Metal) -> object:
    """Return what ware is sold as; assembled, with its karat wire and solder, by content, not by the strip's mark."""
    if product == "ST":
        return {"silver": "925‰"}
    if product == "WIRE":
        return "14K"
    return {"gold": "8.6%"} if product == "CL10" and metal.fineness[0] > 0.07 else CLAD[product][2]


def ship(floor: Floor, ware: str, product: str) -> Course:
    """Ship ware that stands in dispatch."""
    yield floor.later(0.1, 0.6)
    customer = "ALDERTON" if product == "CL20" else "TARNWOOD"
    if product == "CL20" and floor.chance.between(0, 1, "customer") < 0.75:
        customer = "PENROSE"
    returned = customer == "ALDERTON"
    lines, metals = floor.issue("DISPATCH", [(ware, None)])
    lines[0]["billed"] = billed_as(product, metals[0])
    floor.write("ship", "GN", "OT", from_="DISPATCH", party=customer, terms="returned" if returned else "sold",
                against="deposited" if returned else None, lots=lines)  # fmt: skip
