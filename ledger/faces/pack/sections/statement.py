"""The statement: every area's balance, judgement and origins in the pack's metal; what is judged in the others."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Any, Final

from ledger.faces.pack.material import Document, Material
from ledger.faces.pack.schedule import Row, Schedule, Section
from ledger.faces.pack.tables import mass, money, number, rows_of, share, when, words
from ledger.faces.printing import ng_of
from ledger.quantities.mass import decimal_text

_AREA: Final = words("area")

BALANCE: Final = (
    _AREA,
    mass("opening", "opening", summed=True),
    mass("received", "received"),
    mass("issued", "issued"),
    mass("closing", "closing", summed=True),
    mass("difference", "difference", "opening + received - issued - closing", summed=True),
    mass("sweeps", "sweeps", summed=True),
    mass("gross_loss", "gross loss", "difference + sweeps", summed=True),
)

JUDGEMENT: Final = (
    _AREA,
    mass("gross_loss", "gross loss", summed=True),
    mass("allowed", "allowed", summed=True),
    mass("prior_period", "prior period", summed=True),
    mass("unexplained", "unexplained", "gross_loss - allowed - prior_period", summed=True),
    mass("sigma_measurement", "σ of measurement"),
    mass("sigma", "σ with normal loss"),
    number("z", "z", "unexplained / sigma"),
    mass("tolerance", "tolerance"),
    words("verdict"),
    words("coarse"),
)

ORIGINS: Final = (
    _AREA,
    mass("work", "work", summed=True),
    mass("reweighing", "re-weighing", summed=True),
    mass("count", "count", summed=True),
    mass("transfer", "transfer", summed=True),
    mass("revaluation", "revaluation", summed=True),
    mass("gross_loss", "gross loss", "work + reweighing + count + transfer + revaluation", summed=True),
)

BESIDE: Final = (
    _AREA,
    when("counted_at", "counted"),
    mass("take_on", "take-on difference", summed=True),
    mass("known_discards", "known discards", summed=True),
    mass("estimated", "closing by estimate", summed=True),
    mass("in_transit", "in transit", summed=True),
    mass("trivial", "trivial"),
    mass("cumulative", "twelve-month cumulative", summed=True),
    mass("cumulative_sigma", "its σ"),
)

SHARES: Final = (
    _AREA,
    mass("unexplained", "unexplained"),
    mass("allowed", "allowed"),
    mass("received", "received"),
    share("unexplained_of_received", "unexplained of received", "unexplained / received"),
    share("allowed_of_received", "allowed of received", "allowed / received"),
    mass("closing", "closing"),
    share("unexplained_of_closing", "unexplained of closing", "unexplained / closing"),
)

WORTH: Final = (
    _AREA,
    money("money", "unexplained"),
    money("three_sigma_money", "3 σ"),
    money("closing_money", "closing", summed=True),
)

PLANT: Final = (
    words("metal"),
    mass("opening", "opening"),
    mass("received", "received"),
    mass("issued", "issued"),
    mass("closing", "closing"),
    mass("difference", "difference", "opening + received - issued - closing"),
    mass("sweeps", "sweeps"),
    mass("gross_loss", "gross loss", "difference + sweeps"),
    mass("allowed", "allowed"),
    mass("prior_period", "prior period"),
    mass("unexplained", "unexplained", "gross_loss - allowed - prior_period"),
    mass("sigma", "σ"),
    number("z", "z", "unexplained / sigma"),
    words("verdict"),
)

METALS: Final = (
    words("metal"),
    words("verdict"),
    mass("unexplained_losses", "unexplained losses"),
    mass("unexplained_gains", "unexplained gains"),
    mass("three_sigma", "3 σ of the plant"),
    number("z", "z"),
    words("flagged", "areas short or over"),
)

#: The column of 3 σ is three σ whatever the plant's levels are: the same in every pack.
THREE: Final = 3


def section(material: Material) -> Section:
    """Return the statement's section."""
    return Section(
        "statement",
        "The statement",
        paragraphs=_words(material),
        schedules=[*_of_pack_metal(material), *_others(material)],
    )


def flat(area: Document) -> dict[str, Any]:
    """Return an area's document with its origins beside the other figures, and ``coarse`` as a word."""
    return {**area, **area["difference_from"], "coarse": "coarse" if area["coarse"] else None}


def _words(material: Material) -> list[str]:
    state = "closed" if material.close else "not closed: figures can still change"
    return [
        f"{material.facts.name}, period {material.period}, {state}.",
        (
            "A difference is + where metal is missing. Difference = opening + received − issued − closing; gross "
            "loss = difference + sweeps taken up; unexplained = gross loss − allowed (normal loss) − prior period; z = "
            "unexplained ÷ σ. Gains are never netted against losses."
        ),
    ]


