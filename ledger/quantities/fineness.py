"""Fineness: an exact rational, fine mass over metallic mass.

Karat is n/24 by definition; a clad mark such as ``1/20 12K`` is the layer's share of the article's weight times the
layer's fineness (16 CFR 23.3). Nothing here is rounded but the content, once.
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Final

from ledger.quantities.mass import decimal_text, shown
from ledger.quantities.rounding import half_even
from ledger.refusals import QuantityRefused

_NUMBER = r"(\d{1,9})(?:\.(\d{1,30}))?"
_KARAT = re.compile(_NUMBER + r" ?[Kk]t?", re.ASCII)
_SHARE = re.compile(_NUMBER + r" ?(‰|%)?", re.ASCII)
_CLAD = re.compile(r"1/(\d{1,6}) (.+)", re.ASCII)
_MEND: Final = 'write "14K", "585‰", "58.5%" or a clad mark "1/20 12K"'


def parse_fineness(text: str) -> Fraction:
    """Return the fineness written as karat, per mille, per cent or a clad mark, in 0 … 1.

    A bare number is per mille and accepted from 333 to 1000, and for 0. Raises QuantityRefused otherwise, and for
    what is no text.
    """
    if not isinstance(text, str):
        raise QuantityRefused(f"{shown(text)} is not a fineness", _MEND)
    if _CLAD.fullmatch(text):
        share_of_weight, layer = parse_fraction_mark(text)
        return share_of_weight * layer
    karat = _KARAT.fullmatch(text)
    if karat is not None:
        return _within_one(_number(karat) / 24, text)
    share = _SHARE.fullmatch(text)
    if share is None:
        raise QuantityRefused(f"{shown(text)} is not a fineness", _MEND)
    sign = share.group(3)
    if sign is None and not (_number(share) == 0 or 333 <= _number(share) <= 1000):
        raise QuantityRefused(
            f"{shown(text)}: a bare number is per mille and is accepted from 333 to 1000",
            'write the sign: "25‰" or "2.5%"',
        )
    return _within_one(_number(share) / (100 if sign == "%" else 1000), text)


def parse_fraction_mark(text: str) -> tuple[Fraction, Fraction]:
    """Return (layer's share of the weight, layer's fineness) of a clad mark such as ``1/20 12K``."""
    clad = _CLAD.fullmatch(text) if isinstance(text, str) else None
    if clad is None or int(clad.group(1)) == 0 or _CLAD.fullmatch(clad.group(2)):
        raise QuantityRefused(f"{shown(text)} is not a clad mark", 'write the fraction and the layer: "1/20 12K"')
    return Fraction(1, int(clad.group(1))), parse_fineness(clad.group(2))


def parse_share(text: str) -> Fraction:
    """Return a share written with its sign, ``"0.10%"`` or ``"0.3‰"``, in 0 … 1; raises QuantityRefused."""
    share = _SHARE.fullmatch(text) if isinstance(text, str) else None
    if share is None or share.group(3) is None:
        raise QuantityRefused(f"{shown(text)} is not a share", 'write the sign: "0.10%" or "1‰"')
    return _within_one(_number(share) / (100 if share.group(3) == "%" else 1000), text)


def _number(match: re.Match[str]) -> Fraction:
    whole, decimals = match.group(1), match.group(2) or ""
    return Fraction(int(whole + decimals), 10 ** len(decimals))


def _within_one(value: Fraction, text: str) -> Fraction:
    if value > 1:
        raise QuantityRefused(f"{shown(text)} is more than pure", _MEND)
    return value


def content_ng(mass_ng: int, fineness: Fraction) -> int:
    """Return the fine content, in nanograms, of a metallic mass: mass × fineness, rounded half-even once."""
    return half_even(mass_ng * fineness.numerator, fineness.denominator)


def per_mille_text(fineness: Fraction, places: int = 3) -> str:
    """Return a fineness as per mille for people: ``"583.333"``."""
    return decimal_text(fineness * 1000, places)
