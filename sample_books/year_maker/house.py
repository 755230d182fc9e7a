"""The house around the work: check weights, bins emptied, sweeps, slag to the store, purchases, scrap melted."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

from year_maker.clock import Course, last_working_day, moment, open_from, working_days
from year_maker.floor import Document, Floor, Paper, Tag
from year_maker.instruments import GRAMS
from year_maker.melting import clad_scrap, guess
from year_maker.people import beside, on_duty
from year_maker.routes import bath_line, clad_heat, sterling_heat, wire_heat
from year_maker.stocks import stock_line

#: Scale → the area whose people check it, and its check weight.
CHECKED = {
    "S-VAULT": ("VAULT", "1000.0 g"), "S-STORE": ("SCRAP", "5000.0 g"), "S-MELT": ("MELT", "500.0 g"),
    "S-LAB": ("LAB", "20.0 g"), "S-BOND": ("BOND", "2000.0 g"), "S-ROLL": ("ROLL", "5000.0 g"),
    "S-PRESS": ("PRESS", "2000.0 g"), "S-DRAW": ("DRAW", "500.0 g"), "S-ASSEM": ("ASSEM", "500.0 g"),
    "S-DWT": ("ASSEM", "100.0 dwt"), "S-FINISH": ("FINISH", "1000.0 g"), "S-BATH": ("WET", "100.0 g"),
    "S-DISP": ("DISPATCH", "2000.0 g"),
}  # fmt: skip
#: What a month makes, in the order of its days.
HEATS = ("CL20", "WIRE", "CL10", "ST", "CL20", "CL10", "CL20", "ST", "WIRE")
#: Bin → kind of the drum it is emptied into.
DRUMS = {
    "B-EDGE20": "CLADSCRAP", "B-EDGE10": "CLADSCRAP", "B-EDGEST": "TRIMST", "B-SKEL20": "CLADSCRAP",
    "B-SKEL10": "CLADSCRAP", "B-SKELST": "TRIMST", "B-TRIM14": "TRIM14", "B-SQUEEZE": "SQUEEZE",
}  # fmt: skip
WET_SWEEPS = ("ROLL", "PRESS")
SWEPT = ("MELT", "ROLL", "PRESS", "DRAW", "ASSEM", "FINISH", "BOND")


def heats(floor: Floor) -> Course:
    """Begin the heats of each month, spread over its working days."""
    for month in range(1, 13):
        days = [day for day in working_days() if day.month == month]
        for number, product in enumerate(HEATS):
            day = days[int((number + 0.3) * (len(days) - 1) / len(HEATS))]
            at = datetime.combine(day, time(6, 40)) + timedelta(minutes=3 * number)
            course = {"WIRE": wire_heat, "ST": sterling_heat}.get(product)
            floor.schedule.begin(course(floor) if course else clad_heat(floor, product), at)
        for day in (days[7], days[15]):
            floor.schedule.begin(clad_scrap(floor), datetime.combine(day, time(9, 15)))
    return
    yield


def check_weights(floor: Floor) -> Course:
    """Check the vault's scale daily, the others weekly; calibrate each within its ninety-two days."""
    for day in working_days():
        for number, code in enumerate(CHECKED):
            weekly = number % 5 == day.weekday()
            if (code == "S-VAULT" or weekly) and not floor.skips_check(code, day):
                yield datetime.combine(day, time(6, 31 + number))
                check(floor, code)
        if day.weekday() == 2:
            yield datetime.combine(day, time(13, 5))
            _standard(floor, "FIRE" if day.isocalendar()[1] % 2 else "BEAD")


def check(floor: Floor, code: str) -> Paper:
    """Weigh the check weight; where the calibration falls due, adjust the scale upon it."""
    area, standard = CHECKED[code]
    scale, today = floor.scales[code], floor.now.date()
    number, unit = standard.split()
    reading = scale.read(float(number) * GRAMS[unit], floor.now)
    due = scale.overdue(today) or floor.found_out(code, today)
    paper = floor.write(
        "checkweigh", on_duty(area, floor.now), scale=code, standard=standard, reading=reading, calibrated=due or None
    )
    if due:
        scale.calibrated = today
    return paper


def _standard(floor: Floor, method: str) -> None:
    gold, silver = (0.585, 0.12) if method == "FIRE" else (0.025, 0.011)
    found = floor.methods[method].results
    results = {"gold": found(gold, "gold"), "silver": found(silver, "silver")}
    standard = {"gold": f"{gold * 1000:.1f}‰", "silver": f"{silver * 1000:.1f}‰"}
    floor.write("checkweigh", on_duty("LAB", floor.now), method=method, standard=standard, results=results)


def bins(floor: Floor) -> Course:
    """Empty each bin weekly into a numbered drum, which goes to the scrap store."""
    for day in working_days():
        if day.weekday() != 3:
            continue
        for number, (code, kind) in enumerate(DRUMS.items()):
            yield open_from(datetime.combine(day, time(11, 10)) + timedelta(minutes=6 * number))
            area = floor.bins[code]
            held = floor.stock[area].get(code)
            if held is None or held.mass < 20 or (code == "B-SQUEEZE" and day.day > 7):
                continue
            drum = empty(floor, code, kind)
            floor.schedule.begin(_to_store(floor, area, [drum]), floor.later(2, 7))


