"""Faultless books of a small invented plant, from known truth: metal, losses and dust as they are, readings that err.

It works forward, as nature does, and shares no code with the program: true masses and contents, true losses drawn with
the stated spread and drift, true recoverable shares; scales with an error all their weighings share, assays with a
laboratory's bias, and whoever estimates a sweep erring by the sd he states. Nothing is keyed wrong, nothing is taken.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from random import Random
from typing import Any

Document = dict[str, Any]

AREAS = ("VAULT", "MELT", "ROLL")
MONTHS = ("2026-10", "2026-11")

#: Division, repeatability in grams, shared error, relative.
SCALES = {"S1": (0.01, 0.01, 2e-4), "S2": (0.001, 0.004, 1e-4)}
#: One method: error of a determination, of a sample, bias; as fineness.
REPEATABILITY, SAMPLING, BIAS = 4e-4, 3e-4, 2e-4
#: Sd of a sweep's estimated fineness, and of the dust at take-on, relative.
ESTIMATE, SURVEY = 0.05, 0.20


@dataclass(frozen=True)
class Rates:
    """A plant's own: shares of what is put in; the recoverable share of the loss, and its sd."""

    loss: float
    spread: float
    drift: float
    recoverable: float
    uncertain: float
    fume: float = 0.0


OPERATIONS = {
    "melt": Rates(0.0010, 0.0002, 0.0001, 0.5, 0.05, 0.003),
    "roll": Rates(0.0010, 0.00014, 0.00008, 0.6, 0.06),
}
COMPOSITION = {"melt": "combines", "roll": "carries"}
WHERE = {"melt": "MELT", "roll": "ROLL"}


def _operation(code: str, r: Rates) -> str:
    return (
        f'[[operation]]\ncode = "{code}"\ncomposition = "{COMPOSITION[code]}"\n'
        f'loss = {{gold = "{100 * r.loss:.4f}%"}}\nspread = {{gold = "{100 * r.spread:.4f}%"}}\n'
        f'drift = {{gold = "{100 * r.drift:.4f}%"}}\nrecoverable = "{100 * r.recoverable:.0f}%"\n'
        f'recoverable_spread = "{100 * r.uncertain:.0f}%"\nfume = "{100 * r.fume:.2f}%"\n'
    )


PLANT = (
    '[plant]\nname = "Invented Faultless Works"\nmetals = ["gold"]\ntimezone = "UTC"\n'
    + "".join(f'[[area]]\ncode = "{area}"\n' for area in AREAS)
    + "".join(_operation(code, rates) for code, rates in OPERATIONS.items())
    + "".join(
        f'[[scale]]\ncode = "{code}"\ndivision = "{d} g"\nrepeatability = "{r} g"\nsensitivity = "{100 * s}%"\n'
        for code, (d, r, s) in SCALES.items()
    )
    + f'[[method]]\ncode = "FIRE"\nkind = "fire"\nrepeatability = "{1000 * REPEATABILITY}‰"\n'
    f'sampling = "{1000 * SAMPLING}‰"\nbias = "{1000 * BIAS}‰"\n'
    '[[party]]\ncode = "SUP"\nrole = "supplier"\n'
    '[[person]]\ncode = "W"\nmay = ["weigh", "witness", "count", "accept"]\n'
)


@dataclass
class Metal:
    """True mass and gold, in grams."""

    mass: float = 0.0
    gold: float = 0.0

    def times(self, share: float) -> Metal:
        return Metal(self.mass * share, self.gold * share)

    def add(self, other: Metal, times: float = 1.0) -> None:
        self.mass += times * other.mass
        self.gold += times * other.gold


