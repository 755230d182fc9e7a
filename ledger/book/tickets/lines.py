"""A line of a ticket: one lot (or bin), what was weighed of it, and, where it makes a lot, what the lot is.

There is one ``Line`` with every attribute a line can have. Which of them a line *may* have is its **role**, set by the
kind of ticket: a line of a shipment may be billed, a line of a move may not.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final, Literal

from pydantic import Field

from ledger.book.tickets.common import (
    Assays,
    Content,
    Contradiction,
    Fineness,
    Mass,
    MassOrNothing,
    Name,
    Pieces,
    Record,
    Results,
    Share,
)
from ledger.quantities.mass import parse_mass
from ledger.refusals import QuantityRefused


class Line(Record):
    """One lot or bin of a ticket. What a line does not say is None (``all``: False)."""

    lot: Name | None = Field(None, description="the lot; or `bin`")
    bin: Name | None = Field(None, description="the open lot (a bin of the set-up); or `lot`")
    mass: Mass | None = Field(None, description='the net reading, `"1250.42 g"`; or `gross`')
    gross: Mass | None = Field(None, description="the reading with its vessel; needs `tare` or `container`")
    tare: Mass | None = Field(None, description="the empty vessel, weighed")
    container: Name | None = Field(None, description="the vessel, of registered tare")
    scale: Name | None = Field(None, description="the scale")
    all: bool = Field(False, description="empties the lot; without a mass it was not weighed and recorded figures move")
    seal: Name | None = Field(None, description="the seal's number; on a line without a mass: found intact")
    moisture: Share | None = Field(None, description='water as a share of the wet mass, `"8.0%"`; or `metallic`')
    metallic: Mass | None = Field(None, description="the metal in a dirty lot, without oil or flux; or `moisture`")
    pieces: Pieces | None = Field(None, description="how many pieces")
    owner: Name | None = Field(None, description="the party whose segregated metal it is")
    serial: Name | None = Field(None, description="a bar's serial number")
    form: Name | None = Field(None, description="bar, sheet, wire, tube, grain, sweeps …")
    class_: Name | None = Field(None, alias="class", description="the class of scrap or residue")
    alloy: Name | None = Field(None, description="composition by an alloy of the set-up")
    clad: Name | None = Field(None, description="composition by a clad of the set-up")
    fineness: Fineness | None = Field(None, description='composition stated: `"12K"` or `{"gold": "585‰", …}`')
    content: Content | None = Field(None, description='fine content stated: `{"gold": "12.3 g"}`')
    method: Name | None = Field(None, description="the method it was determined by")
    basis: Literal["measured", "nominal", "estimated"] | None = Field(None, description="what the composition rests on")
    sd: Share | None = Field(None, description="standard deviation of the composition, with its sign")
    planned: Name | None = Field(None, description="the mark aimed at: kept and compared, never used as content")
    layer: Name | None = Field(None, description='a clad lot\'s layer: `"12K"` or an alloy')
    terms: Name | None = Field(None, description="the terms under which it is held or settled")
    party: Name | None = Field(None, description="the party whose terms they are")
    declared_mass: Mass | None = Field(None, description="the mass on the supplier's list")
    declared_fineness: Fineness | None = Field(None, description="the fineness on the supplier's list")
    received_mass: Mass | None = Field(None, description="the receiver's own reading")
    received_scale: Name | None = Field(None, description="the receiver's scale")
    billed: Fineness | None = Field(None, description='what it is billed as: `"1/20 12K"`')
    results: Results | None = Field(
        None, description='determinations by sample: `{"gold": [["499.8", "500.1"], ["499.6"]]}`'
    )
    received: Mass | None = Field(None, description="the mass the refiner received")
    agreed: Content | None = Field(None, description="content agreed, by metal")
    payable: Content | None = Field(None, description="content payable, by metal")
    assays: Assays | None = Field(None, description='the assays behind it: `{"ours": {"gold": "585.2‰"}, "theirs": …}`')


class ArrivedLine(Line):
    """A line of an arrival: the only one whose mass may be nothing."""

    mass: MassOrNothing | None = Field(None, description='net reading; `"0 g"` for a lot that never came')


@dataclass(frozen=True, slots=True)
class Role:
    """Which fields a line may carry, which it must, and whether it has to be weighed.

    ``weighing``: "always"; "or all": a line that empties its lot, or finds its seal intact, need not be; "never asked".
    """

    name: str
    fields: frozenset[str]
    required: tuple[str, ...] = ()
    weighing: Literal["always", "or all", "never asked"] = "always"


_WEIGHED: Final = (
    *("lot", "bin", "mass", "gross", "tare", "container", "scale", "seal"),
    *("moisture", "metallic", "pieces", "owner", "serial"),
)
_MADE: Final = (
    *_WEIGHED,
    *("form", "class", "alloy", "clad", "fineness", "content", "method", "basis", "sd", "layer"),
)


def _handled(name: str, *more: str, required: tuple[str, ...] = ()) -> Role:
    return Role(name, frozenset((*_WEIGHED, "all", *more)), required, "or all")


def _making(name: str, *more: str) -> Role:
    return Role(name, frozenset((*_MADE, *more)))


OPENED: Final = _making("a take-on", "terms", "party")
RECEIVED: Final = _making("a receipt", "declared_mass", "declared_fineness")
MOVED: Final = _handled("a move", "received_mass", "received_scale")
ARRIVED: Final = _handled("an arrival")
INPUT: Final = _handled("a work input")
OUTPUT: Final = _making("a work output", "planned")
SWEPT: Final = _making("a sweep")
SHIPPED: Final = _handled("a shipment", "billed")
SETTLED: Final = Role(
    "a settlement",
    frozenset(("lot", "bin", "all", "seal", "moisture", "metallic", "pieces", "owner", "serial"))
    | {"received", "agreed", "payable", "assays", "terms"},
    ("received", "agreed", "payable"),
    "never asked",
)
COUNTED: Final = Role("a count", frozenset((*_MADE, "all")), (), "or all")
DISCARDED: Final = _handled("a discard", "results", "content", "method", "basis", "sd")


# ---- what one line may not say at once ---------------------------------------------------------------------


def line_contradictions(line: dict[str, Any], role: Role) -> Iterator[Contradiction]:
    """Yield what contradicts itself on a line, by the presence of fields; their values may still be of any type."""
    if not role.fields.issuperset(line):
        yield from _out_of_place(line, role)
    for name in role.required:
        if name not in line:
            yield Contradiction(name, f"is missing on a line of {role.name}", f"give {name}")
    if ("lot" in line) == ("bin" in line):
        yield Contradiction("lot", "a line names either a lot or a bin", "give one of lot and bin")
    if "mass" not in line or "gross" in line or "tare" in line or "container" in line:
        yield from _weighing(line, role)
    if "metallic" in line:
        yield from _metallic(line)
    for first, second in (("fineness", "content"), ("alloy", "clad")):
        if first in line and second in line:
            yield Contradiction(first, f"composition is stated twice, as {first} and as {second}", "give one of them")
    yield from _by_role(line, role)


def _out_of_place(line: dict[str, Any], role: Role) -> Iterator[Contradiction]:
    for name in line:
        if name in LINE_FIELDS and name not in role.fields:
            yield Contradiction(name, f"{name} has no place on a line of {role.name}", "leave it out")


def _weighing(line: dict[str, Any], role: Role) -> Iterator[Contradiction]:
    if role.weighing == "never asked":
        return
    if "mass" in line and "gross" in line:
        yield Contradiction("gross", "a line has either mass or gross", "give mass, or gross with its vessel")
    if "gross" in line:
        yield from _vessel(line)
    elif "tare" in line or "container" in line:
        name = "tare" if "tare" in line else "container"
        yield Contradiction(name, f"{name} goes with gross only", "give gross, or leave the vessel out")
    if "mass" not in line and "gross" not in line:
        if role.weighing == "always":
            yield Contradiction("mass", "is missing", "give mass, or gross with tare or container")
        elif line.get("all") is not True and "seal" not in line:
            yield Contradiction("mass", "is missing", "give a mass; or all: true, or the seal, if it was not weighed")


def _vessel(line: dict[str, Any]) -> Iterator[Contradiction]:
    if ("tare" in line) == ("container" in line):
        yield Contradiction("gross", "a gross needs its vessel, once", "give one of tare and container")
    elif "tare" in line and _at_most(line["gross"], line["tare"]):
        yield Contradiction("tare", "the vessel weighs as much as the whole", "check gross and tare")


def _metallic(line: dict[str, Any]) -> Iterator[Contradiction]:
    if "moisture" in line:
        yield Contradiction("metallic", "a line has either moisture or metallic", "give one of them")
    whole = line.get("mass", line.get("received"))
    if whole is not None and whole != line["metallic"] and _at_most(whole, line["metallic"]):
        yield Contradiction("metallic", "the metal weighs more than the whole", "check mass and metallic")


def _at_most(whole: object, part: object) -> bool:
    """Whether two masses read and the first is no more than the second; a mass that does not read is told elsewhere."""
    if not isinstance(whole, str) or not isinstance(part, str):
        return False
    try:
        return parse_mass(whole) <= parse_mass(part)
    except QuantityRefused:
        return False


def _by_role(line: dict[str, Any], role: Role) -> Iterator[Contradiction]:
    if role is MOVED and "received_scale" in line and "received_mass" not in line:
        yield Contradiction("received_scale", "a receiver's scale without the receiver's reading", "give received_mass")
    if role is OPENED and line.get("terms") in ("deposited", "leased") and "party" not in line:
        yield Contradiction("party", "is missing", "say whose metal it is")
    if role is DISCARDED and ("results" in line) == ("content" in line):
        yield Contradiction("results", "what is thrown away is measured, once", "give one of results and content")


#: Every field a line can have, by its name in a document.
LINE_FIELDS: Final = {field.alias or name: field for name, field in Line.model_fields.items()}
