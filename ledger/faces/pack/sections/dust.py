"""Dust and estimates: what is expected in benches and drains, what rests on estimates, how old, what they brought."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from ledger.faces.pack.material import Material
from ledger.faces.pack.printed import Printed, per_cent
from ledger.faces.pack.schedule import Schedule, Section
from ledger.faces.pack.tables import count, mass, number, rows_of, share, when, words
from ledger.faces.printing import counted, ng_of
from ledger.quantities.mass import grams_text

DUST: Final = (
    words("area"),
    mass("opening", "opening", summed=True),
    mass("accrued", "accrued", summed=True),
    mass("taken", "taken up", summed=True),
    mass("trued_up", "trued up", summed=True),
    mass("shortfall", "shortfall", summed=True),
    mass("closing", "closing", "opening + accrued - taken + trued_up - shortfall", summed=True),
    mass("sigma", "σ"),
    number("z", "z"),
    words("cleaned_out", "cleaned out"),
    words("verdict"),
)

AGES: Final = (
    words("area"),
    mass("fine", "held", summed=True),
    mass("estimated", "by estimate", summed=True),
    share("share", "share of held", "estimated / fine"),
    mass("to_30_days", "to 30 days", summed=True),
    mass("to_90_days", "to 90 days", summed=True),
    mass("to_365_days", "to 365 days", summed=True),
    mass("older", "older", summed=True),
    when("oldest", "oldest since"),
)

PAIRS: Final = (
    words("whose"),
    words("class"),
    words("lot"),
    words("ticket"),
    words("kind"),
    when("at", "at"),
    mass("estimated", "estimated"),
    mass("brought", "brought"),
    number("ratio", "ratio", "brought / estimated"),
)

LOTS: Final = (
    words("lot"),
    words("area"),
    words("class"),
    when("since", "since"),
    count("days", "days"),
    mass("estimated", "by estimate", summed=True),
)


def section(material: Material) -> Section:
    """Return the section of dust and estimates."""
    return Section(
        "dust", "Dust and estimates", paragraphs=list(_words(material)), schedules=list(_schedules(material))
    )


def _words(material: Material) -> Iterator[str]:
    printed, dust = Printed(material.unit, material.facts.currency), material.statement["plant_total"]["dust"]
    yield (
        "Dust is expected in benches, filters, crucibles and drains, and not weighed: normal loss times the share "
        "that is recoverable, until it is taken up. After a clean-out nothing of it should be left; what is, is the "
        "shortfall."
    )
    yield (
        f"It stood at {printed.with_unit(dust['opening'])}; {printed.with_unit(dust['accrued'])} accrued, "
        f"{printed.with_unit(dust['taken'])} were taken up as sweeps, and {printed.with_unit(dust['closing'])} are "
        "left."
    )
    estimated = material.estimated
    if material.metal != "gross" and ng_of(estimated["estimated"]):
        yield (
            f"{printed.with_unit(estimated['estimated'])} of the {material.metal} held "
            f"({per_cent(estimated['share'])}) rest on {counted(len(estimated['lots']), 'estimate')}."
        )


def _schedules(material: Material) -> Iterator[Schedule]:
    metal, statement = material.metal, material.statement
    rows = [{**area["dust"], "area": area["area"]} for area in statement["areas"] if _has_dust(area["dust"])]
    yield Schedule(
        "dust",
        f"Dust by area, {metal}",
        "What was expected in each area's dust, what was taken up, and what is left.",
        DUST,
        rows_of(DUST, rows),
        notes=[
            "σ is of the closing dust, after a clean-out of the shortfall; z = shortfall ÷ σ, after a clean-out only."
        ],
    )
    if metal == "gross":
        return  # gross is weighed, and never an estimate
    estimated = material.estimated
    yield Schedule(
        "estimates-by-age",
        f"Estimates by age, {metal}",
        "What of each area's holding rests on estimates, by how old they are.",
        AGES,
        rows_of(AGES, estimated["areas"]),
    )
    yield Schedule(
        "estimates-tested",
        f"Tested this period, {metal}",
        "The lots whose estimate ended in this period, each with what it was estimated to hold and what came.",
        PAIRS,
        list(_pairs(material)),
    )
    yield Schedule(
        "estimated-lots",
        f"Lots by estimate, {metal}",
        "Every lot that rests on an estimate, the oldest first.",
        LOTS,
        rows_of(LOTS, estimated["lots"]),
    )


def _has_dust(dust: dict[str, Any]) -> bool:
    return any(ng_of(dust[key]) for key in ("opening", "accrued", "taken", "trued_up", "closing", "shortfall"))


def _pairs(material: Material) -> Iterator[dict[str, Any]]:
    for s in material.back_test.streams:
        for p in (pair for pair in s.pairs if pair.instant >= material.start):
            yield {
                "whose": f"{s.stream.area} {s.stream.account}".strip(),
                "class": s.stream.lot_class or None,
                "lot": p.lot,
                "ticket": p.ticket,
                "kind": p.kind,
                "at": material.setups.calendar.text(p.instant),
                "estimated": grams_text(p.estimated),
                "brought": grams_text(p.brought),
                "ratio": round(p.ratio, 9),
            }
