"""Printed numbers of lots and tickets, and the check character that catches a mis-keyed one.

A number with its check is ``BODY-C``. C is the check character of ISO/IEC 7064, system MOD 37,36, over the digits and
capital letters of BODY; hyphens, blanks and other signs are left out, and small letters count as capitals. It is one
of 0–9, A–Z, and catches every single wrong character and nearly every swap of two neighbours.
"""

from __future__ import annotations

import re
from typing import Final

#: Stands between a number and its check character.
BEFORE_CHECK: Final = "-"

_SIGNS: Final = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_ALPHABET: Final = frozenset(_SIGNS)
_CHECKED = re.compile(r"(.+)-([0-9A-Z])", re.DOTALL | re.ASCII)
_COUNTED = re.compile(r"(.*?)([0-9]+)", re.DOTALL | re.ASCII)


def check_character(body: str) -> str:
    """Return the check character of a number; raises ValueError where it has no digit or letter to check."""
    signs = [sign for sign in body.upper() if sign in _ALPHABET]
    if not signs:
        raise ValueError(f"nothing to check in {body!r}")
    carried = 36
    for sign in signs:
        carried = ((carried + int(sign, 36)) % 36 or 36) * 2 % 37
    return _SIGNS[(1 - carried) % 36]


def with_check(body: str) -> str:
    """Return a number with its check character: ``"COIL-0123"`` → ``"COIL-0123-W"``."""
    return body + BEFORE_CHECK + check_character(body)


def check_holds(number: str) -> bool:
    """Return whether a number ends in the right check character."""
    match = _CHECKED.fullmatch(number)
    if match is None or not _ALPHABET.intersection(match[1].upper()):
        return False
    return check_character(match[1]) == match[2]


def body_of(number: str) -> str:
    """Return a number without its check character, where it ends in the right one; else the number itself."""
    return number.rpartition(BEFORE_CHECK)[0] if check_holds(number) else number


def counted(body: str) -> tuple[str, str] | None:
    """Return the prefix and the digits of the counter that ends a number; None where none does."""
    match = _COUNTED.fullmatch(body)
    return None if match is None else (match[1], match[2])


def following(number: str, *, checked: bool) -> str | None:
    """Return the next number of a series, as wide as the last one: ``"M-000123"`` → ``"M-000124"``.

    With ``checked`` it carries its check character, whether the last one did or not. None where no counter ends it.
    """
    parts = counted(body_of(number) if checked else number)
    if parts is None:
        return None
    prefix, counter = parts
    body = f"{prefix}{int(counter) + 1:0{len(counter)}d}"
    return with_check(body) if checked else body
