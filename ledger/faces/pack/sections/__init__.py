"""The sections of a pack, one module each, in reading order."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from ledger.faces.pack.material import Material
from ledger.faces.pack.schedule import Section
from ledger.faces.pack.sections import (
    areas,
    audit,
    decision,
    dust,
    moves,
    open_items,
    position,
    reading,
    refiners,
    signing,
    statement,
)

_MAKERS = (decision, statement, areas, moves, dust, refiners, position, open_items, audit, signing, reading)


def sections(material: Material) -> list[Section]:
    """Return the sections of a pack, each with its pictures."""
    return list(_illustrated(material))


def _illustrated(material: Material) -> Iterator[Section]:
    from ledger.faces.pack.pictures import gallery

    found = gallery(material)
    for maker in _MAKERS:
        section = maker.section(material)
        missing = [f"Not drawn: {why}" for why in found.missing.get(section.key, ())]
        yield replace(section, pictures=found.pictures.get(section.key, ()), paragraphs=[*section.paragraphs, *missing])
