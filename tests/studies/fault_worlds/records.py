"""Records wrong otherwise than by a mass: composition, doubles, what is not there, counts, areas and dates."""

from __future__ import annotations

import json
from collections.abc import Iterator
from copy import deepcopy
from datetime import timedelta
from random import Random

from tests.studies.fault_worlds.base import Base, grams
from tests.studies.fault_worlds.plans import Plan, edit_of, log_uniform
from tests.studies.fault_worlds.truth import Band
from tests.studies.fault_worlds.world import Document, Paper, World, last_working_day, moment

#: A line of a paper: the list, its place, the line.
Line = tuple[str, int, Document]

#: What an alloy is taken for at goods-in.
_TAKEN_FOR = {"G14": ("G10", "G12"), "G10": ("G14",), "FINE-SILVER": ("ST925",), "SOLDER": ("ST925", "FINE-SILVER")}
_FINE_OF = {"G14": 0.585, "G12": 0.5, "G10": 10 / 24, "FINE-SILVER": 0.999, "ST925": 0.925, "SOLDER": 0.45}


def _lines(base: Base, *kinds: str) -> list[tuple[Paper, Line]]:
    return [(paper, line) for paper in base.in_period if paper.kind in kinds for line in paper.lines()]


def _name(line: Document) -> str:
    return str(line.get("lot") or line.get("bin"))


def _mass(base: Base, line: Document) -> float:
    if "gross" in line:
        return grams(line["gross"]) - base.world.floor.tares.get(line.get("container", ""), 0.0)
    return grams(line["mass"]) if "mass" in line else 0.0


def karat(base: Base, chance: Random, band: Band) -> Plan | None:
    """Plan a wrong alloy on a receipt."""
    found = [(p, x) for p, x in _lines(base, "receive") if x[2].get("alloy") in _TAKEN_FOR]
    if not found or band.low < 5:
        return None
    paper, (side, place, line) = chance.choice(found)
    wrong = chance.choice(_TAKEN_FOR[line["alloy"]])
    metal = "gold" if line["alloy"].startswith("G") else "silver"
    size = _mass(base, line) * (_FINE_OF[wrong] - _FINE_OF[line["alloy"]])

    def change(world: World, own: Paper) -> list[Paper] | None:
        own.document[side][place]["alloy"] = wrong
        return [own]

    return Plan("karat", "receive alloy", str(paper.document["to"]), (_name(line),), size=size, metal=metal,
                says=f"{_name(line)}: {line['alloy']} keyed {wrong}", edit=edit_of(base, paper, change))  # fmt: skip


def duplicate(base: Base, chance: Random, band: Band) -> Plan | None:
    """Plan a receipt entered again, under its lots or as new ones, or a move of a part entered again."""
    if band.low < 5:
        return None
    receipts = [p for p in base.in_period if p.kind == "receive" and p.document["terms"] == "bought"]
    parts = [p for p in base.in_period if p.kind == "move" and not any(x[2].get("all") for x in p.lines())]
    kind = chance.choice(("receipt", "receipt again", "part move"))
    papers = parts if kind == "part move" else receipts
    if not papers:
        return None
    paper = chance.choice(papers)
    later = timedelta(minutes=chance.randint(3, 200)) if kind == "part move" else timedelta(hours=chance.randint(2, 60))
    renamed = kind == "receipt"
    lots = tuple(_name(line) for *_, line in paper.lines())
    more = tuple(f"{lot}B" for lot in lots) if renamed else ()

    def change(world: World, own: Paper) -> list[Paper] | None:
        again = Paper(own.at + later, deepcopy(own.document), mended=True)
        if renamed:
            for line in again.document["lots"]:
                line["lot"] = f"{line['lot']}B"
        own.mended = True
        world.papers.append(again)
        return [own, again]

    size = sum(_mass(base, line) for *_, line in paper.lines())
    area = str(paper.document.get("from") or paper.document["to"])
    return Plan("duplicate", kind, area, lots + more, size=size, says=f"{kind} of {', '.join(lots)} entered twice",
                edit=edit_of(base, paper, change), whole=True)  # fmt: skip


