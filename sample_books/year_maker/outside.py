"""The world outside: the refiner, the lender, the customer whose metal it is; and metal that moves on paper."""

from __future__ import annotations

from datetime import datetime, time, timedelta

from year_maker.clock import Course, moment, open_from, working_days
from year_maker.floor import Document, Floor, Item, Tag
from year_maker.metal import Metal, of_fineness
from year_maker.stocks import CERTIFIED

#: Share of the agreed content that the refiner pays for.
ACCOUNTABLE = {"gold": 0.99, "silver": 0.95}


def consignments(floor: Floor) -> Course:
    """Send bars, slag and sweeps to the refiner in the middle of each month."""
    for month in range(1, 13):
        yield open_from(moment(month, 18, 8, 35))
        items: list[Item] = []
        for kind in ("REFINE", "SLAG", "SWEEPS"):
            items += [(lot, None) for lot in floor.on_hand("SCRAP", kind)]
        sent, metals = floor.move("SCRAP", "REFINER", items, transit=True)
        yield floor.later(24, 50)
        floor.arrive("REFINER", sent, metals)
        lots = [lot for lot, _ in items]
        for number in range(0, len(lots), 8):
            at = open_from(floor.now + timedelta(days=20 + floor.chance.between(0, 10, "settle"), minutes=number))
            floor.schedule.begin(_settle(floor, lots[number : number + 8]), at)


def _settle(floor: Floor, lots: list[str]) -> Course:
    """The refiner's out-turn of a few lots."""
    lines = []
    for lot in lots:
        metal = floor.take("REFINER", lot)
        tag = floor.tags[lot]
        wet = metal.mass / (1 - tag.moisture) + tag.foreign
        line: Document = {"lot": lot, "received": floor.scales["S-EDDLE"].read(wet, floor.now)}
        if tag.moisture:
            line["moisture"] = f"{100 * tag.moisture:.1f}%"
        elif tag.foreign:
            line["metallic"] = f"{metal.mass * (1 + 0.003 * floor.chance.normal('refiner')):.3f} g"
        line["agreed"], line["payable"] = _agreed(floor, metal)
        lines.append(line)
        floor.outturn[0] += float(line["payable"]["gold"].split()[0])
    floor.write("settle", "MQ", "OV", area="REFINER", party="EDDLE", lots=lines)
    return
    yield


def _agreed(floor: Floor, metal: Metal) -> tuple[Document, Document]:
    """Return what is agreed and what is paid for: the true content, by the refiner's assay."""
    off = 1 + 0.0004 * floor.chance.normal("refiner", "assay") - floor.refiner_low
    agreed = {"gold": metal.gold * off, "silver": metal.silver * (1 + (off - 1) * 2)}
    written = {m: f"{x:.3f} g" for m, x in agreed.items()}
    return written, {m: f"{x * ACCOUNTABLE[m]:.3f} g" for m, x in agreed.items()}


def paper_metal(floor: Floor) -> Course:
    """Late each month what was settled comes back in kind, goes to the pool or against the lease; leases are priced."""
    for month in range(1, 13):
        yield open_from(moment(month, 22, 9, 20))
        held = floor.outturn[0]
        floor.outturn[0] = 0.0
        if held > 100:
            _in_kind(floor, round(0.6 * held, 1))
            yield floor.now + timedelta(hours=1)
            _on_paper(floor, round(0.2 * held, 2), {"party": "EDDLE", "terms": "pool"}, f"EDDLE P{month:02d}")
            yield floor.now + timedelta(minutes=10)
            lease = {"party": "CORVANE", "terms": "leased"}
            _on_paper(floor, round(0.15 * held, 2), lease, f"CORVANE D{month:02d}")
        yield floor.now + timedelta(minutes=30)
        floor.write(
            "transfer", "MQ", "OV", from_="own", to={"party": "CORVANE", "terms": "leased"}, metal="gold",
            fine="120.0 g", price=f"{2400 + 15 * month}.00 USD/ozt", reference=f"CORVANE L{month:02d}",
            reason="leased metal priced out",
        )  # fmt: skip
        if month % 3 == 0:
            yield floor.now + timedelta(minutes=20)
            floor.write("transfer", "MQ", "OV", from_={"party": "EDDLE", "terms": "pool"}, to="own", metal="gold",
                        fine="60.0 g", reference=f"EDDLE S{month:02d}", reason="sold out of the pool")  # fmt: skip


