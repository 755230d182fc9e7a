"""Refiners: what they settled against the book, whether their sign is always the same, what still lies there."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, Final

from ledger.faces.pack.material import Material
from ledger.faces.pack.schedule import Schedule, Section
from ledger.faces.pack.tables import count, mass, number, rows_of, when, words
from ledger.faces.printing import counted
from ledger.quantities.mass import grams_text

if TYPE_CHECKING:
    from ledger.balance.daily.settlements import Settled

SIGNS: Final = (
    words("party", "refiner"),
    count("settled", "lots settled"),
    count("judged", "of them judged"),
    mass("difference", "recorded − agreed", summed=True),
    count("below", "below our figure"),
    count("above", "above"),
    count("equal", "equal"),
    number("p_below", "p, so many below"),
    number("p_either", "p, so uneven"),
    words("verdict"),
)

SETTLED: Final = (
    words("party", "refiner"),
    words("lot"),
    words("ticket"),
    when("at", "at"),
    words("basis", "recorded on"),
    mass("recorded", "recorded", summed=True),
    mass("agreed", "agreed", summed=True),
    mass("difference", "difference", "recorded - agreed", summed=True),
    number("per_mille", "‰ of recorded"),
)

OUTSIDE: Final = (
    words("area"),
    words("holder"),
    count("lots", "lots", summed=True),
    mass("gross", "gross", summed=True),
    mass("fine", "fine", summed=True),
    mass("estimated", "by estimate", summed=True),
    when("last_ticket_at", "last ticket"),
)

THERE: Final = (
    words("area"),
    words("lot"),
    words("what"),
    words("basis"),
    mass("gross", "gross", summed=True),
    mass("fine", "fine", summed=True),
)


def section(material: Material) -> Section:
    """Return the section of refiners, and of metal in others' hands."""
    metal = material.metal
    schedules = [
        Schedule(
            "refiners",
            f"Signs of settlements, {metal}",
            "Whether a refiner settles on one side of our figure more "
            "often than chance brings, over the last twelve periods.",
            SIGNS,
            rows_of(SIGNS, _signs(material)),
            notes=["Judged: lots known by our assay or by calculation; an estimate has an error of its own."],
        ),
        Schedule(
            "settlements",
            f"Settled this period, {metal}",
            "Every lot settled in the period, estimated ones too.",
            SETTLED,
            list(_settled(material)),
            notes=["A difference is + where the refiner found less. Per mille: of what was recorded."],
        ),
        Schedule(
            "outside",
            f"In others' hands, {metal}",
            "What lies outside the building and is ours to account for, to be confirmed by whoever holds it.",
            OUTSIDE,
            rows_of(OUTSIDE, material.holdings["outside"]),
        ),
        Schedule(
            "outside-lots",
            f"Lots in others' hands, {metal}",
            "The lots to confirm, one by one.",
            THERE,
            rows_of(THERE, material.holdings["lots"]),
        ),
    ]
    return Section("refiners", "Refiners and metal outside", paragraphs=list(_words(material)), schedules=schedules)


def _words(material: Material) -> Iterator[str]:
    refiners = material.statement["refiners"]
    if not refiners:
        yield "No refiner settled anything in the last twelve periods."
    for refiner in refiners:
        signs = refiner["sign_test"]
        if signs["p_either"] is None:
            yield f"{refiner['party']} settled {counted(refiner['settled'], 'lot')}, none of which can be judged."
            continue
        yield (
            f"{refiner['party']} settled {signs['below']} of {counted(refiner['judged'], 'judged lot')} below our "
            f"figure, {signs['above']} above and {signs['equal']} equal; so uneven by chance: p = "
            f"{signs['p_either']:.2g}, {refiner['verdict']}."
        )
    yield "What a contract lets a refiner keep is retained, and no process loss."


def _signs(material: Material) -> Iterator[dict[str, Any]]:
    return ({**refiner, **refiner["sign_test"]} for refiner in material.statement["refiners"])


def _settled(material: Material) -> Iterator[dict[str, Any]]:
    for refiner in material.refiners:
        for lot in refiner.lots:
            if lot.instant >= material.start:
                yield {"party": refiner.party, **_lot(material, lot)}


def _lot(material: Material, lot: Settled) -> dict[str, Any]:
    return {
        "lot": lot.lot,
        "ticket": lot.ticket,
        "at": material.setups.calendar.text(lot.instant),
        "basis": lot.basis,
        "recorded": grams_text(lot.recorded),
        "agreed": grams_text(lot.agreed),
        "difference": grams_text(lot.difference),
        "per_mille": round(1000 * lot.difference / lot.recorded, 6) if lot.recorded else None,
    }
