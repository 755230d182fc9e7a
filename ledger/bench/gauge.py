"""Lengths, gauge numbers and what lies between them: exact, in nanometres.

The inch is 25.4 mm exactly (yard and pound agreement of 1959). Gauge numbers are American wire gauge, the same as Brown
& Sharpe: d = 0.127 mm × 92^((36 − n) / 39), n = 36 … 0, then 2/0, 3/0, 4/0 for −1, −2, −3 (ASTM B258).
"""

from __future__ import annotations

import re
from decimal import Context, Decimal
from fractions import Fraction
from math import isqrt
from typing import Final

from ledger.quantities.mass import decimal_text, shown
from ledger.quantities.rounding import half_even
from ledger.refusals import QuantityRefused

#: Nanometres in one of each accepted unit of length.
NM_PER_UNIT: Final[dict[str, int]] = {
    "µm": 10**3, "um": 10**3, "mm": 10**6, "cm": 10**7, "m": 10**9, "mil": 25_400, "in": 25_400_000, "ft": 304_800_000,
}  # fmt: skip

#: π, to more digits than any rounding here can tell from it.
PI: Final = Fraction("3.14159265358979323846264338327950288419716939937510")

THICKEST: Final = -3
THINNEST: Final = 56
LONGEST_NM: Final = 10**6 * NM_PER_UNIT["m"]

_LENGTH = re.compile(r"(\d{1,9}(?:\.\d{1,12})?) ?(µm|μm|um|mm|cm|m|mil|in|ft)")
_GAUGE = re.compile(r"(?:(\d{1,2})|([1-4])/0) ?(?:AWG|B&S)", re.ASCII)
_DENSITY = re.compile(r"(\d{1,3}(?:\.\d{1,6})?) ?(?:g/cm3|g/cm³)")
_DIGITS: Final = Context(prec=60)


def parse_length(text: str) -> int:
    """Return the nanometres of a length written ``0.50 mm``, ``0.020 in``, ``24 AWG`` or ``24 B&S``.

    Rounded half-even to the nanometre, once. Raises QuantityRefused for what is none, or is nothing, or over 1 000 km.
    """
    if (gauge := _GAUGE.fullmatch(text)) is not None:
        return awg_nm(int(gauge.group(1)) if gauge.group(1) else 1 - int(gauge.group(2)))
    match = _LENGTH.fullmatch(text)
    if match is None:
        raise QuantityRefused(f"{shown(text)} is not a length", 'write "0.50 mm", "0.020 in" or a gauge, "24 AWG"')
    exact = Fraction(match.group(1)) * NM_PER_UNIT[match.group(2).replace("μ", "µ")]
    length = half_even(exact.numerator, exact.denominator)
    if not 0 < length <= LONGEST_NM:
        raise QuantityRefused(f"{shown(text)} is {'nothing' if not length else 'more than 1 000 km'}", "check the unit")
    return length


def parse_density(text: str) -> Fraction:
    """Return a density in g/cm³, written ``13.07 g/cm³``; raises QuantityRefused."""
    match = _DENSITY.fullmatch(text)
    if match is None or not Fraction(match.group(1)):
        raise QuantityRefused(f"{shown(text)} is not a density", 'write "13.07 g/cm³"')
    return Fraction(match.group(1))


def is_density(text: str) -> bool:
    """Return whether a text is meant as a density."""
    return text.endswith(("g/cm3", "g/cm³"))


def awg_nm(number: int) -> int:
    """Return the diameter (of wire) or thickness (of sheet) of a gauge number, to the nearest nanometre.

    2/0, 3/0 and 4/0 are −1, −2 and −3. Raises QuantityRefused outside 4/0 … 56.
    """
    if not THICKEST <= number <= THINNEST:
        raise QuantityRefused(f"there is no gauge {number}", f"gauges run from 4/0 to {THINNEST}")
    return half_even(*powered(Fraction(92), Fraction(36 - number, 39), Fraction(127_000)).as_integer_ratio())


def awg_text(number: int) -> str:
    """Return a gauge number as it is spoken: ``24``, ``0``, ``2/0``."""
    return str(number) if number >= 0 else f"{1 - number}/0"


def nearest_awg(length_nm: int) -> str:
    """Return the gauge that lies nearest to a length; nothing beyond the gauges, half a step from the last."""
    nearest = min(range(THICKEST, THINNEST + 1), key=lambda number: abs(awg_nm(number) - length_nm))
    return awg_text(nearest) if abs(awg_nm(nearest) - length_nm) * 16 <= length_nm else ""


def powered(base: Fraction, exponent: Fraction, times: Fraction = Fraction(1)) -> Fraction:
    """Return ``times`` × base ** exponent to about 55 digits; ``base`` above zero."""
    return times * Fraction(_DIGITS.power(_decimal(base), _decimal(exponent)))


def _decimal(value: Fraction) -> Decimal:
    return _DIGITS.divide(Decimal(value.numerator), Decimal(value.denominator))


def root(value: Fraction) -> Fraction:
    """Return the square root of a number, not below zero, to twelve decimals, downwards."""
    return Fraction(isqrt(value.numerator * 10**24 // value.denominator), 10**12)


def mass_of(volume_nm3: Fraction, density: Fraction) -> Fraction:
    """Return the mass in nanograms of a volume in cubic nanometres, at a density in g/cm³."""
    return volume_nm3 * density / 10**12


def length_text(length_nm: Fraction | int, unit: str = "mm", places: int = 3) -> str:
    """Return a length with its unit, for people."""
    return f"{decimal_text(Fraction(length_nm) / NM_PER_UNIT[unit], places)} {unit}"
