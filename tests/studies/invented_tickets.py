"""A stream of invented tickets such as the sample plant could write: as many as asked for, from a seed, in flat memory.

Heats run beside one another, each through receipt, melt, bond, roll, anneal, buff and shipment; a counter goes round.
Nothing here is a norm: masses, losses and readings are drawn, not taken from a plant.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from datetime import date, datetime, time, timedelta
from itertools import islice
from pathlib import Path
from random import Random
from typing import Any

from ledger.plant.setup import Setup
from ledger.plant.toml_file import parse_setup

Document = dict[str, Any]

ROOT = Path(__file__).resolve().parents[2]
MONTH = ROOT / "sample_books" / "month"

#: Who weighs where, and the day's working hours: the clock is never put on or back in them. At three minutes a ticket
#: they make 100,000 tickets a year.
_KEEPER = {"VAULT": "TH", "MELT": "CL", "BOND": "RF", "ROLL": "RF", "FINISH": "PW"}
_COUNTED = tuple(_KEEPER)
_OPENS, _CLOSES = time(6, 30), time(20, 12)
_HEATS = 6
_FLOOR = "S-FLOOR"


def plant() -> Setup:
    """Return the sample plant, its scales calibrated for longer than any study lasts."""
    text = (MONTH / "plant.toml").read_text(encoding="utf-8")
    return parse_setup(text.replace('calibrate_every = "90 d"', 'calibrate_every = "9000 d"'))


def tickets(count: int, seed: int) -> Iterator[Document]:
    """Yield ``count`` tickets in their order of time, without keeping any."""
    return islice(_Works(Random(seed)).run(), count)


def write(path: Path, count: int, seed: int) -> None:
    """Write ``count`` tickets to a file of JSON Lines, without keeping any."""
    with path.open("w", encoding="utf-8", newline="\n") as file:
        for document in tickets(count, seed):
            file.write(json.dumps(document, ensure_ascii=False, separators=(",", ":")) + "\n")


def _grams(hundredths: int) -> str:
    return f"{hundredths // 100}.{hundredths % 100:02d} g"


class _Works:
    """What stands where, in hundredths of a gram, and the people who write tickets about it."""

    def __init__(self, random: Random) -> None:
        self.random = random
        self.now = datetime.combine(date(2026, 10, 1), _OPENS)
        self.written = self.heat = 0
        self.stock: dict[str, dict[str, int]] = {area: {} for area in _COUNTED}
        self.sealed: set[str] = set()

    def run(self) -> Iterator[Document]:
        """Yield tickets without end."""
        heats = [self._heat() for _ in range(_HEATS)]
        while True:
            yield from self._at_times(307, self._sweep)
            yield from self._at_times(211, self._count)
            place = self.random.randrange(_HEATS)
            document = next(heats[place], None)
            if document is None:
                heats[place] = self._heat()
            else:
                yield document
                if document["kind"] == "move" and self.random.randrange(180) == 0:
                    yield from self._reversed(document)

    def _at_times(self, every: int, write: Callable[[], Iterator[Document]]) -> Iterator[Document]:
        if self.random.randrange(every) == 0:
            yield from write()

    # A ticket, a line.

    def _ticket(self, kind: str, by: str, **fields: Any) -> Document:
        self.now += timedelta(minutes=self.random.randint(1, 5))
        if self.now.time() > _CLOSES:
            self.now = datetime.combine(self.now.date() + timedelta(days=1), _OPENS)
        self.written += 1
        named = {name.rstrip("_"): value for name, value in fields.items() if value is not None}
        return {"ticket": f"T-{self.written:07d}", "kind": kind, "at": self.now.isoformat(timespec="minutes"), "by": by,
                **named}  # fmt: skip

    def _read(self, hundredths: int) -> int:
        """Return another reading of the same metal: mostly the same, sometimes a hundredth off."""
        return max(hundredths + self.random.choice((-1, 0, 0, 0, 1)), 1)

    def _made(self, area: str, lot: str, hundredths: int, **fields: Any) -> Document:
        self.stock[area][lot] = hundredths
        return {"lot": lot, "mass": _grams(hundredths), "scale": _FLOOR, **fields}

    def _emptied(self, area: str, lot: str) -> Document:
        mass = self._read(self.stock[area].pop(lot))
        return {"lot": lot, "mass": _grams(mass), "scale": _FLOOR, "all": True}

    def _move(self, from_: str, to: str, *lots: str) -> Document:
        lines = []
        for lot in lots:
            if lot in self.sealed:
                self.stock[to][lot] = self.stock[from_].pop(lot)
                lines.append({"lot": lot, "all": True})
                continue
            mass = self._read(self.stock[from_][lot])
            line = self._emptied(from_, lot)
            self.stock[to][lot] = mass
            lines.append({**line, "received_mass": _grams(mass), "received_scale": _FLOOR})
        return self._ticket("move", _KEEPER[from_], witness=_other(from_, to), **{"from": from_}, to=to, lots=lines)

    def _work(self, area: str, operation: str, inputs: list[Document], *outputs: Document) -> Document:
        by = _KEEPER[area]
        return self._ticket("work", by, workers=[by], shift=self.random.choice(("day", "night")), operation=operation,
                            area=area, in_=inputs, out=list(outputs))  # fmt: skip

    def _assay(self, lot: str, method: str, gold: float, silver: float) -> Document:
        """Two samples of two replicates each, in per mille."""
        def samples(true: float, apart: float) -> list[list[str]]:
            return [[f"{self.random.gauss(true, apart):.2f}‰" for _ in range(2)] for _ in range(2)]

        results = {"gold": samples(gold, gold / 4000), "silver": samples(silver, silver / 2000)}
        return self._ticket("assay", "MQ", lot=lot, method=method, results=results, apply="lot")

    # One heat, from receipt to shipment.

    def _heat(self) -> Iterator[Document]:
        self.heat += 1
        n = f"{self.heat:05d}"
        yield self._receipt(n)
        yield self._move("VAULT", "MELT", f"GB-{n}", f"AG-{n}", f"CU-{n}")
        yield self._melt(n)
        yield self._assay(f"PL-{n}", "FIRE", 500.0, 200.0)
        yield self._move("MELT", "VAULT", f"SL-{n}")
        yield self._move("MELT", "BOND", f"PL-{n}")
        yield self._move("VAULT", "BOND", f"BR-{n}", f"SO-{n}")
        yield self._one_to_one("BOND", "BONDING", [f"PL-{n}", f"BR-{n}", f"SO-{n}"], f"CB-{n}", 15, form="sandwich",
                               planned="1/20 12K", layer="G12")  # fmt: skip
        yield self._move("BOND", "ROLL", f"CB-{n}")
        yield self._roll(n)
        yield self._one_to_one("ROLL", "ANNEALING", [f"CC-{n}"], f"AN-{n}", 20, form="coil", planned="1/20 12K")
        if self.random.random() < 0.4:
            yield self._assay(f"AN-{n}", "BEAD", 26.3, 11.8)
        yield self._move("ROLL", "VAULT", f"ET-{n}")
        yield self._move("ROLL", "FINISH", f"AN-{n}")
        yield self._buff(n)
        yield self._move("FINISH", "VAULT", f"FA-{n}", f"FB-{n}")
        yield self._ship("PENROSE", f"FA-{n}", f"FB-{n}", billed="1/20 12K")
        yield self._ship("EDDLE", f"ET-{n}", f"SL-{n}")

    def _receipt(self, n: str) -> Document:
        gold = self.random.randint(15_000, 30_000)
        part = self.random.randint(98, 102)
        bar = {"fineness": {"gold": "999.9‰", "silver": "0"}, "method": "FIRE"}
        lots = [
            self._made("VAULT", f"GB-{n}", gold, form="bar", serial=f"INVENTED {n}", **bar),
            self._made("VAULT", f"AG-{n}", gold * part // 250, form="grain", alloy="FINE-SILVER"),
            self._made("VAULT", f"CU-{n}", gold * part // 165, form="grain", alloy="COPPER"),
            self._made("VAULT", f"BR-{n}", gold * part * 10 // 28, form="plate", alloy="BRASS"),
            self._made("VAULT", f"SO-{n}", gold * part // 500, form="foil", alloy="SOLDER"),
        ]
        return self._ticket("receive", "TH", witness="MQ", party="MARLOCK", terms="bought", to="VAULT", lots=lots)

    def _melt(self, n: str) -> Document:
        lots = [f"GB-{n}", f"AG-{n}", f"CU-{n}"]
        scrap = [lot for lot in self.stock["MELT"] if lot.startswith("ET-")][:1]
        whole = sum(self.stock["MELT"][lot] for lot in [*lots, *scrap])
        inputs = [self._emptied("MELT", lot) for lot in [*lots, *scrap]]
        plate = self._made("MELT", f"PL-{n}", whole * 995 // 1000 - 100, form="plate", planned="12K")
        slag = self._made("MELT", f"SL-{n}", self.random.randint(700, 1200), form="slag", metallic="0.95 g",
                          content={"gold": "0.42 g", "silver": "0.16 g"}, basis="estimated",
                          **{"class": "SLAG"})  # fmt: skip
        self.sealed.add(f"SL-{n}")
        return self._work("MELT", "MELTING", inputs, plate, slag)

    def _one_to_one(
        self, area: str, operation: str, lots: list[str], made: str, lost_in_100_000: int, **fields: Any
    ) -> Document:  # fmt: skip
        whole = sum(self.stock[area][lot] for lot in lots)
        inputs = [self._emptied(area, lot) for lot in lots]
        mass = whole - whole * self.random.randint(lost_in_100_000 // 2, 3 * lost_in_100_000 // 2) // 100_000
        return self._work(area, operation, inputs, self._made(area, made, mass, **fields))

    def _roll(self, n: str) -> Document:
        whole = self.stock["ROLL"][f"CB-{n}"]
        line = self._emptied("ROLL", f"CB-{n}")
        ends = whole * self.random.randint(15, 40) // 1000
        lost = whole * self.random.randint(30, 70) // 100_000
        return self._work(
            "ROLL", "ROLLING", [line], self._made("ROLL", f"CC-{n}", whole - ends - lost, form="coil"),
            self._made("ROLL", f"ET-{n}", ends, form="trim", **{"class": "CLAD-SCRAP"}),
        )  # fmt: skip

    def _buff(self, n: str) -> Document:
        whole = self.stock["FINISH"][f"AN-{n}"]
        line = self._emptied("FINISH", f"AN-{n}")
        first = whole * self.random.randint(40, 60) // 100
        second = whole - first - whole * self.random.randint(20, 40) // 100_000
        return self._work(
            "FINISH", "BUFFING", [line], self._made("FINISH", f"FA-{n}", first, form="strip", planned="1/20 12K"),
            self._made("FINISH", f"FB-{n}", second, form="strip", planned="1/20 12K"),
        )  # fmt: skip

    def _ship(self, party: str, *lots: str, **fields: str) -> Document:
        lines = []
        for lot in lots:
            line = {"lot": lot, "all": True} if lot in self.sealed else self._emptied("VAULT", lot)
            self.stock["VAULT"].pop(lot, None)
            self.sealed.discard(lot)
            lines.append({**line, **fields})
        return self._ticket("ship", "TH", witness="MQ", **{"from": "VAULT"}, party=party, terms="sold", lots=lines)

    # What happens beside the heats.

    def _count(self) -> Iterator[Document]:
        area = self.random.choice(_COUNTED)
        lines = []
        for lot, mass in self.stock[area].items():
            self.stock[area][lot] = read = mass if lot in self.sealed else self._read(mass)
            weighed = {"mass": _grams(read), "scale": _FLOOR}
            lines.append({"lot": lot, **({"all": True} if lot in self.sealed else weighed)})
        yield self._ticket("count", "JD", witness=_KEEPER[area], area=area, lots=lines, nil=None if lines else True)

    def _sweep(self) -> Iterator[Document]:
        lot = f"SW-{self.written:07d}"
        self.sealed.add(lot)
        line = self._made("FINISH", lot, 1860, form="sweeps", metallic="1.20 g", **{"class": "SWEEPS"},
                          content={"gold": "0.31 g", "silver": "0.12 g"}, basis="estimated")  # fmt: skip
        yield self._ticket("sweep", "PW", witness="JD", area="FINISH", lots=[line])
        yield self._move("FINISH", "VAULT", lot)
        yield self._ship("EDDLE", lot)

    def _reversed(self, document: Document) -> Iterator[Document]:
        """A move is found to be mis-keyed: reversed, and entered again as it should read."""
        yield self._ticket("reverse", "MQ", of=document["ticket"], reason="invented: mis-keyed")
        again = self._ticket("move", document["by"], note="invented: as the weigh slip says")
        yield document | again | {"at": document["at"], "corrects": document["ticket"]}


def _other(from_: str, to: str) -> str:
    return "MQ" if _KEEPER[from_] == _KEEPER[to] else _KEEPER[to]
