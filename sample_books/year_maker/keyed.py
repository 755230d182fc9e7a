"""Troubles on paper: what was keyed wrong, entered twice, left out, dated or placed wrong."""

from __future__ import annotations

from collections.abc import Callable
from copy import deepcopy
from datetime import datetime, timedelta
from typing import Any

from year_maker.clock import last_working_day, moment
from year_maker.floor import Document, Floor, Paper
from year_maker.instruments import GRAMS
from year_maker.metal import Metal, of_fineness
from year_maker.truth import Trouble, next_of
from year_maker.writing import in_order, swapped

#: A line of a ticket: the ticket, the list, its place, the line.
Found = tuple[Paper, str, int, Document]

#: Area → the area it is taken for.
_TAKEN_FOR = {"PRESS": "DRAW", "FINISH": "ASSEM", "DRAW": "BOND", "ROLL": "BOND"}


def ten_off(mass: str) -> str | None:
    """Return a mass with its decimal point one place too far to the left."""
    number, unit = mass.split()
    whole, decimals = number.split(".")
    return f"{whole[:-1] or '0'}.{whole[-1]}{decimals[:-1]} {unit}"


def another_digit(mass: str) -> str | None:
    """Return a mass whose tens digit was read as another: 1 as 7, 3 as 8, and the other way."""
    number, unit = mass.split()
    at = number.index(".") - 2
    read = {"1": "7", "7": "1", "3": "8", "8": "3", "6": "0", "0": "6", "5": "6", "4": "9", "9": "4", "2": "7"}
    return None if at < 1 else f"{number[:at]}{read[number[at]]}{number[at + 1 :]} {unit}"


def as_grams(mass: str) -> str | None:
    """Return pennyweights keyed as grams."""
    number, unit = mass.split()
    return f"{number} g" if unit == "dwt" else None


