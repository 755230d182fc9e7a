"""Lines to sign: a pack is an answer only when somebody stands for it; nobody is named by the program."""

from __future__ import annotations

from typing import Final

from ledger.faces.pack.material import Material
from ledger.faces.pack.schedule import Part, Section

_LINES: Final = (
    ("prepared", "Prepared", "The figures are those of the book named above."),
    ("reviewed", "Reviewed", "The differences, their causes and the steps to be taken were gone through."),
    ("closed", "Closed", "By somebody who neither keeps an area nor sets its rates."),
)


def section(material: Material) -> Section:
    """Return the lines to sign."""
    as_of = material.as_of
    seal = material.close.line if material.close else "none, the period is not closed"
    return Section(
        "signing",
        "Signatures",
        paragraphs=[
            (
                f"Pack of {material.period}, {material.facts.name}, from the book as of record {as_of.record:,}, "
                f"running hash {as_of.chain[:16]}. Seal: {seal}."
            )
        ],
        parts=[Part(f"sign-{key}", title, paragraphs=[words]) for key, title, words in _LINES],
    )
