"""Masses keyed wrong: transposed, another digit, the point, the unit, the tare, or for no reason the digits show."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from itertools import pairwise
from math import log
from random import Random

from tests.studies.fault_worlds.base import Base, Reading, grams
from tests.studies.fault_worlds.plans import Plan, edit_of, log_uniform
from tests.studies.fault_worlds.truth import Band
from tests.studies.fault_worlds.world import Document, Paper, World

#: A line with another reading in place of the right one, and by how many grams it is off.
Wrong = tuple[Document, float]
#: Digits taken for one another on a slip, and neighbours on a keypad (common practice, no source).
_TAKEN_FOR = {"0": "689", "1": "74", "2": "5731", "3": "826", "4": "917", "5": "628", "6": "0583", "7": "148",
              "8": "3905", "9": "4806"}  # fmt: skip
#: Wrong readings are chosen among those whose size is within this factor of one drawn log-uniformly.
_NEAR = 1.35


def swaps(text: str) -> Iterator[str]:
    """Yield a mass with two neighbouring different digits swapped."""
    number, unit = text.split()
    for at, (a, b) in enumerate(pairwise(number)):
        if a.isdigit() and b.isdigit() and a != b and not (at == 0 and b == "0"):
            yield f"{number[:at]}{b}{a}{number[at + 2 :]} {unit}"


def other_digits(text: str) -> Iterator[str]:
    """Yield a mass with one digit read as another."""
    number, unit = text.split()
    for at, digit in enumerate(number):
        for other in _TAKEN_FOR.get(digit, ""):
            if not (at == 0 and other == "0"):
                yield f"{number[:at]}{other}{number[at + 1 :]} {unit}"


def points(text: str) -> Iterator[str]:
    """Yield a mass with its decimal point a place off, either way."""
    number, unit = text.split()
    if "." in number:
        whole, decimals = number.split(".")
        yield f"{whole[:-1] or '0'}.{whole[-1]}{decimals} {unit}"
        yield f"{whole.lstrip('0')}{decimals[0]}.{decimals[1:] or '0'} {unit}"


def units(text: str) -> Iterator[str]:
    """Yield pennyweights keyed as grams, and grams as pennyweights."""
    number, unit = text.split()
    yield f"{number} {'g' if unit == 'dwt' else 'dwt'}"


def _texts(make: Callable[[str], Iterator[str]], base: Base, reading: Reading) -> Iterator[Wrong]:
    for text in dict.fromkeys(make(reading.text)):
        if text != reading.text and grams(text) > 0:
            yield {**reading.line, reading.name: text}, grams(text) - grams(reading.text)


def _tares(base: Base, reading: Reading) -> Iterator[Wrong]:
    """Yield a registered tare forgotten, by giver or receiver, or taken off what was net already."""
    line, tares = reading.line, base.world.floor.tares
    if reading.name == "gross":
        tare = tares[line["container"]]
        bare = {name: value for name, value in line.items() if name not in ("gross", "container")}
        yield bare | {"mass": line["gross"]}, tare
        net = grams(line["gross"]) - tare
        if net > 2 * tare:
            yield {**line, "gross": f"{net:.2f} g"}, -tare
    elif reading.name == "received_mass" and "container" in line and line["received_mass"].endswith(" g"):
        tare = tares[line["container"]]
        places = len(line["received_mass"].split()[0].split(".")[1])
        yield {**line, "received_mass": f"{grams(line['received_mass']) + tare:.{places}f} g"}, tare


def _masses(chance: Random, band: Band, base: Base, reading: Reading) -> Iterator[Wrong]:
    """Yield a mass off by a number that no keying shows, either way."""
    number, unit = reading.text.split()
    places = len(number.split(".")[1])
    sigma = 1 / (base.per_gram(reading) or float("inf"))
    off = log_uniform(chance, band.low, min(band.high, 60.0)) * sigma * chance.choice((-1, 1))
    factor = grams(f"1.0 {unit}")
    text = f"{float(number) + off / factor:.{places}f} {unit}"
    known = {*swaps(reading.text), *other_digits(reading.text), *points(reading.text), reading.text}
    if float(text.split()[0]) > 0 and abs(off) < 0.5 * grams(reading.text) and text not in known:
        yield {**reading.line, reading.name: text}, grams(text) - grams(reading.text)


def planned(family: str, base: Base, chance: Random, band: Band) -> Plan | None:
    """Plan one mass keyed wrong, anywhere in the month, of a size drawn log-uniformly in the band."""
    wrongs = list(_candidates(family, base, chance, band))
    if not wrongs:
        return None
    top = max(multiple for *_, multiple in wrongs)
    wanted = log_uniform(chance, band.low, min(top, band.high))
    near = [one for one in wrongs if abs(log(one[2] / wanted)) <= log(_NEAR)]
    reading, (line, off), multiple = chance.choice(near or wrongs)
    best = base.best(reading)
    change = partial(_rekeyed, reading=reading, line=line)
    return Plan(
        family, f"{reading.paper.kind} {reading.side} {reading.name}", reading.area, (reading.lot,), size=off,
        says=f"{reading.lot}: {reading.line.get(reading.name)} keyed {line.get(reading.name) or line.get('mass')}",
        edit=edit_of(base, reading.paper, change), multiple=multiple,
        shown_in="" if best is None else best.area,
    )  # fmt: skip


def _candidates(family: str, base: Base, chance: Random, band: Band) -> Iterator[tuple[Reading, Wrong, float]]:
    makes: dict[str, Callable[[Base, Reading], Iterator[Wrong]]] = {
        "transposed": partial(_texts, swaps), "digit": partial(_texts, other_digits),
        "decimal": partial(_texts, points), "unit": partial(_texts, units), "tare": _tares,
        "mass": partial(_masses, chance, band),
    }  # fmt: skip
    readings = list(base.readings())
    chance.shuffle(readings)
    if family == "mass":
        readings = readings[:40]
    if family == "unit":
        readings = [r for r in readings if "dwt" in r.text] + [r for r in readings if r.area in ("DRAW", "ASSEM")][:20]
    for reading in readings:
        per_gram = base.per_gram(reading)
        for line, off in makes[family](base, reading):
            multiple = per_gram * abs(off)
            if band.low <= multiple <= (band.high if band.low < 5 else float("inf")):
                yield reading, (line, off), multiple


def _rekeyed(world: World, paper: Paper, *, reading: Reading, line: Document) -> list[Paper] | None:
    own = paper.document[reading.side][reading.place]
    if own.get(reading.name) != reading.line.get(reading.name):
        return None
    own.clear()
    own.update(line)
    paper.mended = True
    return [paper]
