"""From papers to lines: honest slips mended the same day, spoiled forms, numbers in the order of entry, JSON."""

from __future__ import annotations

import json
from copy import deepcopy
from datetime import datetime, timedelta
from itertools import pairwise

from year_maker.chance import Chance
from year_maker.clock import open_from
from year_maker.floor import Document, Paper

PREFIX = "HC-"


def in_order(papers: list[Paper]) -> list[Paper]:
    """Return papers in the order in which they are entered."""
    return sorted(papers, key=lambda paper: paper.entered or paper.at)


def swapped(mass: str) -> str | None:
    """Return a mass with two neighbouring, different digits before its last decimal swapped; None if there are none."""
    number, unit = mass.split()
    places = [i for i, (a, b) in enumerate(pairwise(number)) if a.isdigit() and b.isdigit() and a != b and i > 0]
    if not places:
        return None
    i = places[0]
    return f"{number[:i]}{number[i + 1]}{number[i]}{number[i + 2 :]} {unit}"


def mend_slips(papers: list[Paper], chance: Chance, count: int) -> list[Paper]:
    """Return papers with slips of the pen, each found, reversed and corrected within two hours."""
    ordered = in_order(papers)
    again = _handled_again(ordered)
    wanted = [paper for paper in ordered if _may_slip(paper, again)]
    step = len(wanted) // count
    for number in range(count):
        paper = wanted[number * step + int(chance.between(0, step, "slip"))]
        right = Paper(paper.at, deepcopy(paper.document), entered=paper.at + timedelta(minutes=95), mended=True)
        line = paper.document["lots"][0]
        line["mass"] = swapped(line["mass"])
        paper.mended = True
        words = f"mass keyed {line['mass']}; the weigh slip says {right.document['lots'][0]['mass']}"
        reverse: Document = {"ticket": "", "kind": "reverse", "at": "", "by": "MQ", "of": paper, "reason": words}
        right.document["corrects"] = paper
        papers += [Paper(paper.at + timedelta(minutes=90), reverse, mended=True), right]
    return papers


def _handled_again(ordered: list[Paper]) -> dict[int, datetime]:
    """Return, by paper, when one of its lots is next handled."""
    soonest: dict[int, datetime] = {}
    last: dict[str, Paper] = {}
    for paper in ordered:
        for lot in paper.lots():
            if lot in last:
                soonest.setdefault(id(last[lot]), paper.at)
            last[lot] = paper
    return soonest


def _may_slip(paper: Paper, again: dict[int, datetime]) -> bool:
    document = paper.document
    if paper.kind != "move" or "in_transit" in document or paper.at.hour > 18:
        return False
    line = document["lots"][0]
    wrong = swapped(line["mass"]) if "mass" in line and line.get("all") else None
    soon = again.get(id(paper), paper.at + timedelta(days=400)) - paper.at
    same_day = open_from(paper.at + timedelta(minutes=95)) == paper.at + timedelta(minutes=95)
    return wrong is not None and soon > timedelta(minutes=100) and same_day


def spoil(papers: list[Paper], chance: Chance, count: int) -> list[Paper]:
    """Return papers with forms spoiled here and there, each declared void the same day."""
    ordered = in_order(papers)
    reasons = ("form torn in the printer", "acid on the form, nothing readable", "filled in twice by mistake, kept")
    for number in range(count):
        place = int((number + chance.between(0.1, 0.9, "spoiled")) * len(ordered) / count)
        at = ordered[place].at
        form = Paper(at, {"kind": "spoiled"}, lost=True)
        void = {"ticket": "", "kind": "void", "at": "", "by": "MQ", "numbers": [form],
                "reason": chance.pick(reasons, "spoiled")}  # fmt: skip
        papers += [form, Paper(at + timedelta(minutes=50), void)]
    return papers


def numbered(papers: list[Paper]) -> list[Paper]:
    """Give each paper its number and date, in the order of entry."""
    ordered = in_order(papers)
    for counter, paper in enumerate(ordered, 1):
        paper.number = f"{PREFIX}{counter:06d}"
        paper.document |= {"ticket": paper.number, "at": f"{paper.at:%Y-%m-%dT%H:%M}"}
    for paper in ordered:
        for name, value in paper.document.items():
            if isinstance(value, Paper):
                paper.document[name] = value.number
            elif name == "numbers":
                paper.document[name] = [form.number for form in value]
    return ordered


def json_lines(papers: list[Paper]) -> str:
    """Return the tickets that are entered, one a line."""
    return "".join(
        json.dumps(paper.document, ensure_ascii=False, separators=(",", ":")) + "\n"
        for paper in papers
        if not paper.lost
    )