def _of_pack_metal(material: Material) -> Iterator[Schedule]:
    metal, document = material.metal, material.statement
    areas = [flat(area) for area in document["areas"]]
    yield _metals(material)
    yield _plant(material)
    yield _balance(metal, areas)
    yield _judgement(metal, areas)
    yield Schedule(
        f"origins-{metal}",
        f"Gross loss by origin, {metal}",
        "Where each area's gross loss arose: at work, at a "
        "re-weighing, at a count, between sender and receiver, or by an assay or settlement.",
        ORIGINS,
        rows_of(ORIGINS, areas),
    )
    yield Schedule(
        f"beside-{metal}",
        f"Beside the balance, {metal}",
        "When each area was counted, what stands apart from its "
        "balance, and its difference over twelve months, never zeroed.",
        BESIDE,
        rows_of(BESIDE, areas),
        notes=[
            "Cumulative = unexplained + prior period over twelve months, whatever was written off.",
            "Trivial: an area is not flagged for less.",
        ],
    )
    yield Schedule(
        f"shares-{metal}",
        f"As shares, {metal}",
        "What is unexplained and what is allowed as a share of what each area "
        "newly received, and of what it holds: print the base, judge by σ.",
        SHARES,
        [_shares(area) for area in areas],
    )
    if material.price is not None:
        yield _worth(material, areas)


def _plant(material: Material) -> Schedule:
    rows = ({**statement["plant_total"], "metal": metal} for metal, statement in material.statements.items())
    return Schedule(
        "plant",
        "The plant by metal",
        "The plant's own balance in every metal and in gross: what moved between its areas "
        "is neither received nor issued.",
        PLANT,
        rows_of(PLANT, rows),
        notes=["The plant's verdict is the worst of its areas': an area in trouble is not averaged away."],
    )


def _metals(material: Material) -> Schedule:
    rows = [
        {
            **statement["plant_total"],
            "metal": metal,
            "three_sigma": round(THREE * statement["plant_total"]["sigma"], 9),
            "flagged": ", ".join(a["area"] for a in statement["areas"] if a["verdict"] in ("short", "over")),
        }
        for metal, statement in material.statements.items()
    ]
    return Schedule(
        "metals",
        "Metal by metal",
        "Losses and gains that normal loss does not explain, in every metal and in gross, never netted.",
        METALS,
        rows_of(METALS, rows),
    )


def _balance(metal: str, areas: list[dict[str, Any]]) -> Schedule:
    return Schedule(
        f"balance-{metal}",
        f"Balance, {metal}",
        "What each area had, received, issued and was counted to have, and what is missing between them.",
        BALANCE,
        rows_of(BALANCE, areas),
        notes=[
            (
                "Received and issued have no sum: what one area issues another receives. The plant's own stand in The "
                "plant by metal."
            )
        ],
    )


def _judgement(metal: str, areas: list[dict[str, Any]]) -> Schedule:
    return Schedule(
        f"judgement-{metal}",
        f"Judgement, {metal}",
        "What normal loss allows, what is left unexplained, and how large that is against σ.",
        JUDGEMENT,
        rows_of(JUDGEMENT, areas),
        notes=[
            "σ has no sum: areas share scales and laboratories. The plant's own stands in The plant by metal.",
            "Coarse: measurement cannot hold the tolerance that is set.",
        ],
    )


def _shares(area: dict[str, Any]) -> Row:
    figures = {key: ng_of(area[key]) for key in ("unexplained", "allowed", "received", "closing")}
    return {
        **{column.key: area.get(column.key) for column in SHARES},
        "unexplained_of_received": _of(figures["unexplained"], figures["received"]),
        "allowed_of_received": _of(figures["allowed"], figures["received"]),
        "unexplained_of_closing": _of(figures["unexplained"], figures["closing"]),
    }


def _of(part: int, whole: int) -> float | None:
    return round(part / whole, 9) if whole else None


def _worth(material: Material, areas: list[dict[str, Any]]) -> Schedule:
    price = material.price
    assert price is not None
    rows = [
        {
            "area": area["area"],
            "money": area["money"],
            "three_sigma_money": decimal_text(three_sigma(area, price), 2),
            "closing_money": decimal_text(ng_of(area["closing"]) * price, 2),
        }
        for area in areas
    ]
    return Schedule(
        f"worth-{material.metal}",
        f"In money, {material.metal}",
        "What is unexplained, what three σ are, and what is held, at the latest fixing of the period.",
        WORTH,
        rows,
    )


def three_sigma(area: Document, price: Fraction) -> Fraction:
    """Return the money of three σ."""
    return THREE * Fraction(area["sigma"]) * 10**9 * price


def _others(material: Material) -> Iterator[Schedule]:
    for metal, document in material.statements.items():
        if metal != material.metal:
            areas = [flat(area) for area in document["areas"]]
            yield _balance(metal, areas)
            yield _judgement(metal, areas)
