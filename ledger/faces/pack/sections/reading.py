"""How to read it: signs, units, words, what σ is and is not, and the cautions."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from ledger.faces.caution import CAUTION
from ledger.faces.pack.material import Material
from ledger.faces.pack.schedule import Part, Section
from ledger.quantities.mass import NG_PER_UNIT, decimal_text

_VERDICTS = (
    "within: what is unexplained, measurement and the chance of normal loss make by themselves.",
    "look: beyond the warning level; no more than that.",
    (
        "short, over: beyond the action level and the area's trivial mass, or beyond its tolerance, or a running test "
        "has signalled. Over is as wrong as short."
    ),
    "uncounted: no count ended in the period. unrated: an operation without a stated normal loss. Neither is judged.",
    "coarse, beside a verdict: measurement cannot hold the tolerance that is set.",
    "not judged: gross, where the set-up says that it is not weighed clean.",
)

_WORDS = (
    (
        "Mass of a metal: its fine content. Gross: metallic mass, balanced as if it were one more metal; a gross "
        "shortage without a fine one is fume or base metal, a fine one without a gross one is substitution."
    ),
    "Received and issued are at the giver's figure; what two parties weigh differently is tested by itself.",
    "Allowed: normal loss as the plant states it, an expectation and never an entitlement.",
    (
        "Prior period: what came to light in this period of an earlier one. Take-on difference: of the opening of the "
        "book."
    ),
    "Cumulative: unexplained and prior period over twelve months, whatever was written off, never zeroed.",
    "Retained: what a contract lets a refiner keep. Give-away: content shipped beyond what was billed.",
)

_CAUTIONS = (
    CAUTION,
    (
        "A name on a ticket is a claim, not a signature. Nobody is named in this pack, and none of its figures ranks a "
        "person."
    ),
    (
        "Molten metal, acids, cyanide and fumes maim and kill: whoever looks for metal in furnaces, baths, ducts and "
        "drains follows local codes, safety data sheets and licensed practice first."
    ),
    (
        "Statements on marks and fineness are arithmetic and no legal advice. Values are at the fixings that the plant "
        "stated."
    ),
)


def section(material: Material) -> Section:
    """Return how to read the pack."""
    return Section(
        "reading",
        "How to read it",
        parts=[
            Part("signs", "Signs and units", points=list(_signs(material))),
            Part("verdicts-explained", "Verdicts", points=_VERDICTS),
            Part("sigma", "What σ is", points=list(_sigma(material))),
            Part("terms", "Words", points=_WORDS),
            Part("cautions", "Cautions", points=_CAUTIONS),
        ],
    )


def _signs(material: Material) -> Iterator[str]:
    unit = material.unit
    yield "A difference is + where metal is missing; a minus sign is metal too much."
    if unit == "g":
        yield "Masses are printed in grams (g), to the milligram; in figures.json and csv with all their digits."
    else:
        grams = decimal_text(Fraction(NG_PER_UNIT[unit], 10**9), 9)
        yield f"Masses are printed in {unit} (1 {unit} = {grams} g); in figures.json and the CSV files they are grams."
    yield "A share says of what it is a share. Money is of the fine content, at the latest fixing of the period."
    yield "Percentages of throughput swell with re-melted scrap: differences are judged by σ, not by a share."
    yield "Sums are worked out from the rows above them, exactly; a printed figure is rounded once."


def _sigma(material: Material) -> Iterator[str]:
    plant = material.setup.plant
    yield f"{material.statement['assumption']}."
    yield (
        f"z = unexplained ÷ σ. Warning level {float(plant.warn):g} σ, action level {float(plant.act):g} σ; the running "
        f"tests together at one false alarm in {float(plant.false_alarm_years):g} years over all areas."
    )
    yield (
        "Areas share scales and laboratories, so that their σ do not add up by squares: the plant's own σ is worked "
        "out by itself."
    )
    yield "A σ that is set too large never alarms: what is smaller than three σ can go unnoticed in one month."
