"""A plant's book arithmetic written a second time, straight from the tickets, over any sort of number.

The numbers may be floats, `uncertainties` variables or arrays of draws: every reading, determination and loss asks
``draw(key, sd)`` for its error, once for each key. It shares no code with the program: masses in grams, finenesses as
fractions, the rules of the handbook. Only what these tests' tickets use is here.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

Number = Any
Vector = list[Number]
Document = dict[str, Any]

METALS = ("gross", "gold", "silver")

PLANT = """\
[plant]
name = "Invented Measurement Works"
metals = ["gold", "silver"]
timezone = "UTC"
""" + "".join(
    f'[[area]]\ncode = "{area}"\n' for area in ("VAULT", "MELT", "ROLL", "BOND", "PRESS", "DRAW", "FINISH", "SHIP")
) + """
[[operation]]
code = "melt"
composition = "combines"
loss = {gold = "0.10%"}
fume = "0.3%"
[[operation]]
code = "bond"
composition = "combines"
loss = {gold = "0.02%"}
spread = {gold = "0.02%"}
[[operation]]
code = "roll"
composition = "carries"
loss = {gold = "0.05%"}
drift = {gold = "0.02%"}
[[operation]]
code = "buff"
composition = "surface"
loss = {gold = "0.60%"}
[[operation]]
code = "pickle"
composition = "content"
loss = {gold = "0.01%", gross = "0.02%"}

[[scale]]
code = "S1"
division = "0.01 g"
sensitivity = "0.02%"
[[scale]]
code = "S2"
division = "0.001 g"
repeatability = "0.004 g"
sensitivity = "0.01%"

[[method]]
code = "FIRE"
kind = "fire"
[[method]]
code = "XRF"
kind = "xrf"
bias = "0.8‰"