def missing_ticket(base: Base, chance: Random, band: Band) -> Plan | None:
    """Plan a shipment, a dissolved sample, a bath fed or a settlement that is not in the book; half without a gap."""
    if band.low < 5:
        return None
    day = last_working_day(base.world.months)
    kinds_left_out = ("ship", "discard", "settle")
    found = [
        p for p in base.in_period
        if p.at.date() <= day and (p.kind in kinds_left_out or p.document.get("operation") == "BATH-FEED")
    ]
    if not found:
        return None
    kinds = sorted({p.kind for p in found})
    kind = chance.choice(kinds)
    paper = chance.choice([p for p in found if p.kind == kind])
    numbered = chance.random() < 0.5

    def change(world: World, own: Paper) -> list[Paper] | None:
        own.mended = own.lost = True
        if not numbered:
            world.papers.remove(own)
            return []
        return [own]

    lots = tuple(dict.fromkeys(_name(line) for *_, line in paper.lines()))
    area = str(paper.document.get("area") or paper.document.get("from"))
    size = sum(_mass(base, line) for *_, line in paper.lines())
    mode = f"{kind}, {'its number missing' if numbered else 'no number'}"
    return Plan("missing_ticket", mode, area, lots, size=size, says=f"{kind} of {', '.join(lots)} not entered",
                edit=edit_of(base, paper, change), whole=True)  # fmt: skip


def _sheets(base: Base) -> list[Paper]:
    """Return the month-end sheets of areas that one team counts."""
    prefix = f"{last_working_day(base.world.months):%Y-%m}-"
    return [
        p for p in base.in_period
        if p.kind == "count" and str(p.document.get("count", "")).startswith(prefix)
        and p.document["area"] not in ("VAULT", "REFINER") and p.document.get("lots")
    ]  # fmt: skip


def _weighed_lines(base: Base) -> list[tuple[Paper, Line]]:
    return [(p, x) for p in _sheets(base) for x in p.lines() if "metallic" not in x[2] and _mass(base, x[2]) > 0]


def uncounted(base: Base, chance: Random, band: Band) -> Plan | None:
    """Plan a lot left off the sheets."""
    found = _weighed_lines(base)
    if not found or band.low < 5:
        return None
    paper, (side, place, line) = chance.choice(found)

    def change(world: World, own: Paper) -> list[Paper] | None:
        own.document[side].pop(place)
        if not own.document[side]:
            del own.document[side]
            own.document["nil"] = True
        return [own]

    return Plan("uncounted", "left off", str(paper.document["area"]), (_name(line),), size=-_mass(base, line),
                says=f"{_name(line)} is on no sheet", edit=edit_of(base, paper, change), whole=True)  # fmt: skip


def counted_twice(base: Base, chance: Random, band: Band) -> Plan | None:
    """Plan a lot on the sheets twice, weighed each time."""
    found = _weighed_lines(base)
    if not found or band.low < 5:
        return None
    paper, (*_, line) = chance.choice(found)
    again = deepcopy(line)
    name = "gross" if "gross" in line else "mass"
    number, unit = line[name].split()
    places = len(number.split(".")[1])
    again[name] = f"{float(number) + chance.choice((-1, 0, 0, 1)) * 10.0**-places:.{places}f} {unit}"
    last = [p for p in _sheets(base) if p.document["area"] == paper.document["area"]][-1]

    def change(world: World, own: Paper) -> list[Paper] | None:
        on = own if last is paper else base.find(world, last)
        if on is None:
            return None
        on.document["lots"].append(again)
        return list(dict.fromkeys((own, on)))

    return Plan("counted_twice", "same sheet" if last is paper else "two sheets", str(paper.document["area"]),
                (_name(line),), size=_mass(base, line), says=f"{_name(line)} is counted twice",
                edit=edit_of(base, paper, change), whole=True)  # fmt: skip


def wrong_area(base: Base, chance: Random, band: Band) -> Plan | None:
    """Plan a move booked to a wrong area, or a counted lot written on a wrong area's sheet."""
    if band.low < 5:
        return None
    found = list(_next_counted(base))
    if found and chance.random() < 0.5:
        paper = chance.choice(found)
        line = paper.document["lots"][0]
        right, giver = paper.document["to"], paper.document["from"]
        areas = [a for a in base.world.floor.areas if a not in (right, giver, "REFINER", "VAULT")]
        wrong = chance.choice(areas)

        def redirect(world: World, own: Paper) -> list[Paper] | None:
            own.document["to"], own.mended = wrong, True
            return [own]

        return Plan("wrong_area", "move", right, (_name(line),), size=_mass(base, line),
                    says=f"{_name(line)} went to {right}; the ticket says {wrong}",
                    edit=edit_of(base, paper, redirect), whole=True)  # fmt: skip
    return _on_wrong_sheet(base, chance)


