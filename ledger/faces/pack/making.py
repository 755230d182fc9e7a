"""A pack from a book: gathered once, told in sections, made into files."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from dataclasses import dataclass

from ledger.faces.pack.material import Material, gather
from ledger.faces.pack.schedule import Section
from ledger.faces.pack.sections import sections
from ledger.faces.pack.workbook import Heading
from ledger.faces.pack.writing import Written, files_of


@dataclass(frozen=True)
class Pack:
    """A pack that is made: what it says of itself, its sections, its files; nothing is written yet."""

    material: Material
    heading: Heading
    sections: list[Section]
    files: list[Written]

    @property
    def answer(self) -> list[str]:
        """The first sentences: whether all metal is accounted for, in the pack's metal and in the others."""
        return list(self.sections[0].parts[0].paragraphs)


def heading_of(material: Material) -> Heading:
    """Return what a pack says of itself."""
    facts, as_of = material.facts, material.as_of
    return Heading(
        facts.name,
        material.period,
        material.metal,
        material.unit,
        facts.currency,
        material.close is not None,
        as_of.record,
        as_of.chain,
        as_of.seal,
    )


def seal_words(material: Material) -> str:
    """Return the period's seal as it is printed, or that there is none, with the state of the book."""
    as_of = material.as_of
    book = f"Book as of record {as_of.record}, chain {as_of.chain}"
    if material.close is not None:
        return f"{material.close.line}\n{book}"
    return f"{material.period} is not closed: there is no seal.\n{book}"


def make(
    connection: sqlite3.Connection, period: str, metal: str, unit: str, progress: Callable[[int], None] = lambda _: None
) -> Pack:
    """Return the pack of a period; raises SetupRefused for a period that is none, WrongUsage where there is nothing."""
    material = gather(connection, period, metal, unit, progress)
    heading, told = heading_of(material), sections(material)
    return Pack(material, heading, told, files_of(told, heading, seal_words(material)))