[[class]]
code = "ENDS"
[[bin]]
code = "BIN"
class = "ENDS"
[[container]]
code = "TOTE"
tare = "100.00 g"
[[party]]
code = "SUP"
role = "supplier"
[[party]]
code = "CUS"
role = "customer"
owed = "declared"
[[person]]
code = "W"
may = ["weigh", "witness", "count", "accept"]
"""

COMPOSITION = {"melt": "combines", "bond": "combines", "roll": "carries", "buff": "surface", "pickle": "content"}
LOSS = {"melt": 0.0010, "bond": 0.0002, "roll": 0.0005, "buff": 0.0060, "pickle": 0.0001}
GROSS_LOSS = {"pickle": 0.0002}
SPREAD = {"bond": 0.0002}
DRIFT = {"roll": 0.0002}
FUME = {"melt": 0.003}
#: Division and repeatability in grams, sensitivity relative.
SCALE = {"S1": (0.01, 0.005, 2e-4), "S2": (0.001, 0.004, 1e-4)}
#: Repeatability, sampling, bias, absolute.
METHOD = {"FIRE": (3e-4, 2e-4, 1e-4), "XRF": (2e-3, 1e-3, 8e-4)}
NOMINAL, ESTIMATE, MOISTURE = 1.7e-3, 0.2, 5e-3


def grams(text: str) -> float:
    return float(text.removesuffix(" g"))


def share(text: str) -> float:
    return float(text[:-1]) / (1000 if text.endswith("‰") else 100)


def weighing_sd(scale: str) -> float:
    division, repeatability, _ = SCALE[scale]
    return float((repeatability**2 + division**2 / 12) ** 0.5)


class Model:
    """The plant's stock and, by (area, month), its U in gross, gold and silver."""

    def __init__(self, draw: Callable[[Any, float], Number]) -> None:
        self.draw = draw
        self.stand: dict[tuple[str, str], Vector] = {}
        self.fineness: dict[str, Vector] = {}
        self.awaiting: dict[str, tuple[str, str, Vector]] = {}
        self.origin: dict[str, str] = {}
        self.unexplained: dict[tuple[str, str], Vector] = {}

    def enter(self, document: Document) -> None:
        self.ticket, self.month = document["ticket"], document["at"][:7]
        getattr(self, document["kind"])(document)

    # What is read.

    def reading(self, key: Any, text: str, scale: str) -> Number:
        mass = grams(text)
        return mass + self.draw((self.ticket, key), weighing_sd(scale)) + mass * self.draw(scale, SCALE[scale][2])

    def mass(self, key: Any, line: Document) -> Number:
        scale = line["scale"]
        if "mass" in line:
            net = self.reading(key, line["mass"], scale)
        else:
            net = self.reading((key, "gross"), line["gross"], scale)
            if "tare" in line:
                net = net - self.reading((key, "tare"), line["tare"], scale)
            else:  # the tare was weighed once, on the scale of its first use, under another calibration
                sd = (weighing_sd(scale) ** 2 + (100 * SCALE[scale][2]) ** 2) ** 0.5
                net = net - (100 + self.draw("TOTE", sd))
        if "moisture" in line:
            net = net * (1 - share(line["moisture"]) + self.draw((self.ticket, key, "moisture"), MOISTURE))
        return net

    def determined(self, key: Any, line: Document, samples: float = 1, determinations: float = 1) -> Vector:
        """Return the fineness that a line, or an assay's means, state."""
        found: Vector = [1.0]
        for metal in METALS[1:]:
            value, key_of = share(line["fineness"][metal]), (self.ticket, key, metal)
            if not value:
                found.append(0.0)
            elif "method" in line:
                repeat, sampling, bias = METHOD[line["method"]]
                own = (sampling**2 / samples + repeat**2 / determinations) ** 0.5
                found.append(value + self.draw(key_of, own) + self.draw((line["method"], metal), bias))
            elif line.get("basis") == "estimated":
                found.append(value + self.draw(key_of, ESTIMATE * value))
            else:
                found.append(value + self.draw(key_of, NOMINAL))
        return found

    # Stock and U.

    def at(self, area: str, lot: str) -> Vector:
        return self.stand.setdefault((area, lot), [0.0, 0.0, 0.0])

    def add(self, area: str, lot: str, content: Vector, times: float = 1) -> None:
        self.stand[area, lot] = [a + times * b for a, b in zip(self.at(area, lot), content, strict=True)]

    def miss(self, area: str, content: Vector, times: float = 1) -> None:
        before = self.unexplained.setdefault((area, self.month), [0.0, 0.0, 0.0])
        self.unexplained[area, self.month] = [a + times * b for a, b in zip(before, content, strict=True)]

    def fineness_of(self, area: str, lot: str) -> Vector:
        stands = self.at(area, lot)
        return [x / stands[0] for x in stands] if lot == "BIN" else self.fineness[lot]

    def take(self, area: str, key: Any, line: Document) -> tuple[Vector, Vector]:
        """Take a line out: returns W and the fineness it left with; an emptied lot's R − W is missing."""
        lot = line.get("lot") or line["bin"]
        fineness = self.fineness_of(area, lot)
        stands = list(self.at(area, lot))
        if line.get("all") and "scale" not in line:
            self.stand[area, lot] = [0.0, 0.0, 0.0]
            return stands, fineness
        mass = self.mass(key, line)
        weighed = [mass * f for f in fineness]
        if line.get("all"):
            self.miss(area, stands)
            self.miss(area, weighed, -1)
            self.stand[area, lot] = [0.0, 0.0, 0.0]
        else:
            self.add(area, lot, weighed, -1)
        return weighed, fineness

    # Kinds.

    def receive(self, document: Document) -> None:
        for i, line in enumerate(document["lots"]):
            fineness, mass = self.determined(i, line), self.mass(i, line)
            content = [mass * f for f in fineness]
            self.fineness[line["lot"]] = fineness
            self.add(document["to"], line["lot"], content)
            if "declared_mass" in line:
                declared = [grams(line["declared_mass"]) * share(line["declared_fineness"][m]) for m in METALS[1:]]
                self.miss(document["to"], [grams(line["declared_mass"]), *declared])
                self.miss(document["to"], content, -1)

    def move(self, document: Document) -> None:
        for i, line in enumerate(document["lots"]):
            sent, fineness = self.take(document["from"], i, line)
            arrived = sent
            if "received_mass" in line:
                mass = self.reading((i, "received"), line["received_mass"], line["received_scale"])
                arrived = [mass * f for f in fineness]
                self.miss(document["to"], sent)
                self.miss(document["to"], arrived, -1)
            self.add(document["to"], line["lot"], arrived)

    def ship(self, document: Document) -> None:
        for i, line in enumerate(document["lots"]):
            self.take(document["from"], i, line)

    def count(self, document: Document) -> None:
        for i, line in enumerate(document["lots"]):
            area, lot = document["area"], line["lot"]
            fineness, mass = self.fineness_of(area, lot), self.mass(i, line)
            counted = [mass * f for f in fineness]
            self.miss(area, self.at(area, lot))
            self.miss(area, counted, -1)
            self.stand[area, lot] = counted

    def assay(self, document: Document) -> None:
        lot, results = document["lot"], document["results"]
        texts = {metal: f"{_mean(found) * 1000!r}‰" for metal, found in results.items()}
        samples = results["gold"]
        line = {"fineness": texts, "method": document["method"]}
        made = self.determined("assay", line, len(samples), sum(map(len, samples)))
        for (area, other), stands in list(self.stand.items()):
            if other == lot and self._holds(stands):
                after = [stands[0] * f for f in made]
                bearer = self.origin.get(lot) or (self.awaiting[lot][0] if lot in self.awaiting else area)
                self.miss(bearer, stands)
                self.miss(bearer, after, -1)
                self.stand[area, lot] = after
        self.fineness[lot] = made
        self.origin.pop(lot, None)
        if lot in self.awaiting:
            area, ticket, put_in = self.awaiting.pop(lot)
            self._expect(area, "pickle", ticket, [(put_in, None)], metals=(1, 2))

    @staticmethod
    def _holds(stands: Vector) -> bool:
        return not (isinstance(stands[0], float) and stands[0] == 0.0)

    def work(self, document: Document) -> None:
        area, operation = document["area"], document["operation"]
        taken = [self.take(area, ("in", i), line) for i, line in enumerate(document["in"])]
        put_in = [sum(w[k] for w, _ in taken) for k in range(3)]
        out = [(line, self.mass(("out", i), line)) for i, line in enumerate(document["out"])]
        held = [0.0, 0.0, 0.0]
        for i, (line, mass) in enumerate(out):
            if "basis" in line:
                fineness = self.determined(("out", i), line)
                self.fineness[line["lot"]] = fineness
                self.origin[line["lot"]] = area
                self.add(area, line["lot"], [mass * f for f in fineness])
                held = [h + mass * f for h, f in zip(held, fineness, strict=True)]
        rest = [(line, mass) for line, mass in out if "basis" not in line]
        left = [p - h for p, h in zip(put_in, held, strict=True)]
        fineness = self._fineness(operation, taken, put_in, left, held[0], sum(mass for _, mass in rest))
        for line, mass in rest:
            content = [mass * f for f in fineness]
            held = [h + c for h, c in zip(held, content, strict=True)]
            if "bin" in line:
                self.add(area, "BIN", content)
            else:
                self.fineness[line["lot"]] = fineness
                self.add(area, line["lot"], content)
        self.miss(area, put_in)
        self.miss(area, held, -1)
        if COMPOSITION[operation] == "content":
            self.awaiting[rest[0][0]["lot"]] = (area, document["ticket"], put_in)
            self._expect(area, operation, document["ticket"], taken, metals=(0,))
        else:
            self._expect(area, operation, document["ticket"], taken)

    def _fineness(
        self, operation: str, taken: list[tuple[Vector, Vector]], put_in: Vector, left: Vector, stated: Number,
        out: Number,
    ) -> Vector:  # fmt: skip
        match COMPOSITION[operation]:
            case "carries":
                return taken[0][1]
            case "combines":
                mass = put_in[0] * (1 - FUME.get(operation, 0)) - stated
            case "surface":
                lost = put_in[0] - out - stated
                worn = [sum(f[k] * w[0] for w, f in taken) / put_in[0] for k in range(3)]
                left, mass = [x - lost * f for x, f in zip(left, worn, strict=True)], out
            case _:
                mass = out
        return [1.0, left[1] / mass, left[2] / mass]

    def _expect(
        self, area: str, operation: str, ticket: str, taken: list[Any], metals: tuple[int, ...] = (0, 1, 2)
    ) -> None:
        """Take E out of U, and put the loss's own chance in: spread for the ticket, drift for the month."""
        rate = LOSS[operation]
        spread = SPREAD.get(operation, rate / 2)
        drift = DRIFT.get(operation, spread / 4)
        for k in metals:
            amount = sum(w[k] for w, _ in taken)
            share_of, sd, shift = rate, spread, drift
            if k == 0 and operation in GROSS_LOSS:
                share_of, sd, shift = GROSS_LOSS[operation], GROSS_LOSS[operation] / 2, GROSS_LOSS[operation] / 8
            expected = share_of * amount
            if k == 0 and COMPOSITION[operation] == "combines":
                expected = expected + FUME.get(operation, 0) * (amount - expected)
            chance = nominal(amount) * (
                sd * self.draw((ticket, "spread"), 1.0) + shift * self.draw((operation, self.month, "drift"), 1.0)
            )
            self.miss(area, [chance - expected if i == k else 0.0 for i in range(3)])


def _mean(samples: list[list[str]]) -> float:
    """Return the mean of sample means; these tests' samples have equally many replicates."""
    return sum(share(x) for sample in samples for x in sample) / sum(map(len, samples))


def nominal(number: Number) -> float:
    """Return the value of a number without its error."""
    value = getattr(number, "nominal_value", number)
    return float(value.mean()) if hasattr(value, "mean") else float(value)