class MisKeying:
    """Edits the year's papers; each edit is a trouble told."""

    def __init__(self, floor: Floor, papers: list[Paper]) -> None:
        self.floor = floor
        self.papers = papers
        self.ordered = in_order(papers)
        self.troubles: list[Trouble] = []

    def all_of_them(self) -> None:
        """Plant every trouble on paper, in the order of the year."""
        self._mass("transposed", 2, "gross", swapped, area="PRESS", operation="BLANKING", side="out")
        self._missing_shipment(2)
        self._duplicate_receipt(3)
        self._mass("digit", 3, "gross", another_digit, area="FINISH", operation="BUFFING", side="out")
        self._mass("decimal", 5, "mass", ten_off, area="BOND", operation="BONDING", side="out", of_bin=True)
        self._determination(6, "FIRE", "PL-", 0.003, "MELT")
        self._wrong_period(6)
        self._uncounted(7)
        self._forgotten_tare(7)
        self._unit(8)
        self._wrong_area(9, 8, 10, 12, 3, 1, 7, 5, 4, 6)
        self._counted_twice(10)
        self._determination(11, "BEAD", "AN-", 0.00007, "ROLL")
        self._mass("transposed", 12, "gross", swapped, area="ASSEM", operation="ASSEMBLY", side="out")

    # Finding.

    def _lines(self, month: int, kind: str) -> list[Found]:
        """Return the lines of one kind of ticket, those in the middle of the month first."""
        found = [p for p in self.ordered if p.kind == kind and not (p.mended or p.lost)]
        found.sort(key=lambda p: (abs(p.at.month - month), abs(p.at.day - 13)))
        return [(paper, *place) for paper in found for place in paper.lines()]

    def _first(self, month: int, kind: str, fits: Callable[[Paper, str, Document], bool]) -> Found:
        found = next(one for one in self._lines(month, kind) if fits(one[0], one[1], one[3]))
        found[0].mended = True
        return found

    def _weighed_whole_next(self, lot: str, paper: Paper, *, in_month: bool = True) -> bool:
        seen = next_of(self.ordered, lot, paper.at)
        if seen is None or seen.mended or (in_month and seen.at.month != paper.at.month):
            return False
        lines = [line for _, _, line in seen.lines() if lot in (line.get("lot"), line.get("bin"))]
        return all(line.get("all", False) and ("mass" in line or "gross" in line) for line in lines)

    # What is keyed wrong.

    def _content(self, lot: str, grams: float) -> Metal:
        return of_fineness(grams, *self.floor.made_of[lot])

    def _made(self, operation: str, lot: str, grams: float) -> Metal:
        """Return what grams too many of an output are booked as: of the layer, where the surface wears."""
        layer = self.floor.tags[lot].layer
        return of_fineness(grams, *layer) if operation == "BUFFING" and layer else self._content(lot, grams)

    def _tell(
        self, family: str, found: Found, field: str, recorded: Any, correct: Any, size: Metal, says: str,
        sigmas: float | None,
    ) -> Trouble:  # fmt: skip
        paper, side, place, line = found
        lot = line.get("lot") or line.get("bin") or paper.document["lot"]
        area = paper.document.get("area") or paper.document.get("to") or paper.document.get("from") or ""
        where = f"{side}[{place}].{field}" if side else field
        trouble = Trouble(
            family, area, paper.at, says, size, [lot], [paper], next_of(self.ordered, lot, paper.at, whole=True),
            "the next weighing of all of the lot", sigmas, {"field": where, "recorded": recorded, "correct": correct},
        )  # fmt: skip
        self.troubles.append(trouble)
        return trouble

    def _mass(
        self, family: str, month: int, field: str, wrong: Callable[[str], str | None], *, area: str, operation: str,
        side: str, of_bin: bool = False,
    ) -> None:  # fmt: skip
        def fits(paper: Paper, on: str, line: Document) -> bool:
            lot = line.get("bin" if of_bin else "lot")
            return (
                paper.document["area"] == area and paper.document["operation"] == operation and on == side
                and "job" not in paper.document and lot is not None and field in line
                and wrong(line[field]) is not None and self.floor.made_of[lot][0] > 0
                and (of_bin or self._weighed_whole_next(lot, paper))
            )  # fmt: skip

        found = self._first(month, "work", fits)
        line = found[3]
        correct, line[field] = line[field], wrong(line[field])
        off = float(line[field].split()[0]) - float(correct.split()[0])
        sigma = 1.5 * self.floor.scales[line["scale"]].repeatability + 0.005
        self._tell(
            family, found, field, line[field], correct, self._made(operation, line.get("lot") or line["bin"], off),
            f"the {field} of an output was keyed {line[field]} for {correct}", abs(off) / sigma,
        )  # fmt: skip

    def _unit(self, month: int) -> None:
        def fits(paper: Paper, side: str, line: Document) -> bool:
            return line.get("received_scale") == "S-DWT" and self._weighed_whole_next(line["lot"], paper)

        found = self._first(month, "move", fits)
        line = found[3]
        correct = line["received_mass"]
        line["received_mass"] = as_grams(correct)
        off = float(correct.split()[0]) * (1 - GRAMS["dwt"])
        self._tell(
            "unit", found, "received_mass", line["received_mass"], correct, self._content(line["lot"], off),
            "the receiver's scale reads pennyweights; the figure was keyed as grams", abs(off) / 0.03,
        )  # fmt: skip

    def _forgotten_tare(self, month: int) -> None:
        def fits(paper: Paper, side: str, line: Document) -> bool:
            return (
                paper.document["operation"] == "ASSEMBLY" and side == "out" and "container" in line
                and self._weighed_whole_next(line["lot"], paper)
            )  # fmt: skip

        found = self._first(month, "work", fits)
        line = found[3]
        correct = {name: line.pop(name) for name in ("gross", "container")}
        line["mass"] = correct["gross"]
        tare = self.floor.tares[correct["container"]]
        self._tell(
            "tare", found, "mass", {"mass": line["mass"]}, correct, self._content(line["lot"], tare),
            f"the tare of {correct['container']} was not taken off", tare / 0.02,
        )  # fmt: skip

    def _determination(self, month: int, method: str, prefix: str, off: float, area: str) -> None:
        def fits(paper: Paper, lot: str) -> bool:
            return paper.document["method"] == method and lot.startswith(prefix)

        papers = [p for p in self.ordered if p.at.month == month and p.kind == "assay" and 5 <= p.at.day <= 16]
        paper = next(p for p in papers if fits(p, p.document["lot"]))
        lot, results = paper.document["lot"], paper.document["results"]
        correct, places = deepcopy(results["gold"]), len(results["gold"][0][0].split(".")[1]) - 1
        results["gold"] = [
            [f"{float(one.rstrip('‰')) + off * 1000:.{places}f}‰" for one in sample] for sample in correct
        ]
        mass = next(
            float(str(line.get("mass")).split()[0])
            for before in reversed(self.ordered[: self.ordered.index(paper)])
            for side, _, line in before.lines()
            if side == "out" and line.get("lot") == lot
        )
        trouble = self._tell(
            "determination", (paper, "", 0, {}), "results.gold", results["gold"], correct, Metal(0.0, mass * off, 0.0),
            f"the {method} assay of {lot} found {off * 1000:+.2f}‰ of gold too much: another sample", 4.0,
        )  # fmt: skip
        trouble.area, trouble.seen_by = area, paper
        trouble.sigmas = off / (0.00014 if method == "FIRE" else 0.000017)
        trouble.visible = "the assay itself against the charge; the next assay downstream shows the opposite"

    # What is missing, double, or in the wrong place.

    def _missing_shipment(self, month: int) -> None:
        paper, _, _, line = self._first(month, "ship", lambda p, s, x: p.at.day < 20 and p.document["terms"] == "sold")
        paper.lost = True
        count = self._count_after("DISPATCH", paper.at)
        size = self._content(line["lot"], self._grams(line))
        self.troubles.append(Trouble(
            "missing_ticket", "DISPATCH", paper.at, f"{line['lot']} was shipped; its ticket was never entered", size,
            [line["lot"]], [count], count, "not found at month-end; the number is not in the book", None,
            {"missing_number": paper, "correct": paper.document},
        ))  # fmt: skip

    def _grams(self, line: Document) -> float:
        if "gross" in line:
            return float(line["gross"].split()[0]) - self.floor.tares[line["container"]]
        return float(line["mass"].split()[0])

    def _count_after(self, area: str, at: datetime) -> Paper:
        return next(
            p for p in self.ordered
            if p.kind == "count" and p.at > at and p.document["area"] == area and p.document.get("ended") is True
        )  # fmt: skip

    def _duplicate_receipt(self, month: int) -> None:
        def fits(paper: Paper, side: str, line: Document) -> bool:
            return bool(paper.document["party"] == "MARLOCK" and line["lot"].startswith("GB"))

        paper = self._first(month, "receive", fits)[0]
        again = Paper(paper.at + timedelta(days=2, hours=1), deepcopy(paper.document), mended=True)
        lots = []
        for each in again.document["lots"]:
            each["lot"] = f"{each['lot']}B"
            lots.append(each["lot"])
        again.document["note"] = "from the delivery note"
        self.papers.append(again)
        true = [self._content(one["lot"], self._grams(one)) for one in paper.document["lots"]]
        count = self._count_after("VAULT", again.at)
        self.troubles.append(Trouble(
            "duplicate", "VAULT", again.at, "one delivery was entered from the weigh slip and again from the note",
            sum(true, Metal()), [*lots, *(one["lot"] for one in paper.document["lots"])], [paper, again], count,
            "the second lot is not found at month-end", None,
        ))  # fmt: skip

    def _wrong_period(self, month: int) -> None:
        day = last_working_day(month)
        paper, _, _, line = next(
            one for one in reversed(self.ordered_lines("ship"))
            if one[0].at.date() <= day and one[0].at.month == month and not one[0].mended
        )  # fmt: skip
        count = self._count_after("DISPATCH", paper.at)
        true_at, wrong_at = paper.at, moment(month + 1, 1, 7, 12)
        paper.at, paper.mended = wrong_at, True
        self.troubles.append(Trouble(
            "wrong_period", "DISPATCH", true_at, f"{line['lot']} left before the count; its ticket says next month",
            self._content(line["lot"], self._grams(line)), [line["lot"]], [paper], count,
            "not found at month-end, found again by the ticket", None,
            {"field": "at", "recorded": f"{wrong_at:%Y-%m-%dT%H:%M}", "correct": f"{true_at:%Y-%m-%dT%H:%M}"},
        ))  # fmt: skip

    def ordered_lines(self, kind: str) -> list[Found]:
        """Return the lines of one kind of ticket, in order."""
        return [(p, *place) for p in self.ordered if p.kind == kind and not p.lost for place in p.lines()]

    def _month_end_sheets(self, month: int, area: str) -> list[Paper]:
        name = f"{last_working_day(month):%Y-%m}-{area}"
        return [p for p in self.ordered if p.kind == "count" and p.document.get("count") == name]

    def _uncounted(self, month: int) -> None:
        for paper in self._month_end_sheets(month, "SCRAP"):
            for place, line in enumerate(paper.document["lots"]):
                if line["lot"].startswith("DR") and self._weighed_whole_next(line["lot"], paper, in_month=False):
                    paper.document["lots"].pop(place)
                    off = self._content(line["lot"], -self._grams(line))
                    trouble = self._tell("uncounted", (paper, "lots", place, line), "lot", None, line, off,
                                         f"{line['lot']} stood there and is on no sheet", None)  # fmt: skip
                    trouble.seen_by, trouble.visible = paper, "not found; found again when it is next handled"
                    return

    def _counted_twice(self, month: int) -> None:
        sheets = self._month_end_sheets(month, "SCRAP")
        for place, line in enumerate(sheets[0].document["lots"]):
            if line["lot"].startswith("DR") and self._weighed_whole_next(line["lot"], sheets[0], in_month=False):
                sheets[-1].document["lots"].append(deepcopy(line))
                off = self._content(line["lot"], self._grams(line))
                found = (sheets[-1], "lots", len(sheets[-1].document["lots"]) - 1, line)
                trouble = self._tell("counted_twice", found, "lot", deepcopy(line), None, off,
                                     f"{line['lot']} is on the count twice", None)  # fmt: skip
                trouble.papers = list(dict.fromkeys((sheets[0], sheets[-1])))
                trouble.seen_by, trouble.visible = sheets[-1], f"the count itself (line {place}); mirrored later"
                return

    def _wrong_area(self, *months: int) -> None:
        def fits(found: Found) -> bool:
            paper, _, _, line = found
            after = next_of(self.ordered, line.get("lot", ""), paper.at)
            day = last_working_day(paper.at.month)
            return (
                0 <= (day - paper.at.date()).days <= 6 and paper.at.month in months and not paper.mended
                and "in_transit" not in paper.document
                and paper.document["to"] in _TAKEN_FOR and len(paper.document["lots"]) == 1 and "received_mass" in line
                and after is not None and after.kind == "count" and after.document["area"] == paper.document["to"]
            )  # fmt: skip

        fitting = [one for one in self.ordered_lines("move") if fits(one)]
        found = min(fitting, key=lambda one: (not self.floor.made_of[one[3]["lot"]][0], months.index(one[0].at.month)))
        paper, line = found[0], found[3]
        right = paper.document["to"]
        wrong = paper.document["to"] = _TAKEN_FOR[right]
        paper.mended = True
        trouble = self._tell(
            "wrong_area", (paper, "", 0, line), "to", wrong, right,
            self._content(line["lot"], float(line["received_mass"].split()[0])),
            f"{line['lot']} went to {right}; the ticket says {wrong}", None,
        )  # fmt: skip
        trouble.visible = f"not found in {wrong}, counted in {right} where it is not recorded"
