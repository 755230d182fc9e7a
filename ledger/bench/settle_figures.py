"""How the figures of a working are written: as many digits as they have, up to what a pencil can follow."""

from __future__ import annotations

from fractions import Fraction

from ledger.quantities.mass import NG_PER_UNIT, grams_text


def figure(value: Fraction, places: int = 6) -> str:
    """Return a number with all its digits, no more; one that has more than ``places`` is cut there, and ends in "…"."""
    scaled = abs(value) * 10**places
    whole = scaled.numerator // scaled.denominator
    digits = f"{whole:0{places + 1}d}"
    plain = f"{digits[:-places]}.{digits[-places:]}" if places else digits
    text = (plain.rstrip("0").rstrip(".") if places else plain) if whole == scaled else plain + "…"
    return ("-" if value < 0 else "") + text


def of_unit(mass: Fraction, unit: str) -> str:
    """Return a mass, ng, in a unit, with the unit."""
    return f"{figure(mass / NG_PER_UNIT[unit])} {unit}"


def per_mille(fineness: Fraction) -> str:
    """Return a fineness in per mille, with the sign."""
    return f"{figure(fineness * 1000, 5)} ‰"


def per_cent(share: Fraction) -> str:
    """Return a share in per cent, with the sign."""
    return f"{figure(share * 100, 5)} %"


def grams(mass_ng: int) -> str:
    """Return a mass as a ticket has it: plain decimal grams, one digit after the point at least."""
    whole, _, decimals = grams_text(mass_ng).partition(".")
    return f"{whole}.{decimals.rstrip('0') or '0'} g"
