"""Areas one by one: what each comes to, why it was judged so, what can have happened, and the months before."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from ledger.faces.caution import CAUTION
from ledger.faces.pack.material import QUIET, Document, Material
from ledger.faces.pack.nameless import Nameless
from ledger.faces.pack.printed import Printed, odds
from ledger.faces.pack.schedule import Part, Schedule, Section
from ledger.faces.pack.sections.statement import THREE
from ledger.faces.pack.tables import count, mass, money, number, rows_of, share, when, words
from ledger.faces.printing import ng_of, sentence
from ledger.faces.statement import z_text

#: Causes below this share are named in one line.
_SHOWN: Final = 0.05

CAUSES: Final = (
    count("rank", "rank"),
    words("areas"),
    words("family"),
    words("cause"),
    share("share", "share"),
    mass("size", "size"),
    money("money", "size"),
    number("residual_z", "size in σ"),
    words("check"),
    words("tickets"),
    words("inseparable_from", "the same as ranks"),
)

BALANCES: Final = (
    count("rank", "rank"),
    words("area"),
    mass("unexplained", "unexplained"),
    mass("without_it", "without the cause"),
)

TREND: Final = (
    words("area"),
    when("period", "period"),
    mass("unexplained", "unexplained"),
    mass("sigma", "σ"),
    number("z", "z", "unexplained / sigma"),
    number("residual", "independent residual, σ"),
    number("missing", "running sum missing"),
    number("over", "running sum over"),
    number("trickle", "trickle"),
)

RUNNING: Final = (
    words("area"),
    words("verdict"),
    when("drift_since", "drift since"),
    mass("cumulative", "cumulative", summed=True),
    mass("cumulative_sigma", "its σ"),
    count("cumulative_periods", "periods in it"),
    words("signals"),
)


def section(material: Material) -> Section:
    """Return the areas' section."""
    printed = Printed(material.unit, material.facts.currency)
    schedules = [_running(material), _trend(material)]
    if material.causes is not None:
        schedules = [_causes(material.causes), _balances(material.causes), *schedules]
    return Section(
        "areas",
        "Areas one by one",
        paragraphs=list(_words(material)),
        schedules=schedules,
        parts=[_part(material, area, printed) for area in material.statement["areas"]],
    )


def _words(material: Material) -> Iterator[str]:
    if material.causes is None:
        yield "Every area closes in every metal: no cause was looked for."
        return
    yield (
        "Causes are tried against every weighing, work ticket, assay and count of the period, in all metals at once. "
        "A share is how probable it is, of the causes tried, that a cause is among what happened; several may be. "
        f"Sizes are of {material.metal}: what the book has too much."
    )
    yield CAUTION


# ---- one area ---------------------------------------------------------------------------------------------------


def _part(material: Material, area: Document, printed: Printed) -> Part:
    code = area["area"]
    name = material.name(code)
    title = f"{code}, {name}" if name.lower() != code.lower() else code
    paragraphs = [_figures(area, printed), *_answered(material, area), *_elsewhere(material, code, printed)]
    wants = any(
        a["area"] == code and a["verdict"] not in QUIET
        for statement in material.statements.values()
        for a in statement["areas"]
    )
    points = [f"Judged so: {'; '.join(area['reasons'])}."] if area["reasons"] else []
    return Part(
        f"area-{code}",
        f"{title}: {area['verdict']}",
        paragraphs,
        points + (list(_told(material, code, printed)) if wants else []),
    )


def _figures(area: Document, printed: Printed) -> str:
    when_ = area["counted_at"]
    counted_ = f"Counted {when_.replace('T', ' ')}." if when_ else "Not counted in the period."
    less = [f"normal loss allows {printed.with_unit(area['allowed'])}"] * bool(ng_of(area["allowed"]))
    less += [f"{printed.with_unit(area['prior_period'])} is of earlier periods"] * bool(ng_of(area["prior_period"]))
    loss = ", ".join([f"Gross loss {printed.with_unit(area['gross_loss'])}", *less])
    left = f"unexplained {printed.with_unit(area['unexplained'])}"
    if area["z"] is not None:
        left += f", {z_text(area['z'])} σ (three σ are {printed.with_unit(THREE * area['sigma'])})"
    return f"{loss}; {left}. {counted_}"


