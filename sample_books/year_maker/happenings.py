"""Troubles that happen to metal and instruments: takings, a substitution, dust, scales, wrong metal, the refiner."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

from year_maker.clock import YEAR, Course, last_working_day, moment, working_days
from year_maker.floor import Floor, Paper
from year_maker.metal import Metal, of_fineness
from year_maker.truth import Trouble, next_of


class Drifting:
    """A scale that goes out from a day on, while its weekly check is left out, until it is found and adjusted."""

    def __init__(self, floor: Floor, code: str, area: str, begins: date, until: date, out: float) -> None:
        self.code, self.area, self.begins, self.until, self.out = code, area, begins, until, out
        self.found_on: date | None = None
        self._floor = floor
        floor.scales[code].out_by = self.error

    def error(self, now: datetime) -> float:
        """Return the relative error beyond the usual one: it grows for a week, then stays."""
        days = (now.date() - self.begins).days
        return 0.0 if days < 0 or self.found_on else self.out * min((days + 1) / 7, 1.0)

    def skips(self, code: str, day: date) -> bool:
        """Return whether the check is left out."""
        return code == self.code and self.begins <= day < self.until

    def finds(self, code: str, today: date) -> bool:
        """Return whether today's check finds it."""
        if code != self.code or today < self.until or self.found_on:
            return False
        self.found_on = today
        return True

    def told(self, papers: list[Paper]) -> Trouble:
        """Return the trouble, with every ticket weighed on the scale while it was out."""
        assert self.found_on is not None
        first = datetime.combine(self.begins, time())
        until = datetime.combine(self.found_on, time(6, 30))
        on = [p for p in papers if first <= p.at < until and not p.lost and self._error_of(p) is not None]
        found = next(p for p in papers if p.at.date() == self.found_on and p.document.get("scale") == self.code)
        lots = sorted({lot for p in on for lot in p.lots()})
        return Trouble(
            "scale", self.area, first, f"{self.code} read {self.out:.2%} high until its check of {self.found_on}",
            sum((self._error_of(p) or Metal() for p in on), Metal()), lots, on, found,
            "transfer differences while it lasts; the check weight", self.out / 0.00004,
            {"scale": self.code, "factor": 1 + self.out, "from": str(self.begins), "until": str(self.found_on)},
        )  # fmt: skip

    def _error_of(self, paper: Paper) -> Metal | None:
        """Return by how much a ticket's readings on it put too much into the area; None if not weighed on it."""
        error, any_reading = Metal(), False
        for side, _, line in paper.lines():
            inward = line.get("received_scale") == self.code
            if not inward and line.get("scale") != self.code:
                continue
            any_reading = True
            if not inward and (paper.kind != "move" or side != "lots"):
                continue
            text: str = line["received_mass"] if inward else line.get("mass") or line["gross"]
            gold, silver = self._floor.made_of[line.get("lot") or line["bin"]]
            over = float(text.split()[0]) * self.out * min(((paper.at.date() - self.begins).days + 1) / 7, 1.0)
            error += of_fineness(over if inward else -over, gold, silver)
        return error if any_reading else None


