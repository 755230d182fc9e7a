"""Two invented months of a plant of eight areas: charges from shared lots, scrap that returns, counts at the ends."""

from __future__ import annotations

import random
from datetime import datetime, timedelta
from typing import Any

from tests.balance.plant_model import Document, Model

AREAS = ("VAULT", "MELT", "ROLL", "BOND", "PRESS", "DRAW", "FINISH", "SHIP")
MONTHS = ("2026-10", "2026-11")


class Months:
    """Invents tickets, ``documents`` in order of date. What stands where is asked of the model, without error."""

    def __init__(self, seed: int, tickets: int) -> None:
        self.random = random.Random(seed)
        self.model = Model(lambda key, sd: 0.0)
        self.documents: list[Document] = []
        self.made = 0
        for month in MONTHS:
            self.at = datetime.fromisoformat(f"{month}-01T06:00")
            step = timedelta(days=27) / tickets
            for _ in range(2):
                self.receive()
            for _ in range(tickets):
                self.at += step
                self.one()
            self.at = datetime.fromisoformat(f"{month}-30T12:00")
            for area in AREAS:
                self.at += timedelta(minutes=10)
                self.count(area)

    def enter(self, kind: str, **fields: Any) -> None:
        number = f"T-{len(self.documents) + 1:05d}"
        document = {"ticket": number, "kind": kind, "at": self.at.isoformat(timespec="minutes"), "by": "W"}
        document |= {name.removesuffix("_"): value for name, value in fields.items()}
        self.at += timedelta(minutes=1)
        self.documents.append(document)
        self.model.enter(document)

    def name(self) -> str:
        self.made += 1
        return f"L{self.made}"

    def grams(self, mass: float) -> str:
        return f"{mass + self.random.gauss(0, 0.02):.3f} g"

    def weighed(self, mass: float) -> Document:
        """Return a weighing of a mass: net, by difference, in a registered container."""
        scale = self.random.choice(("S1", "S2"))
        how = self.random.random()
        if how < 0.15:
            return {"gross": self.grams(mass + 57), "tare": "57.00 g", "scale": scale}
        if how < 0.3:
            return {"gross": self.grams(mass + 100), "container": "TOTE", "scale": "S1"}
        return {"mass": self.grams(mass), "scale": scale}

    def lots(self, area: str) -> list[tuple[str, float]]:
        return [
            (lot, float(x[0])) for (where, lot), x in sorted(self.model.stand.items()) if where == area and x[0] > 20
        ]

    def composition(self) -> Document:
        gold, silver = self.random.randint(330, 500), self.random.randint(0, 2) * 100
        line: Document = {"fineness": {"gold": f"{gold}.5‰", "silver": f"{silver}‰"}}
        how = self.random.random()
        if how < 0.5:
            return line | {"method": self.random.choice(("FIRE", "XRF"))}
        return line | ({"basis": "estimated"} if how < 0.6 else {})

    # Tickets.

    def one(self) -> None:
        self.random.choice((
            self.receive, *[self.move] * 6, self.melt, self.melt, self.bond, self.roll, self.roll,
            self.buff, self.pickle, self.assay, self.ship, self.scrap,
        ))()  # fmt: skip

    def receive(self) -> None:
        mass = self.random.uniform(200, 900)
        line = {"lot": self.name(), **self.weighed(mass), **self.composition()}
        if self.random.random() < 0.3:
            line |= {"declared_mass": f"{mass + 0.02:.2f} g", "declared_fineness": line["fineness"]}
            self.enter("receive", party="CUS", terms="deposited", to="VAULT", lots=[line])
        else:
            if self.random.random() < 0.2 and "mass" in line:
                line |= {"mass": self.grams(mass), "moisture": "2.0%"}
            self.enter("receive", party="SUP", terms="bought", to="VAULT", lots=[line])

    def pick(self, area: str, most: int = 1) -> list[tuple[str, float]]:
        there = self.lots(area)
        return self.random.sample(there, min(most, len(there)))

    def input(self, lot: str, mass: float) -> Document:
        if lot != "BIN" and mass > 60 and self.random.random() < 0.4:
            return {"lot": lot, **self.weighed(mass * self.random.uniform(0.2, 0.7))}
        name = "bin" if lot == "BIN" else "lot"
        return {name: lot, **self.weighed(mass), "all": True}

    def _mass_of(self, line: Document) -> float:
        if "mass" in line:
            return float(line["mass"][:-2])
        return float(line["gross"][:-2]) - (57 if "tare" in line else 100)

    def move(self) -> None:
        from_ = self.random.choice([area for area in AREAS if [x for x in self.lots(area) if x[0] != "BIN"]])
        to = self.random.choice([area for area in AREAS if area != from_])
        there = [each for each in self.lots(from_) if each[0] != "BIN"]
        for lot, mass in self.random.sample(there, 1):
            line = self.input(lot, mass)
            how = self.random.random()
            if how < 0.6:
                line |= {"received_mass": self.grams(self._mass_of(line)), "received_scale": "S2"}
            elif how < 0.75:
                line = {"lot": lot, "all": True}
            self.enter("move", from_=from_, to=to, lots=[line])

    def scrap(self) -> None:
        """The bin of rolling goes back to the melting shop."""
        mass = float(self.model.at("ROLL", "BIN")[0])
        if mass > 20:
            self.enter("move", from_="ROLL", to="MELT", lots=[{"lot": "BIN", **self.weighed(mass), "all": True}])

    def work(self, area: str, operation: str, most: int, kept: float, *more: Document) -> str | None:
        chosen = [each for each in self.pick(area, most) if each[0] not in self.model.origin]
        if not chosen:
            return None
        lines = [self.input(lot, mass) for lot, mass in chosen]
        mass = sum(map(self._mass_of, lines)) * kept
        out: list[Document] = [{"lot": self.name(), **self.weighed(mass * (0.93 if more else 1))}]
        out += [{**line, "mass": self.grams(mass * 0.069)} for line in more]
        self.enter("work", operation=operation, area=area, in_=lines, out=out)
        return str(out[0]["lot"])

    def melt(self) -> None:
        slag = {"lot": self.name(), "scale": "S1", "fineness": {"gold": "120‰", "silver": "0‰"}, "basis": "estimated"}
        self.work("MELT", "melt", 3, 0.996, *([slag] if self.random.random() < 0.4 else []))

    def bond(self) -> None:
        self.work("BOND", "bond", 3, 0.9998)

    def roll(self) -> None:
        there = [each for each in self.lots("ROLL") if each[0] != "BIN" and each[0] not in self.model.origin]
        if not there:
            return
        lot, mass = self.random.choice(there)
        line = self.input(lot, mass)
        mass = self._mass_of(line) * 0.9995
        out = [{"lot": self.name(), **self.weighed(mass * 0.9)}, {"bin": "BIN", **self.weighed(mass * 0.1)}]
        self.enter("work", operation="roll", area="ROLL", in_=[line], out=out)

    def buff(self) -> None:
        self.work("FINISH", "buff", 2, 0.995)

    def pickle(self) -> None:
        made = self.work("DRAW", "pickle", 2, 0.9997)
        if made is not None:
            self._assay(made)

    def assay(self) -> None:
        area = self.random.choice(AREAS)
        for lot, _ in self.pick(area):
            if lot != "BIN":
                self._assay(lot)

    def _assay(self, lot: str) -> None:
        gold, silver = (float(f) * 1000 for f in self.model.fineness[lot][1:])
        samples = [1, 2] if self.random.random() < 0.5 else [2]
        shape = [2] * len(samples)
        results = {
            metal: [[f"{value + self.random.gauss(0, 0.2):.2f}‰" for _ in range(k)] for k in shape]
            for metal, value in (("gold", gold), ("silver", silver)) if value > 5
        }  # fmt: skip
        if "silver" not in results:
            results["silver"] = [["0‰"] * k for k in shape]
        self.enter("assay", lot=lot, method=self.random.choice(("FIRE", "XRF")), results=results)

    def ship(self) -> None:
        for lot, mass in self.pick("SHIP"):
            if lot != "BIN":
                self.enter("ship", from_="SHIP", party="CUS", terms="sold", lots=[self.input(lot, mass)])

    def count(self, area: str) -> None:
        lines = [{"lot": lot, **self.weighed(float(x[0]))} for (where, lot), x in sorted(self.model.stand.items())
                 if where == area and x[0] > 0.5]  # fmt: skip
        small = [lot for (where, lot), x in self.model.stand.items() if where == area and 0 < abs(x[0]) <= 0.5]
        assert not small
        self.enter("count", area=area, lots=lines) if lines else self.enter("count", area=area, lots=[], nil=True)