def empty(floor: Floor, code: str, kind: str) -> str:
    """Empty a bin into a new drum."""
    area = floor.bins[code]
    ins, (metal,) = floor.issue(area, [(code, None)])
    drum = floor.new("DR")
    class_ = {"CLADSCRAP": "CLAD-SCRAP", "TRIMST": "STERLING-SCRAP", "TRIM14": "KARAT-SCRAP"}.get(kind, "SQUEEZE")
    line = floor.make(area, drum, metal, Tag("REFINE" if kind == "SQUEEZE" else kind), form="drum", class_=class_)
    floor.work("BALING", area, ins, [line])
    return drum


def _to_store(floor: Floor, area: str, lots: list[str]) -> Course:
    floor.move(area, "SCRAP", [(lot, None) for lot in lots])
    return
    yield


def slag(floor: Floor) -> Course:
    """Take the week's sealed slag to the store."""
    for day in working_days():
        if day.weekday() == 4:
            yield open_from(datetime.combine(day, time(10, 40)))
            lots = floor.on_hand("MELT", "SLAG")
            if lots:
                floor.move("MELT", "SCRAP", [(lot, None) for lot in lots])


def sweeps(floor: Floor) -> Course:
    """Sweep the buffing shop weekly, all dusty areas at month-end; clean out monthly there, quarterly elsewhere."""
    counted = {last_working_day(month) for month in range(1, 13)}
    for day in working_days():
        if day in counted:
            for number, area in enumerate(SWEPT):
                yield datetime.combine(day, time(11, 15)) + timedelta(minutes=14 * number)
                if area == "BOND" and day.month % 3:
                    continue
                sweep(floor, area, 0.998, clean=area == "FINISH" or day.month % 3 == 0)
        elif day.weekday() == 4:
            yield datetime.combine(day, time(12, 5))
            sweep(floor, "FINISH", floor.chance.between(0.6, 0.8, "sweep"), clean=False)


def sweep(floor: Floor, area: str, share: float, clean: bool) -> None:
    """Take up a share of an area's dust, in a sealed drum, by estimate."""
    pool = floor.losses.dust[area]
    taken = pool.times(share)
    floor.losses.dust[area] = pool - taken
    lot, seal = floor.new("SW"), f"7{len(floor.papers) + 1000:05d}"
    wet = area in WET_SWEEPS
    tag = Tag("SWEEPS", seal=seal, moisture=floor.chance.between(0.08, 0.16, "wet") if wet else 0.0)
    tag.foreign = 0.0 if wet else floor.chance.between(20, 90, "lint") if area == "FINISH" else 12.0
    line = floor.make(area, lot, taken, tag, form="sweeps", class_="SLUDGE" if wet else "SWEEPS",
                      content=guess(floor, taken), basis="estimated", seal=seal)  # fmt: skip
    by = on_duty(area, floor.now)
    floor.write("sweep", by, beside(area, floor.now, by), area=area, lots=[line], cleaned_out=clean or None)
    at = open_from(datetime.combine(floor.now.date() + timedelta(days=1), time(8, 20)))
    floor.schedule.begin(_to_store(floor, area, [lot]), at)


def purchases(floor: Floor) -> Course:
    """Buy what runs low, on Mondays; karat grain once a quarter."""
    wanted = {"GOLD": (1500, 1000), "SILVER": (5500, 5000), "COPPER": (2500, 4000), "BRASS": (30000, 28000),
              "NICKEL-SILVER": (9000, 12000), "SOLDER": (500, 700)}  # fmt: skip
    for day in working_days():
        if day.weekday() != 0:
            continue
        yield datetime.combine(day, time(9, 40))
        short = [kind for kind, (least, _) in wanted.items() if _held(floor, kind) < least]
        fine = [kind for kind in short if kind in ("GOLD", "SILVER")]
        if day.month % 3 == 1 and 8 <= day.day <= 14:
            fine.append("KARAT")
        base = [kind for kind in short if kind not in fine]
        for party, kinds in (("MARLOCK", fine), ("BRAYFORD", base)):
            if kinds:
                lots = [_bought(floor, kind, wanted.get(kind, (0, 600))[1], day) for kind in kinds]
                floor.write("receive", "TH", "NS", party=party, terms="bought", to="VAULT", lots=lots)
                yield floor.now + timedelta(minutes=35)


def _held(floor: Floor, kind: str) -> float:
    return sum(floor.stock["VAULT"][lot].mass for lot in floor.on_hand("VAULT", kind))


def _bought(floor: Floor, kind: str, mass: float, day: date) -> Document:
    weighed = mass * (1 + floor.chance.between(-0.02, 0.02, "bought", kind))
    line = stock_line(floor, "VAULT", kind, weighed)
    if kind == "GOLD":
        line["serial"] = f"MB {day:%m%d}{len(floor.papers) % 100:02d}"
    return line


def bath(floor: Floor) -> Course:
    """Feed the silver bath from anodes, once a month."""
    for day in working_days():
        if day.weekday() == 1 and day.day <= 7:
            yield open_from(datetime.combine(day, time(7, 25)))
            items = floor.choose("VAULT", "SILVER", floor.chance.between(18, 26, "anode"))
            floor.move("VAULT", "WET", items)
            yield floor.later(0.4, 1)
            for lot, _ in items:
                ins, (metal,) = floor.issue("WET", [(lot, None)])
                floor.put("WET", "BATH-AG", metal)
                floor.work("BATH-FEED", "WET", ins, [bath_line(floor, metal)], machine="bath 1")


def begin(floor: Floor) -> None:
    """Begin all courses of the house."""
    first = moment(1, 2, 6, 10)
    for course in (heats, check_weights, bins, slag, sweeps, purchases, bath):
        floor.schedule.begin(course(floor), first)
