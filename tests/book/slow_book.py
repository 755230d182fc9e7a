"""A slow second opinion: the posting table kept with pencil and dictionaries, from ticket documents alone.

It imports nothing from ``ledger``, knows no reversal, no order and no set-up beyond what `tests.book.plants` writes,
and keeps what comes in, goes out and is taken up of every area, so that month-end's first road can be walked without
any posting to a difference. Amounts are (gross, gold, silver) in ng.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

F = Fraction
Amount = tuple[int, ...]
Fineness = tuple[F, ...]
ZERO: Amount = (0, 0, 0)
G12: Fineness = (F(1, 2), F(1, 5))
FUME = {"melt": F(3, 1000), "solder": F(0)}
COMPOSITION = {"melt": "combines", "solder": "combines", "roll": "carries", "buff": "surface", "pickle": "content"}


def ng(text: str) -> int:
    exact = F(text.removesuffix(" g")) * 10**9
    assert exact.denominator == 1
    return exact.numerator


def read(line: dict[str, Any]) -> int:
    """The metallic mass on a line."""
    return ng(line.get("metallic") or line["mass"])


def tenths(text: str) -> int:
    """A fineness such as 585.3‰ in tenths of a per mille."""
    return int(F(text.removesuffix("‰")) * 10)


def fineness(stated: dict[str, str]) -> Fineness:
    return tuple(F(stated[metal].removesuffix("‰")) / 1000 for metal in ("gold", "silver"))


def of(mass: int, fine: Fineness) -> Amount:
    return (mass, *(round(mass * f) for f in fine))


def add(*amounts: Sequence[int]) -> Amount:
    return tuple(map(sum, zip(*amounts, strict=True)))


def less(a: Sequence[int], b: Sequence[int]) -> Amount:
    return tuple(x - y for x, y in zip(a, b, strict=True))


@dataclass
class Lot:
    """What is known of a lot. ``estimate`` is (class, area) to true up, ``awaits`` the area that its assay falls on."""

    fine: Fineness
    melt: object = field(default_factory=object)
    layer: Fineness | None = None
    estimate: tuple[str, str] | None = None
    awaits: str | None = None
    dirty: bool = False


@dataclass
class Input:
    lot: Lot
    fine: Fineness
    weighed: Amount


class CannotBe(Exception):
    """Finer than pure, or more than is there."""


Made = tuple[list[Amount], Lot]


class SlowBook:
    """The book, and what came into, left and was swept up in each area."""

    def __init__(self) -> None:
        self.lots: dict[str, Lot] = {}
        self.stock: dict[tuple[str, str], Amount] = {}
        self.missed: dict[tuple[str, str], Amount] = {}
        self.balance: defaultdict[str, Amount] = defaultdict(lambda: ZERO)
        self.received: defaultdict[str, Amount] = defaultdict(lambda: ZERO)
        self.issued: defaultdict[str, Amount] = defaultdict(lambda: ZERO)
        self.sweeps: defaultdict[str, Amount] = defaultdict(lambda: ZERO)

    # What the book says at the end.

    def closing(self, area: str) -> Amount:
        return add(ZERO, *(amount for (a, _), amount in self.stock.items() if a == area))

    def gross_loss(self, area: str) -> Amount:
        """Road 1: opening (nothing) + received − issued − closing + sweeps taken up."""
        came = add(self.received[area], self.sweeps[area])
        return less(less(came, self.issued[area]), self.closing(area))

    def balances(self) -> dict[str, Amount]:
        """Every account, as `Book.balances` writes it; an area's difference by road 1, less what is written off."""
        out = {f"place {area} {lot}": amount for (area, lot), amount in self.stock.items()}
        out.update(self.balance)
        for area in {*self.received, *self.issued, *self.sweeps, *(a for a, _ in self.stock)}:
            key = f"difference {area}"
            out[key] = add(out.get(key, ZERO), self.gross_loss(area))
        return {account: amount for account, amount in out.items() if any(amount)}

    # What a ticket does.

    def enter(self, document: dict[str, Any]) -> None:
        getattr(self, document["kind"])(document)

    def _charge(self, account: str, amount: Sequence[int]) -> None:
        self.balance[account] = add(self.balance[account], amount)

    def _put(self, area: str, lot: str, amount: Sequence[int]) -> None:
        self.stock[area, lot] = add(self.stock.get((area, lot), ZERO), amount)

    def _take(self, area: str, line: dict[str, Any]) -> tuple[Amount, Amount, Fineness]:
        """Take a line's metal; returns R, W and the fineness it left with."""
        name = line.get("lot") or line["bin"]
        mass = read(line) if "mass" in line else None
        stands = self.stock.get((area, name), ZERO)
        if not any(stands) or (mass or 0) > stands[0]:
            self._find(area, name, stands)
            stands = self.stock.get((area, name), ZERO)
        if not any(stands) or (not line.get("all") and (mass or 0) > stands[0]):
            raise CannotBe
        fine = self.lots[name].fine
        if "bin" in line:
            fine = tuple(F(x, stands[0]) for x in stands[1:])
        weighed = stands if mass is None or mass == stands[0] else of(mass, fine)
        if mass is not None and line.get("all"):
            weighed = of(mass, fine)
        recorded = stands if line.get("all") or mass is None else weighed
        self._put(area, name, less(ZERO, recorded))
        return recorded, weighed, fine

    def _find(self, area: str, name: str, stands: Amount) -> None:
        where = sorted((a for a, n in self.missed if n == name), key=lambda a: (a != area, a))
        if not where or (where[0] != area and any(stands)):
            return
        amount = self.missed.pop((where[0], name))
        self._put(where[0], name, amount)
        if where[0] != area:
            self._put(where[0], name, less(ZERO, amount))
            self._put(area, name, amount)
            self.issued[where[0]] = add(self.issued[where[0]], amount)
            self.received[area] = add(self.received[area], amount)

    def _made(self, line: dict[str, Any], mass: int, estimate: tuple[str, str] | None) -> Amount:
        if "content" in line:
            fine = tuple(F(ng(line["content"][metal]), mass) for metal in ("gold", "silver"))
        elif "alloy" in line:
            fine = {"G12": G12, "BRASS": (F(0), F(0))}[line["alloy"]]
        else:
            fine = fineness(line["fineness"])
        self.lots[line["lot"]] = Lot(fine, estimate=estimate if line.get("basis") == "estimated" else None,
                                     dirty=line.get("class") == "SLAG")  # fmt: skip
        return of(mass, fine)

    def receive(self, t: dict[str, Any]) -> None:
        for line in t["lots"]:
            weighed = self._made(line, ng(line["mass"]), None)
            declared = weighed
            if t["party"] == "LIST" and "declared_mass" in line:
                fine = fineness(line["declared_fineness"])
                declared = of(ng(line["declared_mass"]), fine)
            account = {"bought": "own", "returned": "own"}.get(t["terms"], f"party {t['party']} {t['terms']}")
            if t["terms"] == "returned" and t["party"] == "REF":
                account = "party REF settled"
            self._charge(account, less(ZERO, declared))
            self._put(t["to"], line["lot"], weighed)
            self.received[t["to"]] = add(self.received[t["to"]], declared)

    def move(self, t: dict[str, Any]) -> None:
        for line in t["lots"]:
            _, weighed, fine = self._take(t["from"], line)
            self.issued[t["from"]] = add(self.issued[t["from"]], weighed)
            self.received[t["to"]] = add(self.received[t["to"]], weighed)
            arrived = of(ng(line["received_mass"]), fine) if "received_mass" in line else weighed
            self._put(t["to"], line.get("lot") or line["bin"], arrived)

    def ship(self, t: dict[str, Any]) -> None:
        for line in t["lots"]:
            _, weighed, _ = self._take(t["from"], line)
            billed = of(weighed[0], fineness(line["billed"])) if "billed" in line else weighed
            account = "own" if t["terms"] == "sold" else f"party {t['party']} {t.get('against', 'deposited')}"
            self._charge(account, billed)
            self._charge(f"give-away {t['party']}", less(weighed, billed))
            self.issued[t["from"]] = add(self.issued[t["from"]], weighed)

    def sweep(self, t: dict[str, Any]) -> None:
        area = t["area"]
        for line in t["lots"]:
            swept = self._made(line, ng(line["mass"]), ("dust", area))
            self._put(area, line["lot"], swept)
            self._charge(f"dust {area}", less(ZERO, swept))
            self.sweeps[area] = add(self.sweeps[area], swept)

    def discard(self, t: dict[str, Any]) -> None:
        area = t["area"]
        for line in t["lots"]:
            recorded, weighed, _ = self._take(area, line)
            measured = (weighed[0], ng(line["content"]["gold"]), ng(line["content"]["silver"]))
            self._charge(f"loss {area} discard", measured)
            self.issued[area] = add(self.issued[area], measured)
            self._true_up(self.lots[line["lot"]], area, (0, *less(measured, recorded)[1:]))

    def _true_up(self, lot: Lot, area: str, more: Amount) -> None:
        """An estimate's more (or less) is received where its lot stands; whose it was bears it."""
        if lot.estimate is None:
            return
        class_, origin = lot.estimate
        self.received[area] = add(self.received[area], more)
        if class_ == "dust":
            self._charge(f"dust {origin}", less(ZERO, more))
        else:
            self.issued[origin] = add(self.issued[origin], more)

    def assay(self, t: dict[str, Any]) -> None:
        lot = self.lots[t["lot"]]
        fine = fineness({metal: samples[0][0] for metal, samples in t["results"].items()})
        one_melt = t.get("apply") == "melt"
        names = [n for n, each in self.lots.items() if each is lot or (one_melt and each.melt is lot.melt)]
        melt = object()
        for name in names:
            self._revalue(name, fine)
            self.lots[name] = Lot(fine, melt, self.lots[name].layer, dirty=self.lots[name].dirty)

    def _revalue(self, name: str, fine: Fineness) -> None:
        lot = self.lots[name]
        for (area, n), stands in list(self.stock.items()):
            if n != name or not any(stands):
                continue
            more = less(of(stands[0], fine), stands)
            self._put(area, name, more)
            self._true_up(lot, area, more)
            if lot.awaits and not lot.estimate:
                self.received[area] = add(self.received[area], more)
                self.issued[lot.awaits] = add(self.issued[lot.awaits], more)

    def count(self, t: dict[str, Any]) -> None:
        area = t["area"]
        listed = {line["lot"] for line in t["lots"]}
        for line in t["lots"]:
            for a, name in list(self.missed):
                if name == line["lot"]:
                    del self.missed[a, name]
            if "mass" in line:
                self.stock[area, line["lot"]] = of(read(line), self.lots[line["lot"]].fine)
        if t.get("ended", True) and not t.get("spot"):
            for (a, name), amount in list(self.stock.items()):
                if a == area and name not in listed and any(amount):
                    self.missed[area, name] = amount
                    self.stock[area, name] = ZERO

    def writeoff(self, t: dict[str, Any]) -> None:
        at = ("gross", "gold", "silver").index(t["metal"])
        amount = [0, 0, 0]
        amount[at] = ng(t["mass"])
        self._charge(f"loss {t['area']} {t['cause']}", amount)
        self._charge(f"difference {t['area']}", less(ZERO, amount))

    # Work.

    def work(self, t: dict[str, Any]) -> None:
        area, kind = t["area"], COMPOSITION[t["operation"]]
        inputs = []
        for line in t["in"]:
            _, weighed, fine = self._take(area, line)
            inputs.append(Input(self.lots[line.get("lot") or line["bin"]], fine, weighed))
        own = [line for line in t["out"] if "basis" in line or "method" in line]
        rest = [line for line in t["out"] if line not in own]
        stated = [self._made(line, read(line), ("difference", area)) for line in own]
        masses = [ng(line["mass"]) for line in rest]
        made, lot = getattr(self, f"_{kind}")(t["operation"], inputs, stated, masses)
        if sum(lot.fine) > 1:
            raise CannotBe
        lot.awaits = area if kind == "content" else lot.awaits
        for line, amount in zip(own, stated, strict=True):
            self._put(area, line["lot"], amount)
        for line, amount in zip(rest, made, strict=True):
            name = line.get("lot") or line["bin"]
            self._put(area, name, amount)
            melt = object() if "bin" in line else lot.melt
            self.lots[name] = Lot(lot.fine, melt, lot.layer, lot.estimate, lot.awaits)

    @staticmethod
    def _left(inputs: list[Input], stated: list[Amount]) -> Amount:
        return less(add(ZERO, *(i.weighed for i in inputs)), add(ZERO, *stated))

    def _carries(self, _: str, inputs: list[Input], stated: list[Amount], masses: list[int]) -> Made:
        first = inputs[0]
        return [of(m, first.fine) for m in masses], first.lot

    def _combines(self, op: str, inputs: list[Input], stated: list[Amount], masses: list[int]) -> Made:
        put_in = add(ZERO, *(i.weighed for i in inputs))
        mass = max(put_in[0] * (1 - FUME[op]), F(sum(put_in[1:]))) - sum(o[0] for o in stated)
        if mass <= 0:
            raise CannotBe
        fine = tuple(max(F(x) / mass, F(0)) for x in self._left(inputs, stated)[1:])
        return [of(m, fine) for m in masses], Lot(fine)

    def _surface(self, _: str, inputs: list[Input], stated: list[Amount], masses: list[int]) -> Made:
        (only,) = inputs
        lost = only.weighed[0] - sum(masses) - sum(o[0] for o in stated)
        layer = only.lot.layer or only.fine
        fine = [max(round(x - lost * f), 0) for x, f in zip(self._left(inputs, stated)[1:], layer, strict=True)]
        return self._shared(fine, masses, only.lot.layer)

    def _content(self, _: str, inputs: list[Input], stated: list[Amount], masses: list[int]) -> Made:
        (only,) = inputs
        return self._shared([max(x, 0) for x in self._left(inputs, stated)[1:]], masses, only.lot.layer)

    @staticmethod
    def _shared(fine: list[int], masses: list[int], layer: Fineness | None) -> Made:
        whole, left, out = sum(masses), list(fine), []
        for mass in masses[:-1]:
            share = [round(F(x * mass, whole)) for x in fine]
            left = [x - y for x, y in zip(left, share, strict=True)]
            out.append((mass, *share))
        return [*out, (masses[-1], *left)], Lot(tuple(F(x, whole) for x in fine), layer=layer)
