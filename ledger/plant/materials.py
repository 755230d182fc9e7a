"""Alloys, clad stock, classes of scrap and residue, and bins."""

from __future__ import annotations

from fractions import Fraction
from functools import cached_property
from typing import Annotated, Final, Literal

from pydantic import Field, PlainValidator, model_validator
from pydantic.config import JsonDict

from ledger.plant.forms import Entry, Fineness, Form, Mark, Name, Number, refused, shown
from ledger.plant.site import METALS
from ledger.quantities.fineness import parse_fraction_mark

_OF_BOOKED: Final[JsonDict] = {"default": "required where the plant books it"}


def _read_faces(value: object) -> int | str:
    if isinstance(value, bool) or value not in (1, 2, "round"):
        raise refused(f"{shown(value)} is not a number of faces", 'write faces = 1, faces = 2 or faces = "round"')
    return value


Faces = Annotated[Literal[1, 2, "round"], PlainValidator(_read_faces), Form('`1`, `2` or `"round"`')]


class Alloy(Entry):
    """An alloy: the fineness of every booked metal, ``0`` where there is none of it."""

    code: Name = Field(description="what tickets call it")
    name: Name | None = Field(None, description="what people call it")
    gold: Fineness | None = Field(None, description="fineness of gold", json_schema_extra=_OF_BOOKED)
    silver: Fineness | None = Field(None, description="fineness of silver", json_schema_extra=_OF_BOOKED)
    platinum: Fineness | None = Field(None, description="fineness of platinum", json_schema_extra=_OF_BOOKED)
    palladium: Fineness | None = Field(None, description="fineness of palladium", json_schema_extra=_OF_BOOKED)
    rhodium: Fineness | None = Field(None, description="fineness of rhodium", json_schema_extra=_OF_BOOKED)
    density: Number | None = Field(None, description="density", json_schema_extra={"unit": "g/cm³"})
    colour: Name | None = Field(None, description="colour")

    @cached_property
    def fineness(self) -> dict[str, Fraction]:
        """Fineness by metal, for every metal the plant books."""
        stated = {metal: getattr(self, metal) for metal in METALS}
        return {metal: value for metal, value in stated.items() if value is not None}

    @model_validator(mode="after")
    def _not_more_than_pure(self) -> Alloy:
        if sum(self.fineness.values()) > 1:
            raise refused("its metals add up to more than pure", "check each fineness: together they are 1000‰ at most")
        return self


class Clad(Entry):
    """Clad stock: a layer of karat alloy on a base, and the mark that states the layer's share of the weight."""

    code: Name = Field(description="what tickets call it")
    mark: Mark | None = Field(None, description="the layer's share of the article's weight, and the layer's fineness")
    layer: Name | None = Field(None, description="alloy of the layer")
    faces: Faces | None = Field(None, description="faces that carry the layer, or a round section")
    bond: Name | None = Field(None, description="alloy of the bonding medium")
    base: Name | None = Field(None, description="base metal")

    @cached_property
    def marked(self) -> tuple[Fraction, Fraction] | None:
        """The layer's share of the article's weight, and the layer's fineness, as the mark says."""
        return None if self.mark is None else parse_fraction_mark(self.mark)

    @property
    def mark_in_karat(self) -> bool:
        """Whether the mark gives the layer's fineness in karat, and so means gold."""
        return self.mark is not None and self.mark.upper().rstrip("T").endswith("K")


class Class(Entry):
    """A class of scrap or residue."""

    code: Name = Field(description="what tickets call it")
    name: Name | None = Field(None, description="what people call it")
    alloy: Name | None = Field(None, description="alloy it consists of; this or clad, not both")
    clad: Name | None = Field(None, description="clad stock it consists of; this or alloy, not both")
    dirty: bool = Field(False, description="whether it carries foreign matter, so that each line states `metallic`")


class Bin(Entry):
    """An open lot, which takes additions all day."""

    code: Name = Field(description="what tickets call it")
    area: Name | None = Field(None, description="where it stands")
    class_: Name | None = Field(None, alias="class", description="class of what goes into it")