class Happenings:
    """Plants the troubles into a floor before its year begins, and tells of them when it is over."""

    def __init__(self, floor: Floor) -> None:
        self.floor = floor
        self.troubles: list[Trouble] = []
        self.taken: list[tuple[datetime, str, Metal]] = []
        self.dust_gone = Metal()
        self.drifts = [
            Drifting(floor, "S-PRESS", "PRESS", date(YEAR, 4, 8), date(YEAR, 4, 22), 0.002),
            Drifting(floor, "S-DRAW", "DRAW", date(YEAR, 11, 4), date(YEAR, 11, 18), 0.0003),
        ]
        floor.skips_check = lambda code, day: any(drift.skips(code, day) for drift in self.drifts)
        floor.found_out = self._found_out
        floor.refiner_low = 0.0018
        begin = floor.schedule.begin
        begin(self._wrong_karat(), moment(4, 13, 11, 5))
        begin(self._trickle(), moment(5, 1, 6))
        begin(self._taking("VAULT", "GOLD", 8.4), moment(8, 13, 21, 35))
        begin(self._dust(), moment(9, 1, 6))
        begin(self._substitution(22.0), moment(10, 8, 19, 20))

    def _found_out(self, code: str, today: date) -> bool:
        found = [drift.finds(code, today) for drift in self.drifts]
        return any(found)

    def _wrong_karat(self) -> Course:
        lot = self.floor.on_hand("VAULT", "KARAT")[-1]
        before = self.floor.take("VAULT", lot)
        true = of_fineness(before.mass, 10 / 24, 0.11)
        self.floor.put("VAULT", lot, true)
        self.troubles.append(Trouble(
            "karat", "VAULT", self.floor.now.replace(hour=9, minute=40),
            f"grain {lot} was delivered and invoiced as G10; the receipt was keyed as G14",
            before - true, [lot], visible="the assay of the melts it went into", sigmas=400.0,
            more={"recorded": "G14", "correct": "G10", "field": "alloy"},
        ))  # fmt: skip
        return
        yield

    def _trickle(self) -> Course:
        for day in working_days(date(YEAR, 5, 4), date(YEAR, 10, 31)):
            if day.weekday() == 2:
                yield datetime.combine(day, time(20, 40))
                stock = self.floor.stock["DRAW"]
                lots = [lot for lot in ("B-TRIM14", *self.floor.on_hand("DRAW", "WIRE")) if lot in stock]
                if lots and stock[lots[0]].mass > 30:
                    mass = 0.22 * self.floor.chance.between(0.8, 1.2, "trickle")
                    self.taken.append((self.floor.now, lots[0], self.floor.take("DRAW", lots[0], mass)))

    def _taking(self, area: str, kind: str, mass: float) -> Course:
        lot = max(self.floor.on_hand(area, kind), key=lambda one: self.floor.stock[area][one].mass)
        metal = self.floor.take(area, lot, mass)
        self.troubles.append(Trouble(
            "unticketed", area, self.floor.now, f"{mass} g were taken out of {lot} at once, without a ticket", metal,
            [lot], visible="the next weighing of all of the lot, or the count", sigmas=mass / 0.04,
        ))  # fmt: skip
        return
        yield

    def _dust(self) -> Course:
        for day in working_days(date(YEAR, 9, 1), date(YEAR, 9, 30)):
            if day.weekday() == 4 or day == last_working_day(9):
                yield datetime.combine(day, time(11, 0))
                pool = self.floor.losses.dust["FINISH"]
                gone = pool.times(0.45)
                self.floor.losses.dust["FINISH"] = pool - gone
                self.dust_gone += gone

    def _substitution(self, gold: float) -> Course:
        lot = max(self.floor.on_hand("VAULT", "GOLD"), key=lambda one: self.floor.stock["VAULT"][one].mass)
        before = self.floor.take("VAULT", lot)
        self.floor.put("VAULT", lot, Metal(before.mass, before.gold - gold, before.silver))
        self.troubles.append(Trouble(
            "substituted", "VAULT", self.floor.now,
            f"{gold} g of the gold grain of {lot} were changed for as much base metal",
            Metal(0.0, gold, 0.0), [lot],
            visible="the assay of the melts it went into; gross closes", sigmas=gold / 0.2,
        ))  # fmt: skip
        return
        yield

    def told(self, papers: list[Paper]) -> list[Trouble]:
        """Return what happened, with the tickets that show it."""
        for trouble in self.troubles:
            (lot,) = trouble.lots
            melted = trouble.family in ("karat", "substituted")
            trouble.seen_by = _assay_after(papers, lot, trouble.at) if melted else next_of(
                papers, lot, trouble.at, whole=True)  # fmt: skip
            made = next(p for p in papers if lot in p.lots() and not p.lost)
            trouble.papers = [made] if trouble.family == "karat" else []
        return [*self.troubles, *(drift.told(papers) for drift in self.drifts), self._of_trickle(papers),
                self._of_dust(papers), self._of_refiner(papers)]  # fmt: skip

    def _of_trickle(self, papers: list[Paper]) -> Trouble:
        seen = [next_of(papers, lot, at, whole=True) for at, lot, _ in self.taken]
        total = sum((metal for _, _, metal in self.taken), Metal())
        months: dict[str, float] = {}
        for at, _, metal in self.taken:
            months[f"{at:%Y-%m}"] = round(months.get(f"{at:%Y-%m}", 0.0) + metal.gold, 4)
        return Trouble(
            "unticketed", "DRAW", self.taken[0][0],
            f"a little wire or trim was taken {len(self.taken)} times, mostly each Wednesday night, May to October",
            total, sorted({lot for _, lot, _ in self.taken}), seen_by=seen[0],
            visible="each time in the next weighing of the lot; in the balance only over months", sigmas=7.0,
            more={"trickle": True, "by_month_gold": months,
                  "shown_by": sorted({p.number for p in seen if p is not None})},
        )  # fmt: skip

    def _of_dust(self, papers: list[Paper]) -> Trouble:
        swept = [p for p in papers if p.kind == "sweep" and p.document["area"] == "FINISH" and p.at.month == 9]
        return Trouble(
            "estimate", "FINISH", moment(9, 1, 6),
            "nearly half of September's buffing dust left the shop before it was swept up: the clean-out falls short",
            self.dust_gone, [lot for p in swept for lot in p.lots()], swept, swept[-1],
            "the clean-out at month-end; the settlement of the sweeps", self.dust_gone.gold / 0.5,
        )  # fmt: skip

    def _of_refiner(self, papers: list[Paper]) -> Trouble:
        settled = [p for p in papers if p.kind == "settle"]
        agreed = [line["agreed"] for p in settled for line in p.document["lots"]]
        gold, silver = (sum(float(one[m].split()[0]) for one in agreed) for m in ("gold", "silver"))
        low = self.floor.refiner_low
        return Trouble(
            "settlement", "REFINER", settled[0].at, f"the refiner agrees to {low:.2%} less than is there, every time",
            Metal(0.0, gold * low, silver * 2 * low), sorted({lot for p in settled for lot in p.lots()}), settled,
            settled[-1], "never in one lot; the sign over all settlements", 2.5 * len(agreed) ** 0.5,
            {"party": "EDDLE", "share": low},
        )  # fmt: skip


def _assay_after(papers: list[Paper], lot: str, at: datetime) -> Paper | None:
    """Return the assay of the first melt that a lot went into after a moment."""
    for place, paper in enumerate(papers):
        if (
            paper.at > at
            and paper.kind == "work"
            and any(line.get("lot") == lot for line in paper.document.get("in", ()))
        ):
            out = paper
            if not paper.document.get("out"):
                out = next(p for p in papers[place + 1 :] if p.document.get("job") == paper.document["job"])
            return next_of(papers, out.document["out"][0]["lot"], out.at - timedelta(minutes=1))
    return None