def _in_kind(floor: Floor, mass: float) -> None:
    lot = floor.new("GB")
    _, form, says, true, _ = CERTIFIED["GOLD"]
    line = floor.make("VAULT", lot, of_fineness(mass, *true), Tag("GOLD"), form=form, **says)
    floor.write("receive", "TH", "NS", party="EDDLE", terms="returned", to="VAULT", lots=[line])


def _on_paper(floor: Floor, fine: float, to: Document, reference: str) -> None:
    settled = {"party": "EDDLE", "terms": "settled"}
    floor.write("transfer", "MQ", "OV", from_=settled, to=to, metal="gold", fine=f"{fine:.2f} g", reference=reference)


def deposits(floor: Floor) -> Course:
    """The customer's old frames come in each month, against his own list; leased bars twice a year."""
    for day in working_days():
        if day.weekday() == 1 and 8 <= day.day <= 14:
            yield datetime.combine(day, time(10, 25))
            _deposit(floor, floor.chance.between(240, 360, "deposit"))
        if day.month in (3, 8) and day.weekday() == 2 and 15 <= day.day <= 21:
            yield datetime.combine(day, time(10, 50))
            _leased(floor, 1000.0 + floor.chance.between(-8, 8, "leased"))


def _deposit(floor: Floor, mass: float) -> None:
    fine = (0.583 + 0.001 * floor.chance.normal("deposit"), 0.2105 + 0.001 * floor.chance.normal("deposit"))
    fire, lot = floor.methods["FIRE"], floor.new("DC")
    found = {m: fire.results(f, m, 1, 1)[0][0] for m, f in zip(("gold", "silver"), fine, strict=True)}
    declared = {
        "gold": f"{fine[0] * 1000 + 0.15 * floor.chance.normal('list'):.1f}‰",
        "silver": f"{fine[1] * 1000:.1f}‰",
    }
    line = floor.make(
        "VAULT", lot, of_fineness(mass, *fine), Tag("DEPOSIT"), form="scrap", fineness=found, method="FIRE",
        declared_mass=f"{mass + 0.02 * floor.chance.normal('list'):.2f} g", declared_fineness=declared,
    )  # fmt: skip
    floor.write("receive", "TH", "NS", party="ALDERTON", terms="deposited", to="VAULT", lots=[line])


def _leased(floor: Floor, mass: float) -> None:
    lot = floor.new("GB")
    _, _, says, true, _ = CERTIFIED["GOLD"]
    line = floor.make(
        "VAULT", lot, of_fineness(mass, *true), Tag("GOLD"), form="bar", serial=f"CT {4400 + len(floor.papers) % 97}",
        declared_mass=f"{mass:.3f} g", declared_fineness={"gold": "999.9‰", "silver": "0.0‰"}, **says,
    )  # fmt: skip
    floor.write("receive", "TH", "NS", party="CORVANE", terms="leased", to="VAULT", lots=[line])


def begin(floor: Floor) -> None:
    """Begin all courses of the world outside."""
    floor.schedule.begin(_opening_lot(floor), moment(1, 12, 9, 10))
    for course in (consignments, paper_metal, deposits):
        floor.schedule.begin(course(floor), moment(1, 2, 6, 12))


def _opening_lot(floor: Floor) -> Course:
    yield floor.later(1, 3)
    floor.schedule.begin(_settle(floor, floor.on_hand("REFINER", "REFINE")))