class FaultlessBook:
    """The tickets of two months, ``documents`` in order of date, of one draw of everything that can err."""

    def __init__(self, seed: int) -> None:
        self.random = Random(seed)
        self.documents: list[Document] = []
        self.stand: dict[tuple[str, str], Metal] = {}
        self.dust = {area: Metal() for area in AREAS}
        self.made = 0
        normal = self.normal
        self.scale_error = {code: normal(s) for code, (_, _, s) in SCALES.items()}
        self.bias = normal(BIAS)
        self.recoverable = {code: r.recoverable + normal(r.uncertain) for code, r in OPERATIONS.items()}
        for month in MONTHS:
            self.drift = {code: normal(r.drift) for code, r in OPERATIONS.items()}
            self.month(month)

    def normal(self, sd: float) -> float:
        return self.random.gauss(0.0, sd)

    def enter(self, kind: str, **fields: Any) -> None:
        document = {"ticket": f"T-{len(self.documents) + 1:04d}", "kind": kind, "by": "W"}
        document["at"] = self.at.isoformat(timespec="minutes")
        self.documents.append(document | {name.removesuffix("_"): value for name, value in fields.items()})
        self.at += timedelta(hours=3)

    # A month's work.

    def month(self, month: str) -> None:
        self.at = datetime.fromisoformat(f"{month}-02T06:00")
        if not self.documents:
            self.survey("ROLL")
        for _ in range(3):
            self.receive()
            self.issue()
            melted = self.melt()
            self.assay("MELT", melted)
            self.move("MELT", "ROLL", melted)
            self.roll(melted)
            if self.random.random() < 0.5:
                self.sweep("ROLL", self.random.uniform(0.3, 0.7))
        self.sweep("MELT", 1.0, cleaned_out=month == MONTHS[-1])
        self.sweep("ROLL", 1.0, cleaned_out=True)
        self.at = datetime.fromisoformat(f"{month}-28T12:00")
        for area in AREAS:
            self.count(area)

    def on_hand(self, area: str) -> list[str]:
        return [lot for where, lot in self.stand if where == area]

    def name(self, lead: str = "L") -> str:
        self.made += 1
        return f"{lead}{self.made}"

    # What is read.

    def read(self, metal: Metal, scale: str) -> str:
        division, repeatability, _ = SCALES[scale]
        shown = metal.mass * (1 + self.scale_error[scale]) + self.normal(repeatability)
        return f"{round(shown / division) * division:.3f} g"

    def weighing(self, metal: Metal, scale: str | None = None) -> Document:
        on = scale or self.random.choice(sorted(SCALES))
        return {"mass": self.read(metal, on), "scale": on}

    def found(self, metal: Metal, samples: int = 1, replicates: int = 1) -> list[list[str]]:
        true = metal.gold / metal.mass + self.bias
        centres = [true + self.normal(SAMPLING) for _ in range(samples)]
        return [[f"{1000 * (x + self.normal(REPEATABILITY)):.5f}‰" for _ in range(replicates)] for x in centres]

    # Tickets.

    def survey(self, area: str) -> None:
        """Dust at take-on: what was written down is by so much off."""
        surveyed = 4.0
        gold = surveyed * (1 - self.normal(SURVEY))
        self.dust[area].add(Metal(2 * gold, gold))
        self.enter("open", area=area, dust={"gold": f"{surveyed} g"})
        self.count(area)

    def receive(self) -> None:
        lot, metal = self.name(), Metal(self.random.uniform(2000, 6000))
        metal.gold = metal.mass * self.random.uniform(0.35, 0.7)
        self.stand["VAULT", lot] = metal
        line = {"lot": lot, **self.weighing(metal), "fineness": {"gold": self.found(metal)[0][0]}, "method": "FIRE"}
        self.enter("receive", party="SUP", terms="bought", to="VAULT", lots=[line])

    def issue(self) -> None:
        """Lots go to the melting shop whole, the last one in part."""
        *whole, last = self.on_hand("VAULT")
        for lot in whole:
            self.move("VAULT", "MELT", lot)
        self.move("VAULT", "MELT", last, self.random.uniform(0.3, 0.8))

    def move(self, from_: str, to: str, lot: str, share: float | None = None) -> None:
        metal = self.stand.pop((from_, lot))
        sent = metal if share is None else metal.times(share)
        line = {"lot": lot, **self.weighing(sent), "received_mass": self.read(sent, "S2"), "received_scale": "S2"}
        if share is None:
            line["all"] = True
        else:
            self.stand[from_, lot] = metal.times(1 - share)
        self.stand[to, lot] = sent
        self.enter("move", from_=from_, to=to, lots=[line])

    def lose(self, operation: str, metal: Metal) -> Metal:
        """Return what an operation leaves: its loss carries the mean, a part of it becomes dust, fume holds nothing."""
        rates = OPERATIONS[operation]
        lost = metal.times(rates.loss + self.drift[operation] + self.normal(rates.spread))
        self.dust[WHERE[operation]].add(lost, self.recoverable[operation])
        left = Metal(metal.mass - lost.mass, metal.gold - lost.gold)
        left.mass *= 1 - rates.fume
        return left

    def melt(self) -> str:
        charge, lines = Metal(), []
        for lot in self.on_hand("MELT"):
            if not lot.startswith("W"):
                metal = self.stand.pop(("MELT", lot))
                lines.append({"lot": lot, **self.weighing(metal), "all": True})
                charge.add(metal)
        left, bar = self.lose("melt", charge), self.name()
        self.stand["MELT", bar] = left
        self.enter("work", operation="melt", area="MELT", in_=lines, out=[{"lot": bar, **self.weighing(left)}])
        return bar

    def roll(self, lot: str) -> None:
        metal = self.stand.pop(("ROLL", lot))
        line = {"lot": lot, **self.weighing(metal), "all": True}
        left, share = self.lose("roll", metal), self.random.uniform(0.7, 0.9)
        out = []
        for part in (left.times(share), left.times(1 - share)):
            name = self.name()
            self.stand["ROLL", name] = part
            out.append({"lot": name, **self.weighing(part)})
        self.enter("work", operation="roll", area="ROLL", in_=[line], out=out)

    def assay(self, area: str, lot: str) -> None:
        shape = self.random.choice(((1, 2), (2, 1), (2, 2)))
        self.enter("assay", lot=lot, method="FIRE", results={"gold": self.found(self.stand[area, lot], *shape)})

    def sweep(self, area: str, share: float, *, cleaned_out: bool = False) -> None:
        """Take dust up; half the sweeps are assayed a little later, the others stay an estimate."""
        metal = self.dust[area].times(share)
        self.dust[area].add(metal, -1.0)
        lot = self.name("W")
        guessed = metal.gold / metal.mass + self.normal(ESTIMATE)
        line = {"lot": lot, **self.weighing(metal, "S2"), "fineness": {"gold": f"{1000 * guessed:.4f}‰"},
                "basis": "estimated", "sd": f"{1000 * ESTIMATE}‰"}  # fmt: skip
        self.stand[area, lot] = metal
        self.enter("sweep", area=area, lots=[line], **({"cleaned_out": True} if cleaned_out else {}))
        if self.random.random() < 0.5:
            self.assay(area, lot)

    def count(self, area: str) -> None:
        lines = [{"lot": lot, **self.weighing(self.stand[area, lot])} for lot in self.on_hand(area)]
        self.enter("count", area=area, **({"lots": lines} if lines else {"lots": [], "nil": True}))
