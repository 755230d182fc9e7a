"""The first page, for the one who decides: is all metal accounted for, how sure, against what, and what to do next."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from ledger.balance.months.month import CUMULATIVE_PERIODS
from ledger.faces.pack.material import Document, Material
from ledger.faces.pack.printed import Printed, per_cent
from ledger.faces.pack.schedule import Part, Row, Schedule, Section
from ledger.faces.pack.sections.next_steps import next_steps
from ledger.faces.pack.sections.statement import THREE, three_sigma
from ledger.faces.pack.tables import mass, money, number, when, words
from ledger.faces.printing import counted, ng_of
from ledger.faces.statement import z_text

VERDICTS: Final = (
    words("area"),
    words("verdict"),
    mass("unexplained", "unexplained", summed=True),
    mass("three_sigma", "3 σ"),
    number("z", "z"),
    money("money", "unexplained"),
    mass("estimated", "by estimate", summed=True),
    when("counted_at", "counted"),
    words("name"),
)

#: Verdicts in which an area does not close, in the order they are told.
OPEN: Final = ("short", "over", "uncounted", "unrated")


def section(material: Material) -> Section:
    """Return the first page."""
    printed = Printed(material.unit, material.facts.currency)
    return Section(
        "decision",
        "Is all metal accounted for?",
        schedules=[_verdicts(material)],
        parts=[
            Part("answer", "The answer", [_answer(material, printed), " ".join(_other_metals(material, printed))]),
            Part("against", "How much, against what chance can do", [" ".join(_against(material, printed))]),
            Part("trend", "Over the months", [" ".join(_trend(material, printed))]),
            Part("rests", "What it rests on", [" ".join(_rests(material, printed))]),
            Part("next", "What to do next", points=next_steps(material)),
        ],
    )


def _answer(material: Material, printed: Printed) -> str:
    areas = material.statement["areas"]
    wrong = _with(areas, "short", "over")
    unknown = [*_with(areas, "uncounted"), *_with(areas, "unrated")]
    metal, all_ = material.metal, counted(len(areas), "area")
    if wrong:
        said = "; ".join(f"{area['area']} {_size(area, printed)}" for area in wrong)
        lead = f"No. In {metal} {len(wrong)} of {all_} {'is' if len(wrong) == 1 else 'are'} short or over: {said}."
    elif unknown:
        lead = f"It cannot be said yet. In {metal} {len(unknown)} of {all_} cannot be judged."
    else:
        lead = f"Yes for this period, as far as it was measured: in {metal} none of {all_} is short or over."
    return " ".join([lead, *_unjudged(unknown), *_looked_at(areas, printed), *_of_earlier(material, printed)])


def _size(area: Document, printed: Printed) -> str:
    way = "missing" if ng_of(area["unexplained"]) > 0 else "too much"
    return f"{area['verdict']}, {_amount(area, printed)} {way}, {z_text(area['z'])} σ"


def _amount(area: Document, printed: Printed) -> str:
    return printed.with_unit(area["unexplained"].lstrip("-"))


def _unjudged(areas: Sequence[Document]) -> Iterator[str]:
    for verdict in ("uncounted", "unrated"):
        codes = [area["area"] for area in _with(areas, verdict)]
        if codes:
            yield f"Not judged, since {verdict}: {', '.join(codes)}."


def _looked_at(areas: Sequence[Document], printed: Printed) -> Iterator[str]:
    looked = _with(areas, "look")
    if looked:
        yield (
            "Beyond the warning level only: "
            + "; ".join(
                f"{area['area']} {printed.with_unit(area['unexplained'])}, {z_text(area['z'])} σ" for area in looked
            )
            + "."
        )


def _of_earlier(material: Material, printed: Printed) -> Iterator[str]:
    """Yield what a month that closes by itself does not answer for: what earlier ones left."""
    plant, months = material.statement["plant_total"], min(CUMULATIVE_PERIODS, len(material.months))
    sigma = plant["cumulative_sigma"]
    z = ng_of(plant["cumulative"]) / (sigma * 10**9) if sigma else 0.0
    if months > 1 and abs(z) > material.setup.plant.act:
        yield (
            f"Over {months} months the differences add up to {printed.with_unit(plant['cumulative'])}, "
            f"{z_text(z)} σ: what earlier months left wants its answer too."
        )


def _with(areas: Sequence[Document], *verdicts: str) -> list[Document]:
    return [area for area in areas if area["verdict"] in verdicts]


def _other_metals(material: Material, printed: Printed) -> Iterator[str]:
    for metal, statement in material.statements.items():
        if metal == material.metal:
            continue
        wrong = [a for verdict in OPEN for a in _with(statement["areas"], verdict)]
        said = "; ".join(
            f"{a['area']} {_size(a, printed)}" if a["verdict"] in ("short", "over") else f"{a['area']} {a['verdict']}"
            for a in wrong
        )
        yield f"In {metal}: {said}." if wrong else f"In {metal}: no area short or over."


def _against(material: Material, printed: Printed) -> Iterator[str]:
    plant, price = material.statement["plant_total"], material.price
    losses, gains = plant["unexplained_losses"], plant["unexplained_gains"].lstrip("-")
    money = f" ({printed.money(ng_of(losses) * price)})" if price is not None else ""
    back = f" ({printed.money(ng_of(gains) * price)})" if price is not None else ""
    yield (
        f"Unexplained losses of {material.metal} are {printed.with_unit(losses)}{money}, unexplained gains "
        f"{printed.with_unit(gains)}{back}: never netted, since an area that is over is as wrong as one that is short."
    )
    worth = f", {printed.money(three_sigma(plant, price))}" if price is not None else ""
    yield (
        f"Three σ of the plant are {printed.with_unit(THREE * plant['sigma'])}{worth}: by themselves weighing, assay "
        "and the chance of normal loss come to more, either way, in about one month of 370. What is smaller may pass "
        "unnoticed in one month."
    )


def _trend(material: Material, printed: Printed) -> Iterator[str]:
    plant, trend = material.statement["plant_total"], material.trend
    months = min(CUMULATIVE_PERIODS, len(material.months))
    yield (
        f"Over {counted(months, 'month')} the difference beyond normal loss adds up to "
        f"{printed.with_unit(plant['cumulative'])} with a σ of {printed.with_unit(plant['cumulative_sigma'])}, "
        "whatever was written off."
    )
    signalled = [area for area in trend["areas"] if area["verdict"] == "signalled"]
    if signalled:
        yield f"Running tests signal in {'; '.join(_signal(area) for area in signalled)}."
    else:
        yield "The running tests signal in no area: no slow loss stands out of what chance makes."


def _signal(area: Document) -> str:
    last = area["signals"][-1]
    return f"{area['area']}: {last['way']}, since {last['since']}"


def _rests(material: Material, printed: Printed) -> Iterator[str]:
    areas, estimated = material.statement["areas"], material.estimated
    done = sum(area["counted_at"] is not None for area in areas)
    yield f"{done} of {counted(len(areas), 'area')} {'was' if done == 1 else 'were'} counted in the period."
    if material.metal == "gross":
        return
    if not ng_of(estimated["estimated"]):
        yield f"Nothing of the {material.metal} held rests on an estimate."
    else:
        oldest = estimated["lots"][0]
        yield (
            f"Of {printed.with_unit(estimated['fine'])} {material.metal} held, "
            f"{printed.with_unit(estimated['estimated'])} ({per_cent(estimated['share'])}) rest on estimates in "
            f"{counted(len(estimated['lots']), 'lot')}; the oldest, {oldest['lot']} in {oldest['area']}, is "
            f"{counted(oldest['days'], 'day')} old."
        )
    if ng_of(estimated["nominal"]):
        yield (
            f"A further {printed.with_unit(estimated['nominal'])} ({per_cent(estimated['nominal_share'])}) is known "
            "by its mark or grade alone, not by an assay."
        )
    yield _dust(material, printed)


def _dust(material: Material, printed: Printed) -> str:
    dust = material.statement["plant_total"]["dust"]
    short = [a["area"] for a in material.statement["areas"] if a["dust"]["verdict"] in ("short", "over")]
    words = f"Dust expected in benches and filters, and not weighed: {printed.with_unit(dust['closing'])}"
    return words + (f"; a clean-out did not bear it out in {', '.join(short)}." if short else ".")


# ---- the schedules ----------------------------------------------------------------------------------------------


def _verdicts(material: Material) -> Schedule:
    return Schedule(
        "verdicts",
        f"Area by area, {material.metal}",
        "Each area's verdict, what is unexplained beside three σ, and what it rests on.",
        VERDICTS,
        [_verdict(material, area) for area in material.statement["areas"]],
        notes=["A difference is + where metal is missing. By estimate: what of the content held rests on one."],
    )


def _verdict(material: Material, area: Document) -> Row:
    return {
        "area": area["area"],
        "name": material.name(area["area"]),
        "verdict": area["verdict"],
        "unexplained": area["unexplained"],
        "three_sigma": round(THREE * area["sigma"], 9),
        "z": area["z"],
        "money": area["money"],
        "counted_at": area["counted_at"],
        "estimated": area["estimated"],
    }
