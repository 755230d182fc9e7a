"""Strategies: months of tickets that an invented plant could have written, one after another."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from copy import deepcopy
from itertools import pairwise
from typing import Any, TypeVar

from hypothesis import strategies as st

from tests.book.plants import Document, lot, ticket
from tests.book.slow_book import CannotBe, SlowBook, read

T = TypeVar("T")
AREAS = ("VAULT", "MELT", "ROLL", "FINISH", "PLATER")
#: The smallest step of a mass in these tickets: 0.1 mg.
STEP = 10**5

Draw = Callable[[st.SearchStrategy[Any]], Any]


def grams(steps: int) -> str:
    return f"{steps // 10_000}.{steps % 10_000:04d}"


class Plant:
    """Invents the next ticket from what the slow book says stands where."""

    def __init__(self, draw: Draw, weighed: bool) -> None:
        self.draw = draw
        self.weighed = weighed
        self.book = SlowBook()
        self.documents: list[Document] = []
        self.made = 0

    def __repr__(self) -> str:
        return "\n".join(map(str, self.documents))

    def pick(self, choices: Sequence[T]) -> T:
        return self.draw(st.sampled_from(choices))  # type: ignore[no-any-return]

    def number(self, low: int, high: int) -> int:
        return int(self.draw(st.integers(low, high)))

    def chance(self, percent: int) -> bool:
        return self.number(1, 100) <= percent

    # The present state.

    @property
    def n(self) -> int:
        return 31 * len(self.documents) + 1

    def name(self) -> str:
        self.made += 1
        return f"L{self.made}"

    def here(self, *, bins: bool = False, area: str | None = None) -> list[tuple[str, str]]:
        """Return (area, lot) of what stands and can be weighed."""
        return [
            (a, n) for (a, n), amount in self.book.stock.items()
            if amount[0] > 50 * STEP and (bins or n != "ENDS-CAN") and area in (None, a)
        ]  # fmt: skip

    def stands(self, area: str, name: str) -> int:
        """Return the recorded mass in steps, rounded down."""
        return self.book.stock[area, name][0] // STEP

    def fine(self) -> dict[str, str]:
        gold = self.number(0, 9)
        return {"gold": f"{self.number(3330, 9000) / 10 if gold else 0}", "silver": f"{self.number(0, 990) / 10}"}

    # Lines.

    def taken(self, area: str, name: str, everything: int = 60) -> Document:
        """Return a line that takes all of a lot, re-weighed or not, or a part of it."""
        mass = self.stands(area, name)
        line: Document = {"bin" if name == "ENDS-CAN" else "lot": name}
        if self.chance(everything):
            line["all"] = True
            if self.weighed or self.chance(80):
                line |= self.read(name, max(1, mass + self.number(-40, 40)))
            return line
        return line | self.read(name, self.number(1, mass))

    def read(self, name: str, steps: int) -> Document:
        """Return the readings of a mass; a dirty lot's has as much again of flux."""
        if self.book.lots[name].dirty:
            return {"mass": f"{grams(2 * steps)} g", "metallic": f"{grams(steps)} g"}
        return {"mass": f"{grams(steps)} g"}

    def parts(self, mass: int, count: int) -> list[int]:
        """Share nearly all of a mass, in steps, over some outputs."""
        mass = max(count, mass - self.number(0, max(1, mass // 100)))
        cuts = sorted(self.number(1, mass) for _ in range(count - 1))
        ends = [0, *cuts, mass]
        return [max(1, b - a) for a, b in pairwise(ends)]

    # Tickets.

    def receive(self) -> Document:
        terms, party = self.pick(
            [("bought", "SUP"), ("deposited", "LIST"), ("deposited", "CUS"), ("leased", "LEND"), ("returned", "CUS"),
             ("returned", "REF")]
        )  # fmt: skip
        lots = []
        for _ in range(self.number(1, 2)):
            line = lot(self.name(), grams(self.number(1000, 9_000_000)), **self.fine())
            if party == "LIST" and self.chance(70):
                line["declared_mass"] = f"{grams(self.number(1000, 9_000_000))} g"
                line["declared_fineness"] = {"gold": "583.3‰", "silver": "210‰"}
            lots.append(line)
        return ticket(self.n, "receive", party=party, terms=terms, to=self.pick(AREAS[:3]), lots=lots)

    def move(self) -> Document:
        area, name = self.pick(self.here())
        line = self.taken(area, name)
        if "mass" in line and self.chance(50):
            sent = read(line) // STEP
            line["received_mass"] = f"{grams(max(1, sent + self.number(-30, 30)))} g"
        to = self.pick([a for a in AREAS if a != area])
        return ticket(self.n, "move", from_=area, to=to, lots=[line])

    def work(self) -> Document:
        area, name = self.pick(self.here(bins=True))
        operation = self.pick(["melt", "melt", "roll", "buff", "pickle", "solder"])
        names = [name]
        if operation in ("melt", "solder"):
            others = sorted({n for a, n in self.here(bins=True, area=area)} - {name})
            names += others[: self.number(0, 2)]
        lines = [self.taken(area, n, 75) for n in names if not (self.book.lots[n].estimate)]
        if not lines:
            return self.receive()
        mass = 0
        for line in lines:
            whole = self.stands(area, line.get("lot") or line["bin"])
            mass += read(line) // STEP if "mass" in line else whole
        outputs = self.outputs(area, operation, lines, mass)
        return ticket(self.n, "work", area=area, operation=operation, in_=lines, out=outputs)

    def outputs(self, area: str, operation: str, lines: list[Document], mass: int) -> list[Document]:
        out: list[Document] = [lot(self.name(), grams(part)) for part in self.parts(mass, self.number(1, 3))]
        if operation == "roll" and "lot" in lines[0] and lines[0].get("all") and self.chance(30):
            out[0]["lot"] = lines[0]["lot"]
        if area == "ROLL" and operation == "roll" and self.chance(50):
            out[-1] = {"bin": "ENDS-CAN", "mass": out[-1]["mass"]}
        if operation == "melt" and mass > 1000 and self.chance(40):
            slag = lot(self.name(), grams(mass // 100 + 5), metallic=f"{grams(mass // 400 + 1)} g", class_="SLAG",
                       fineness={"gold": "40‰", "silver": "20‰"}, basis="estimated")  # fmt: skip
            out.append(slag)
        if operation == "melt" and mass > 1000 and self.chance(20):
            out.append(lot(self.name(), grams(mass // 500 + 1), gold="410", silver="55", method="FIRE"))
        return out

    def assay(self) -> Document:
        name = self.pick(sorted(n for n in self.book.lots if n != "ENDS-CAN"))
        results, left = {}, 10_000
        for metal, f in zip(("gold", "silver"), self.book.lots[name].fine, strict=True):
            near = min(max(int(f * 10_000) + self.number(-30, 30), 0), left)
            left -= near
            results[metal] = [[f"{near // 10}.{near % 10}‰"]]
        return ticket(self.n, "assay", lot=name, method="FIRE", results=results, apply=self.pick(["lot", "melt"]))

    def sweep(self) -> Document:
        basis = self.pick(["estimated", "estimated", "measured"])
        mass, gold = grams(self.number(500, 90_000)), f"{self.number(333, 500)}"
        line = lot(self.name(), mass, gold=gold, silver="30", basis=basis)
        return ticket(self.n, "sweep", area=self.pick(AREAS[:4]), lots=[line])

    def ship(self) -> Document:
        area, name = self.pick(self.here())
        line = self.taken(area, name)
        if self.chance(40):
            line["billed"] = {"gold": "500‰", "silver": "30‰"}
        terms: Document = self.pick([
            {"party": "CUS", "terms": "sold"}, {"party": "LEND", "terms": "returned", "against": "leased"},
            {"party": "LIST", "terms": "returned"},
        ])  # fmt: skip
        return ticket(self.n, "ship", from_=area, lots=[line], **terms)

    def discard(self) -> Document:
        area, name = self.pick(self.here())
        line = self.taken(area, name)
        steps = self.stands(area, name)
        line["content"] = {"gold": f"{grams(steps // 3 + 1)} g", "silver": f"{grams(steps // 50 + 1)} g"}
        return ticket(self.n, "discard", area=area, lots=[line])

    def count(self) -> Document:
        area = self.pick(AREAS)
        lots = []
        for a, name in self.here(area=area):
            if self.chance(85):
                lots.append(lot(name) | self.read(name, max(1, self.stands(a, name) + self.number(-20, 20))))
        for a, name in sorted(self.book.missed):
            if a == area and name != "ENDS-CAN" and self.chance(40):
                lots.append(lot(name) | self.read(name, max(1, self.book.missed[a, name][0] // STEP)))
        extra: Document = {"spot": True} if lots and self.chance(25) else {}
        return ticket(self.n, "count", area=area, lots=lots, **({} if lots else {"nil": True}), **extra)

    def found(self) -> Document:
        """Handle a lot that a count missed, in the area that missed it or in another."""
        missed = [(a, n) for a, n in sorted(self.book.missed) if n != "ENDS-CAN" and not self.standing(n)]
        if not missed:
            return self.count()
        area, name = self.pick(missed)
        if self.chance(40):
            area = self.pick(AREAS)
        to = self.pick([a for a in AREAS if a != area])
        line: Document = {"lot": name, "all": True}
        if self.weighed or self.chance(50):
            steps = next(amount[0] for (_, n), amount in self.book.missed.items() if n == name) // STEP
            line |= self.read(name, max(1, steps + self.number(-20, 20)))
        return ticket(self.n, "move", from_=area, to=to, lots=[line])

    def standing(self, name: str) -> bool:
        return any(any(amount) for (_, n), amount in self.book.stock.items() if n == name)

    def writeoff(self) -> Document:
        area, metal = self.pick(AREAS), self.pick([0, 1, 2])
        open_ng = self.book.balances().get(f"difference {area}", (0, 0, 0))[metal]
        if not open_ng:
            return self.count()
        ng = open_ng // 2 or open_ng
        text = f"{'-' if ng < 0 else ''}{abs(ng) // 10**9}.{abs(ng) % 10**9:09d} g"
        return ticket(self.n, "writeoff", area=area, metal=("gross", "gold", "silver")[metal], mass=text, cause="spill",
                      evidence="photograph", reason="seen")  # fmt: skip

    def next(self, kinds: Sequence[str]) -> Document:
        kind = self.pick(kinds)
        if len(self.documents) < 2 or not self.here():
            kind = "receive"
        document: Document = getattr(self, kind)()
        return document

    def take(self, document: Document) -> None:
        """Keep a ticket; one that cannot be is left out, and its number with it."""
        before = deepcopy(self.book)
        try:
            self.book.enter(document)
            self.documents.append(document)
        except CannotBe:
            self.book = before


KINDS = (
    *("receive", "move", "move", "move", "work", "work", "work", "work", "assay", "sweep", "ship", "discard", "count"),
    *("count", "found", "writeoff"),
)


@st.composite
def months(draw: Draw, kinds: Sequence[str] = KINDS, weighed: bool = False, most: int = 14) -> Plant:
    """Return a plant that has written some tickets. With ``weighed`` whatever is emptied was put on a scale."""
    plant = Plant(draw, weighed)
    for _ in range(draw(st.integers(3, most))):
        plant.take(plant.next(kinds))
    return plant
