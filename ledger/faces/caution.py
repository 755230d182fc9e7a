"""Cautions: the line that ends every page on which suspicion could fall on somebody, and those of dangerous work.

What is said of dangerous work is the usual caution of the trade, common practice without a source; it replaces neither
the safety data sheets nor the local codes that it defers to.
"""

from __future__ import annotations

from typing import Final

from ledger.faces.printing import say_text

CAUTION: Final = (
    "Arithmetic on records, no finding about any person. Before anyone is asked, inform counsel and insurer: notice "
    "periods may be running."
)

#: Where something is told of people one by one, or their names are.
BY_PERSON: Final = (
    "Who may keep, see and use figures by person is for local employment and data-protection law, and for what was "
    "agreed with the staff: ask counsel before this page is copied or shown."
)

_CODES: Final = "Follow local codes, the safety data sheets and licensed practice; this page is arithmetic, not them."

#: What can hurt somebody, by the work a page is printed for.
AT_WORK: Final[dict[str, str]] = {
    "melt": (
        "Molten metal: preheat moulds and tools, since a damp one throws the metal out; face shield, leathers and "
        "extraction. Zinc boils below the melting point of gold, and its fume makes ill. Cadmium fume (old solders and "
        "scrap of unknown make) and beryllium dust and fume kill or maim: keep such metal out of the melt. Nickel "
        "sensitises."
    ),
    "bond": (
        "Bonding heat and flux: extraction, and dry plates under the press. Cadmium in old bonding media and solders "
        "and beryllium in old base stock poison by fume and dust: know the composition first. Nickel sensitises."
    ),
    "reduce": (
        "Rolls and blocks pull hands in: guards, no loose gloves, no reaching over. Hot coils burn. Pickle is acid: "
        "goggles and gloves, acid into water and never water into acid, and no iron in it. Dust of beryllium copper is "
        "poison, nickel sensitises."
    ),
    "settle": (
        "Refining is licensed work: molten metal, chlorine, hot acids and, in some plants, cyanide, whose salts give "
        "off a deadly gas with any acid. Say on the packing list what is in the lot: cadmium, beryllium, mercury, "
        "nickel, acid or cyanide residues endanger whoever melts and samples it."
    ),
    "strip": (
        "Nitric acid on brass, nickel or silver gives off brown fume that drowns the lungs hours later: fume hood, "
        "goggles, face shield, gloves, and acid into water, never water into acid. Never let acid and cyanide meet. "
        "Cadmium of old solders and beryllium of old base stock go into the solution: spent acid is hazardous waste, "
        "and holds metal. Never dry or burn a residue of unknown make without extraction."
    ),
    "sweeps": (
        "Dust of sweeps holds silica, lead, nickel, cadmium of old solders, beryllium of old base stock: wet methods, "
        "extraction, respirator, no dry sweeping. Acid and cyanide residues never into one drum: together they give "
        "off a deadly gas. Burning, drying, screening and digesting samples is work for a laboratory."
    ),
}

NO_LEGAL_ADVICE: Final = (
    "Arithmetic on a mark, no legal advice: which text applies to an article, in which version and with which "
    "exemptions, is for counsel to say."
)


def say_caution() -> None:
    """Print the caution."""
    say_text(CAUTION)


def at_work(work: str) -> str:
    """Return the caution for a kind of work, a key of ``AT_WORK``."""
    return f"{AT_WORK[work]} {_CODES}"


def say_at_work(work: str) -> None:
    """Print the caution for a kind of work, a key of ``AT_WORK``."""
    say_text(at_work(work), first="Caution: ", indent="  ")
