"""What to do next, in the order of its weight: count, look into, have settled, put right, close."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

from ledger.faces.pack.material import Document, Material
from ledger.faces.pack.printed import Printed, odds
from ledger.faces.printing import counted, ng_of, sentence

#: The share below which a cause is not worth a step, and how many such steps the first page has at most.
_WORTH_A_LOOK: Final = 0.2
_MOST: Final = 7
#: Areas whose open differences of earlier periods have a step.
_OPEN: Final = 3


def next_steps(material: Material) -> list[str]:
    """Return the steps as sentences, each naming what it is about."""
    looks = list(_to_look_into(material))
    more = [f"{len(looks) - _MOST} more stand under Areas one by one, with the causes."] * (len(looks) > _MOST)
    found = [
        *_to_count(material),
        *looks[:_MOST],
        *more,
        *_coarse(material),
        *_of_estimates(material),
        *_of_refiners(material),
        *_left_open(material),
        *_of_paper(material),
        *_of_scales(material),
    ]
    return [*found, *_to_close(material, nothing_else=not found)]


def _to_count(material: Material) -> Iterator[str]:
    for verdict, mend in (
        ("uncounted", "count it, or answer for it at the close: until then nobody knows what it holds"),
        ("unrated", "state the normal loss of its work: no rate, no judgement"),
    ):
        for area in material.statement["areas"]:
            if area["verdict"] == verdict:
                yield f"{area['area']} is {verdict}: {mend}."


def _to_look_into(material: Material) -> Iterator[str]:
    told: set[int] = set()
    for code in wanting(material):
        lead = next((row for row in material.causes_of(code) if row["share"] >= _WORTH_A_LOOK), None)
        if lead is None:
            yield _without_lead(material, code)
        elif lead["rank"] not in told:
            told.add(lead["rank"])
            yield f"{code}: {sentence(lead['check'])} Why: {lead['cause']} ({odds(lead['share'])})."


def wanting(material: Material) -> list[str]:
    """Return the areas whose difference wants a cause, in any metal: short or over first, the pack's metal first."""
    found = [
        area["area"]
        for verdicts in (("short", "over"), ("look",))
        for statement in material.statements.values()
        for area in statement["areas"]
        if area["verdict"] in verdicts
    ]
    return list(dict.fromkeys(found))


def _without_lead(material: Material, code: str) -> str:
    """Return what is left to do where no cause stands out: the largest single difference, else a count."""
    for metal, statement in material.statements.items():
        area = next(a for a in statement["areas"] if a["area"] == code)
        single = next((reason for reason in area["reasons"] if _SINGLE.search(reason)), None)
        if area["verdict"] in ("short", "over", "look") and single:
            where = code if metal == material.metal else f"{code}, in {metal}"
            return f"{where}: no cause stands out; begin with the largest single difference, {single}."
    return f"{code}: no cause stands out; count it again, and weigh what moved since."


#: How the statement words a single difference: the ticket, what it was, the mass.
_SINGLE: Final = re.compile(r"^\S+ \((?:work|re-weighing|count|transfer|revaluation)\b.*\): -?[\d,.]+ g$")


def _coarse(material: Material) -> Iterator[str]:
    for area in material.statement["areas"]:
        mend = next((reason for reason in area["reasons"] if reason.startswith("largest source")), None)
        if area["coarse"] and mend:
            yield f"{area['area']}: measurement cannot hold its tolerance; {mend}."


def _of_estimates(material: Material) -> Iterator[str]:
    for stream in material.estimated["streams"] if material.metal != "gross" else ():
        if stream["bias"] in ("below", "above"):
            sort = f", {stream['class']}" if stream["class"] else ""
            way = "less" if stream["bias"] == "below" else "more"
            yield (
                f"Estimates of {stream['whose']}{sort}: {counted(stream['pairs'], 'lot')} brought on average "
                f"{stream['ratio']:.3f} of what was estimated, and always rather {way}: estimate by that."
            )


def _of_refiners(material: Material) -> Iterator[str]:
    for refiner in material.statement["refiners"]:
        if refiner["verdict"] not in ("within", None):
            signs = refiner["sign_test"]
            yield (
                f"{refiner['party']} settled {signs['below']} of {counted(refiner['judged'], 'lot')} below our figure "
                f"and {signs['above']} above: split the next sample, and name an umpire."
            )


def _left_open(material: Material) -> Iterator[str]:
    """Yield the largest differences that stand open of earlier periods, beyond what chance adds up to."""
    sigmas = {area["area"]: area["cumulative_sigma"] for area in material.statement["areas"]}
    act, printed = float(material.setup.plant.act), Printed(material.unit, material.facts.currency)
    rows = [
        row
        for row in material.differences["open"]
        if row["most_of"] not in (None, material.period)
        and abs(ng_of(row["most"])) > act * sigmas.get(row["area"], 0.0) * 10**9
    ]
    for row in sorted(rows, key=lambda row: -abs(ng_of(row["most"])))[:_OPEN]:
        yield (
            f"{row['area']}: {printed.with_unit(row['open'])} stand open, most of it of {row['most_of']}: find it, or "
            "write it off with its cause and evidence."
        )


def _of_paper(material: Material) -> Iterator[str]:
    missing = sum(gap["numbers"] for gap in material.exceptions["number_gaps"])
    if missing:
        first = material.exceptions["number_gaps"][0]["first"]
        numbers = counted(missing, "ticket number is", "ticket numbers are")
        yield f"{numbers} missing, first {first}: find the paper or void it."
    lots = material.exceptions["not_found"]
    if lots:
        yield f"{counted(len(lots), 'lot')} not found by a count, longest {_lot(lots[0])}: look for what is not found."


def _lot(row: Document) -> str:
    return f"{row['lot']} in {row['area']} for {counted(row['days'], 'day')}"


def _of_scales(material: Material) -> Iterator[str]:
    overdue = material.exceptions["scales_overdue"]
    if overdue:
        said = ", ".join(f"{row['scale']} ({row['what']})" for row in overdue)
        yield f"Scales that want a check weight or a calibration: {said}."


def _to_close(material: Material, *, nothing_else: bool) -> Iterator[str]:
    if material.close is not None:
        yield "The period is closed and sealed: a late find goes into the open one, as prior period."
    elif nothing_else:
        yield f"Close the period: lemel close {material.period} --check lists what is still asked for."
    else:
        yield f"Then close the period: lemel close {material.period} --check lists what is still asked for."