def _answered(material: Material, area: Document) -> Iterator[str]:
    """Yield what the close was told of an area, people left out."""
    nameless = Nameless(material.setups)
    if area["evidence"]:
        yield f"Evidence of waste: {nameless.text(area['evidence'])}"
    elif material.close is not None and ng_of(area["allowed"]):
        yield "Normal loss without evidence."
    if area["note"]:
        yield f"Note at the close: {nameless.text(area['note'])}"


def _elsewhere(material: Material, code: str, printed: Printed) -> Iterator[str]:
    """Yield what the other metals say, where they say something else than within."""
    for metal, statement in material.statements.items():
        area = next(a for a in statement["areas"] if a["area"] == code)
        if metal != material.metal and area["verdict"] not in QUIET:
            yield (
                f"In {metal}: {area['verdict']}, unexplained {printed.with_unit(area['unexplained'])}, "
                f"{z_text(area['z'])} σ."
            )


def _told(material: Material, code: str, printed: Printed) -> Iterator[str]:
    rows = [row for row in material.causes_of(code) if row["family"] != "chance"]
    for row in rows:
        if row["share"] >= _SHOWN:
            yield _cause(row, code, printed)
    faint = [f"{row['cause']} ({odds(row['share'])})" for row in rows if row["share"] < _SHOWN]
    if faint:
        yield f"Faintly also: {'; '.join(faint)}."
    if not rows:
        yield "No cause that was tried stands out here."


def _cause(row: Document, code: str, printed: Printed) -> str:
    both = row["balances"].get(code, {})
    moved = ""
    if both and both["unexplained"] != both["without_it"]:
        moved = f" Without it {printed.with_unit(both['without_it'])} would be unexplained."
    same = ", ".join(map(str, row["inseparable_from"]))
    like = f" The figures cannot tell it from cause {same}." if same else ""
    said, check = sentence(row["cause"]), sentence(row["check"])
    return f"Cause {row['rank']}, {odds(row['share'])}: {said}{moved}{like} Check: {check}"


# ---- the schedules ----------------------------------------------------------------------------------------------


def _causes(document: Document) -> Schedule:
    rows = ({**row, "family": row["family"].replace("_", " ")} for row in document["causes"])
    return Schedule(
        "causes",
        "Causes by share",
        "What can have happened, ranked by how probable it is to be among what happened, with "
        "the check that would settle it.",
        CAUSES,
        rows_of(CAUSES, rows),
        notes=["Size: what the book has too much. Chance: measurement and normal loss alone."],
    )


def _balances(document: Document) -> Schedule:
    rows = [
        {"rank": row["rank"], "area": area, **both}
        for row in document["causes"]
        for area, both in row["balances"].items()
        if both["unexplained"] != both["without_it"]
    ]
    return Schedule(
        "balances-without",
        "Balances as they would read",
        "What would be unexplained in each area if a cause were put right.",
        BALANCES,
        rows,
    )


def _running(material: Material) -> Schedule:
    rows = ({**area, "signals": [_signal(s) for s in area["signals"]]} for area in material.trend["areas"])
    thresholds = material.trend["thresholds"]
    return Schedule(
        "running-tests",
        f"Running tests, {material.metal}",
        "What no single month shows: each area's cumulative and whether a running test has signalled.",
        RUNNING,
        rows_of(RUNNING, rows),
        notes=[
            (
                f"Together at one false alarm in {material.trend['false_alarm_years']:g} years over all areas: a "
                f"running sum beyond {thresholds['page']:.2f}, one month beyond {thresholds['month']:.2f} σ, a "
                f"twelve-month trickle beyond {thresholds['trickle']:.2f}."
            ),
            "A verdict of signalled: a test stands beyond its threshold in this period.",
        ],
    )


def _signal(signal: dict[str, Any]) -> str:
    return f"{signal['period']} {signal['test']} {signal['way']} since {signal['since']}"


def _trend(material: Material) -> Schedule:
    rows = (
        {**month, "area": area["area"], "z": _z(month)} for area in material.trend["areas"] for month in area["months"]
    )
    return Schedule(
        "months",
        f"Months, {material.metal}",
        "Each area's balances month by month, each beside its own σ and as a "
        "residual that is independent of the months before.",
        TREND,
        rows_of(TREND, rows),
        notes=["A month without a count is taken together with the next one that has one."],
    )


def _z(month: Document) -> float | None:
    return round(float(month["unexplained"]) / month["sigma"], 6) if month["sigma"] else None