def _on_wrong_sheet(base: Base, chance: Random) -> Plan | None:
    sheets = [s for s in _sheets(base) if not s.document.get("nil")]
    found = [(p, x) for p, x in _weighed_lines(base) if "lot" in x[2] and not _name(x[2]).startswith("J")]
    if not found:
        return None
    paper, (side, place, line) = chance.choice(found)
    others = [s for s in sheets if s.document["area"] != paper.document["area"]]
    if not others:
        return None
    other = chance.choice(others)

    def change(world: World, own: Paper) -> list[Paper] | None:
        on = base.find(world, other)
        if on is None:
            return None
        on.document["lots"].append(own.document[side].pop(place))
        if not own.document[side]:
            del own.document[side]
            own.document["nil"] = True
        return [on, own]

    return Plan("wrong_area", "count sheet", str(paper.document["area"]), (_name(line),), size=_mass(base, line),
                says=f"{_name(line)} of {paper.document['area']} is on the sheet of {other.document['area']}",
                edit=edit_of(base, paper, change), whole=True)  # fmt: skip


def _next_counted(base: Base) -> Iterator[Paper]:
    """Yield moves of one lot that is next handled by a count where it went."""
    for at, paper in enumerate(base.papers):
        document = paper.document
        if paper.kind != "move" or paper.mended or document.get("in_transit") or len(document["lots"]) != 1:
            continue
        if paper not in base.in_period or "received_mass" not in document["lots"][0]:
            continue
        lot = _name(document["lots"][0])
        after = next((p for p in base.papers[at + 1 :] if lot in p.lots()), None)
        if after is not None and after.kind == "count" and after.document["area"] == document["to"]:
            yield paper


def wrong_period(base: Base, chance: Random, band: Band) -> Plan | None:
    """Plan what left in the month's last days and is dated in the next."""
    if band.low < 5:
        return None
    months = base.world.months
    day = last_working_day(months)
    found = [p for p in base.in_period if p.kind in ("ship", "discard") and 0 <= (day - p.at.date()).days <= 7]
    if not found:
        return None
    paper = chance.choice(found)
    dated = moment(months + 1, 1, 9) + timedelta(days=chance.randint(1, 2), minutes=chance.randint(0, 90))

    def change(world: World, own: Paper) -> list[Paper] | None:
        own.at, own.mended = dated, True
        return [own]

    lots = tuple(_name(line) for *_, line in paper.lines())
    area = str(paper.document.get("area") or paper.document["from"])
    return Plan("wrong_period", paper.kind, area, lots, size=sum(_mass(base, x[2]) for x in paper.lines()),
                says=f"{', '.join(lots)} left before the count; the ticket says {dated:%Y-%m-%d}",
                edit=edit_of(base, paper, change), whole=True)  # fmt: skip


def determination(base: Base, chance: Random, band: Band) -> Plan | None:
    """Plan an assay that found too much or too little of one metal, all its determinations alike."""
    papers = [p for p in base.in_period if p.kind == "assay"]
    chance.shuffle(papers)
    for paper in papers:
        metal = chance.choice(sorted(paper.document["results"]))
        worth = _worth_of_one(base, paper, metal)
        if worth is None:
            continue
        off = chance.choice((-1, 1)) * log_uniform(chance, band.low, min(band.high, 40.0)) * worth
        if off > -0.0004 and metal == "gold" and float(paper.document["results"][metal][0][0].rstrip("‰")) < 1:
            continue
        return _misread(base, paper, metal, off, abs(off) / worth)
    return None


def _worth_of_one(base: Base, paper: Paper, metal: str) -> float | None:
    """Return the fineness by which an assay must be off for one σ of what it shows."""
    at = ("gross", "gold", "silver").index(metal)
    rows = base.connection.execute(
        "SELECT l.number, l.content FROM line AS l JOIN ticket AS t ON t.seq = l.ticket WHERE t.number = ?",
        (paper.number,),
    )
    worths = [
        one.sigmas[at] / json.loads(content)[0]
        for number, content in rows for one in base.differences.of_line(paper.number, number)
        if one.kind == "revaluation" and one.sigmas[at] > 1 and json.loads(content)[0] > 0
    ]  # fmt: skip
    return min(worths, default=None)


def _misread(base: Base, paper: Paper, metal: str, off: float, multiple: float) -> Plan:
    results: list[list[str]] = paper.document["results"][metal]
    places = len(results[0][0].rstrip("‰").split(".")[1])
    wrong = [[f"{max(float(one.rstrip('‰')) + off * 1000, 0.0):.{places}f}‰" for one in sample] for sample in results]
    lot = str(paper.document["lot"])

    def change(world: World, own: Paper) -> list[Paper] | None:
        own.document["results"][metal] = wrong
        return [own]

    what = {"method": str(paper.document["method"])}
    area = next((o.area for o in base.differences.all if o.number == paper.number), "LAB")
    return Plan("determination", what["method"], area, (lot,), what, off, metal,
                f"assay of {lot}: {metal} {off * 1000:+.3f}‰", edit=edit_of(base, paper, change),
                multiple=multiple)  # fmt: skip
