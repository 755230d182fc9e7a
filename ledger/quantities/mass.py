"""Mass: an integer number of nanograms, read from text and printed as text.

Whole grams, grains, pennyweights, troy ounces, avoirdupois ounces and pounds are exact in nanograms:
grain 64.798 91 mg, pennyweight 24 grains, troy ounce 480 grains, avoirdupois ounce 437.5 grains, pound
7000 grains (NIST Handbook 44, Appendix C; 1959 yard and pound agreement).
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Final, NoReturn

from ledger.quantities.rounding import half_even
from ledger.refusals import QuantityRefused

GRAIN_NG: Final = 64_798_910

#: Nanograms in one of each accepted unit.
NG_PER_UNIT: Final[dict[str, int]] = {
    "ng": 1,
    "µg": 1_000,
    "ug": 1_000,
    "mg": 1_000_000,
    "g": 1_000_000_000,
    "kg": 1_000_000_000_000,
    "t": 1_000_000_000_000_000,
    "grain": GRAIN_NG,
    "dwt": 24 * GRAIN_NG,
    "ozt": 480 * GRAIN_NG,
    "ozav": 875 * GRAIN_NG // 2,
    "lb": 7000 * GRAIN_NG,
}

#: Units that statements may be printed in.
PRINT_UNITS: Final = ("g", "kg", "mg", "grain", "dwt", "ozt", "ozav", "lb")

LARGEST_NG: Final = 1000 * NG_PER_UNIT["t"]

_MASS = re.compile(r"([+-]?)(\d{1,30})(?:\.(\d{1,30}))?[ \u00a0\u202f]?([a-zA-Zµμ]{1,8})", re.ASCII)
_AMBIGUOUS = {
    "oz": "write ozt (troy) or ozav (avoirdupois)",
    "gr": "write grain or g",
    "gm": "write g",
    "lbt": "write ozt: twelve troy ounces to the troy pound",
}


def parse_mass(text: str, *, signed: bool = False, zero: bool = False) -> int:
    """Return the nanograms of a mass written as a decimal number and a unit, such as ``"10.37 dwt"``.

    Rounded half-even to the nanogram, once. With ``signed`` a leading sign is accepted; with ``zero`` so is a mass
    of exactly zero. Raises QuantityRefused for anything ambiguous (``oz``, ``gr``), without a unit, rounding to zero
    though it is not zero, or beyond 1 000 t; and for what is no text, since a float is not what was read.
    """
    match = _MASS.fullmatch(text) if isinstance(text, str) else None
    if match is None:
        raise QuantityRefused(f"{shown(text)} is not a mass", 'write a plain decimal number and a unit: "1250.42 g"')
    sign, whole, decimals, unit = match.groups()
    per_unit = NG_PER_UNIT.get(unit.replace("μ", "µ"))
    if per_unit is None:
        _refuse_unit(text, unit)
    if sign and not signed:
        raise QuantityRefused(f"{shown(text)} has a sign", "write it without: the ticket's kind says in or out")
    decimals = decimals or ""
    exact = int(whole + decimals) * per_unit
    mass_ng = half_even(exact, 10 ** len(decimals)) if decimals else exact
    if mass_ng == 0 and (exact or not zero):
        why = "rounds to zero though it is not" if exact else "is nothing"
        raise QuantityRefused(f"{shown(text)} {why}", "the book's smallest mass is one nanogram; leave the line out")
    if mass_ng > LARGEST_NG:
        raise QuantityRefused(f"{shown(text)} is more than 1 000 t", "check the unit")
    return -mass_ng if sign == "-" else mass_ng


def _refuse_unit(text: str, unit: str) -> NoReturn:
    if unit.lower() in _AMBIGUOUS:
        raise QuantityRefused(f"{shown(text)}: the unit {unit} is ambiguous", _AMBIGUOUS[unit.lower()])
    raise QuantityRefused(f"{shown(text)}: unknown unit {unit}", "known are " + ", ".join(NG_PER_UNIT))


def shown(text: object) -> str:
    """Return what was read as a refusal quotes it: forty characters at most, unprintable ones escaped."""
    if not isinstance(text, str):
        return f"a value of type {type(text).__name__}"
    return repr(text if len(text) <= 40 else text[:40] + "…")


def in_unit(mass_ng: int, unit: str) -> Fraction:
    """Return a mass in nanograms as an exact number of ``unit``."""
    return Fraction(mass_ng, NG_PER_UNIT[unit])


def decimal_text(value: Fraction, places: int) -> str:
    """Return ``value`` as a plain decimal with ``places`` digits after the point, rounded half-even; minus is "-"."""
    scaled = half_even(value.numerator * 10**places, value.denominator)
    digits = f"{abs(scaled):0{places + 1}d}"
    sign = "-" if scaled < 0 else ""
    return f"{sign}{digits[:-places]}.{digits[-places:]}" if places else f"{sign}{digits}"


def grams_text(mass_ng: int) -> str:
    """Return a mass in nanograms as plain decimal grams with all nine digits: the form every JSON answer uses."""
    whole, nanos = divmod(abs(mass_ng), 1_000_000_000)
    return f"{'-' if mass_ng < 0 else ''}{whole}.{nanos:09d}"


def mass_text(mass_ng: int, unit: str = "g", places: int = 3) -> str:
    """Return a mass in nanograms as a decimal number of ``unit``, thousands apart, never "-0.000", for people."""
    plain = decimal_text(in_unit(mass_ng, unit), places)
    whole, point, decimals = plain.lstrip("-").partition(".")
    sign = "-" if plain.startswith("-") else ""
    return f"{sign}{int(whole):,}{point}{decimals}"
