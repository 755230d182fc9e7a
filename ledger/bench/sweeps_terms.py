"""What is said of a lot of sweeps: how it was weighed, dried, screened, sampled and assayed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Annotated, Any

from pydantic import Field, PlainValidator, ValidationError

from ledger.bench.settle_forms import ByMetal
from ledger.plant.faults import faults_of, take_faults
from ledger.plant.forms import Entry, Form, Mass, Name, Share, refused, shown
from ledger.plant.measuring import SENSITIVITY, Scale
from ledger.quantities.mass import parse_mass
from ledger.refusals import Fault, FormRefused, QuantityRefused


def _read_dishes(value: object) -> tuple[tuple[int, int], ...]:
    mend = 'write wet and dry of each dish, net: [["52.10 g", "47.95 g"], ["49.80 g", "45.85 g"]]'
    rows = value if isinstance(value, list) else []
    found = [_dish(row, mend) for row in rows]
    if not found:
        raise refused(f"{shown(value)} is not a list of dishes", mend)
    return tuple(found)


def _dish(row: object, mend: str) -> tuple[int, int]:
    if not isinstance(row, list) or len(row) != 2 or not all(isinstance(text, str) for text in row):
        raise refused(f"{shown(row)} is not a dish", mend)
    try:
        wet, dry = (parse_mass(text) for text in row)
    except QuantityRefused as refusal:
        raise refused(refusal.faults[0].what, refusal.faults[0].mend) from None
    if dry > wet:
        raise refused(f"a dish weighs more dry, {row[1]}, than wet, {row[0]}", mend)
    return wet, dry


class Heading(Entry):
    """The lot as a whole."""

    lot: Name = Field(description="the lot")
    wet: Mass = Field(description="what the drum's content weighs, net, as it stands")
    dishes: Annotated[
        tuple[tuple[int, int], ...], PlainValidator(_read_dishes), Form('wet and dry, `[["52.10 g", "47.95 g"]]`')
    ] = Field((), description="moisture dishes, net, wet and dried", json_schema_extra={"default": "none"})
    moisture: Share | None = Field(None, description="or the moisture, as stated, a share of the wet mass")
    division: Mass | None = Field(None, description="step of the scale's display")
    repeatability: Mass | None = Field(None, description="standard deviation of its repeated readings")
    sampling: Share | None = Field(None, description="what one sample is worth, as fineness, where there is but one")
    bias: Share = Field(Fraction(0), description="standard deviation of the laboratory's bias, as fineness")


class Part(Entry):
    """One fraction of the dried sample: all of it, or what passed the sieve, or what stayed on it."""

    name: Name = Field("sample", description="through the sieve, metallics …")
    mass: Mass | None = Field(None, description="its mass in the dried sample; not needed where there is one part")
    assay: ByMetal = Field(description="determinations by metal, by sample; of the dry")


@dataclass(frozen=True, slots=True)
class Lot:
    """A lot of sweeps, read; masses in ng."""

    lot: str
    wet: int
    dishes: tuple[tuple[int, int], ...]
    moisture: Fraction | None
    mass_sd_ng: float
    sampling: Fraction | None
    bias: Fraction
    parts: tuple[Part, ...]

    @property
    def metals(self) -> list[str]:
        """The metals assayed, in the order of the first part."""
        return list(self.parts[0].assay)


def lot_from(document: Mapping[str, Any]) -> Lot:
    """Return the lot of a document in JSON's types; raises FormRefused with every fault, each at its key."""
    faults: list[Fault] = []
    heading = _read(Heading, {k: v for k, v in document.items() if k != "part"}, "", "the lot", faults)
    rows = document.get("part")
    rows = rows if isinstance(rows, list) else []
    parts = [_read(Part, row, f"part[{i}]", f"part {i}", faults) for i, row in enumerate(rows, 1)]
    if not faults:
        take_faults(_contradictions(heading, parts), faults)
    if faults:
        raise FormRefused([Fault(FormRefused.code, f.what, f.mend, f.field.removeprefix(".")) for f in faults])
    return Lot(
        heading.lot, heading.wet, heading.dishes, heading.moisture, _sd(heading), heading.sampling, heading.bias,
        tuple(parts),
    )  # fmt: skip


def _read(model: type[Entry], values: object, place: str, entry: str, faults: list[Fault]) -> Any:
    if not isinstance(values, dict):
        take_faults([Fault(FormRefused.code, f"{shown(values)} is not a table", f"write [[{place}]]", place)], faults)
        return None
    try:
        return model.model_validate(values)
    except ValidationError as error:
        take_faults(faults_of(error, model, place, entry), faults)
        return None


def _contradictions(heading: Heading, parts: list[Part]) -> Iterator[Fault]:
    if heading.dishes and heading.moisture is not None:
        yield Fault(FormRefused.code, "moisture is given twice", "give dishes or moisture", "moisture")
    if not parts:
        yield Fault(FormRefused.code, "nothing was assayed", "write a [[part]] with its assay", "part")
        return
    metals = set(parts[0].assay)
    for i, part in enumerate(parts, 1):
        if set(part.assay) != metals:
            yield Fault(FormRefused.code, f"{part.name} is not assayed for the same metals as {parts[0].name}",
                        'add what is missing, "0‰" where there is none', f"part[{i}].assay")  # fmt: skip
        if len(parts) > 1 and part.mass is None:
            yield Fault(FormRefused.code, f"{part.name} was not weighed", "give mass: the parts are weighed together",
                        f"part[{i}].mass")  # fmt: skip


def _sd(heading: Heading) -> float:
    """Return σ of the wet mass, ng: the scale's random part and its sensitivity, as assumed of any scale."""
    if heading.division is None:
        return 0.0
    repeatability = {} if heading.repeatability is None else {"repeatability": f"{heading.repeatability} ng"}
    scale = Scale.model_validate({"code": "S", "division": f"{heading.division} ng", **repeatability})
    return float((scale.weighing_sd_ng**2 + (float(SENSITIVITY) * heading.wet) ** 2) ** 0.5)
