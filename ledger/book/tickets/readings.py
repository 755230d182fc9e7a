"""What stands in one field of a ticket, read from its text: masses, shares, finenesses, contents, results, times.

Each reader takes whatever the document holds and returns the exact value, or raises PydanticCustomError of type
``form`` or ``quantity`` with what is wrong and, in its context, the mend. Nothing is coerced; no float is accepted.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from functools import lru_cache
from typing import Any, Final, TypeVar

from pydantic_core import PydanticCustomError

from ledger.quantities.fineness import parse_fineness, parse_share
from ledger.quantities.mass import parse_mass
from ledger.refusals import QuantityRefused

T = TypeVar("T")

_GRAMS = re.compile(r"([0-9]{1,9})\.([0-9]{1,9}) g")
_NO_POINT = re.compile(r"([+-]?[0-9]{1,30})(?![0-9.])")
_INSTANT = re.compile(
    r"(?:19|20|21)[0-9]{2}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}(?::[0-9]{2}(?:\.[0-9]{1,6})?)?(?:Z|[+-][0-9]{2}:[0-9]{2})?"
)
_TENS: Final = tuple(10 ** (9 - places) for places in range(10))
#: Replicates in one list of results, and characters in one text of a composition: more is a mistake, not an assay.
_LONGEST = 200


@dataclass(frozen=True, slots=True)
class Reading:
    """A mass as it was read: its text, kept for the record, and its nanograms."""

    text: str
    ng: int


def shown(value: object) -> str:
    """Return a value as a person may be shown it: short, and without anything a terminal cannot print."""
    text = repr(value) if isinstance(value, str) else _of_json(value)
    return text if len(text) <= 42 else text[:40] + "…"


def _of_json(value: object) -> str:
    if value is None or isinstance(value, bool):
        return {None: "null", True: "true", False: "false"}[value]
    if isinstance(value, int | float):
        return "a huge number" if isinstance(value, int) and value.bit_length() > 200 else repr(value)
    if isinstance(value, dict | list):
        return "an object {…}" if isinstance(value, dict) else "a list […]"
    return type(value).__name__


def refuse(what: str, mend: str = "", kind: str = "form") -> PydanticCustomError:
    """Return the error of one field; the words are not a template, so that braces in them are harmless."""
    return PydanticCustomError(kind, "{what}", {"what": what, "mend": mend})


def _text(value: object, mend: str) -> str:
    if type(value) is not str:
        raise refuse(f"must be text, not {shown(value)}", mend)
    return value


def _quantity(read: Callable[[str], T], text: str) -> T:
    try:
        return read(text)
    except QuantityRefused as refused:
        fault = refused.faults[0]
        raise refuse(fault.what, fault.mend, "quantity") from None


# ---- masses ------------------------------------------------------------------------------------------------


def read_mass(value: object) -> Reading:
    """Return a mass above zero: ``"1250.42 g"``, with a decimal point and a unit."""
    if type(value) is str:
        grams = _GRAMS.fullmatch(value)
        if grams is not None:
            whole, decimals = grams.groups()
            ng = int(whole + decimals) * _TENS[len(decimals)]
            if ng:
                return Reading(value, ng)
    return _mass(value)


def read_mass_or_nothing(value: object) -> Reading:
    """Return a mass, or exactly nothing, ``"0 g"``: what the receiver found of a lot that never came."""
    return Reading(value, 0) if value == "0 g" and type(value) is str else _mass(value, zero=True)


def read_signed_mass(value: object) -> Reading:
    """Return a mass that may carry a leading minus: a gain written off, or metal that is owed by us."""
    return _mass(value, signed=True)


def _mass(value: object, *, signed: bool = False, zero: bool = False) -> Reading:
    text = _text(value, 'write a decimal number and a unit between quotes: "1250.42 g"')
    number = _NO_POINT.match(text)
    if number is not None:
        _quantity(lambda given: parse_mass(given, signed=signed, zero=zero), text)
        raise refuse(f"{shown(text)} has no decimal point", f'write "{number[1]}.0{text[number.end() :]}"', "quantity")
    return Reading(text, _quantity(lambda given: parse_mass(given, signed=signed, zero=zero), text))


# ---- composition -------------------------------------------------------------------------------------------


def read_share(value: object) -> Fraction:
    """Return a share with its sign, ``"8.0%"`` or ``"0.3‰"``."""
    return _quantity(parse_share, _text(value, 'write the sign, between quotes: "8.0%" or "0.3‰"'))


@lru_cache(maxsize=4096)
def fineness_of(text: str) -> Fraction:
    """Return what `parse_fineness` does: texts come again, the same for many lots, and once more when posted."""
    return parse_fineness(text)


def _one_fineness(value: object) -> Fraction:
    return _quantity(fineness_of, _text(value, 'write it between quotes: "12K", "585‰" or "58.5%"'))


def read_fineness(value: object) -> str | dict[str, Fraction]:
    """Return a bare karat, mark or per mille as its text, once it reads; a map by metal as exact shares.

    A map whose shares sum to more than one is refused.
    """
    if type(value) is str:
        _one_fineness(value)
        return value
    shares = _by_metal(value, _one_fineness, '"12K" or {"gold": "585‰", "silver": "120‰"}')
    if sum(shares.values()) > 1:
        raise refuse("the metals together are more than the whole", "check the shares", "quantity")
    return shares


def read_fineness_by_metal(value: object) -> dict[str, Fraction]:
    """Return a map of exact shares by metal."""
    return _by_metal(value, _one_fineness, '{"gold": "585.2‰"}')


def read_content(value: object) -> dict[str, int]:
    """Return fine content by metal, nanograms; ``"0.0 g"`` says that there is none of it."""
    return _by_metal(value, lambda one: _mass(one, zero=True).ng, '{"gold": "12.3 g"}')


def read_dust(value: object) -> dict[str, int]:
    """Return recoverable dust by metal, nanograms, above zero."""
    return _by_metal(value, lambda one: read_mass(one).ng, '{"gold": "12.3 g"}')


def _by_metal(value: object, read: Callable[[Any], T], example: str) -> dict[str, T]:
    if type(value) is not dict or not value:
        given = "an empty one" if value == {} else shown(value)
        raise refuse(f"must be a map by metal, not {given}", f"write {example}")
    return {_metal(metal, example): _of(metal, read, one) for metal, one in value.items()}


def _metal(metal: object, example: str) -> str:
    if type(metal) is not str or not is_name(metal):
        raise refuse(f"{shown(metal)} is not the name of a metal", f"write {example}")
    return metal


def _of(metal: str, read: Callable[[Any], T], value: object) -> T:
    try:
        return read(value)
    except PydanticCustomError as error:
        context = error.context or {}
        raise refuse(f"{metal}: {context['what']}", context["mend"], error.type) from None


def read_results(value: object) -> dict[str, list[list[str]]]:
    """Return determinations by metal, then by sample, then replicate, as text: ``{"gold": [["499.8", "500.1"]]}``."""
    return _by_metal(value, _samples, '{"gold": [["499.8", "500.1"], ["499.6"]]}')


def _samples(value: object) -> list[list[str]]:
    mend = 'write a list of samples, each a list of determinations: [["499.8", "500.1"], ["499.6"]]'
    if type(value) is not list or not 0 < len(value) <= _LONGEST:
        raise refuse(f"must be a list of samples, not {shown(value)}", mend)
    for sample in value:
        if type(sample) is not list or not 0 < len(sample) <= _LONGEST:
            raise refuse(f"a sample must be a list of determinations, not {shown(sample)}", mend)
        for determination in sample:
            _one_fineness(determination)
    return value


def read_assays(value: object) -> dict[str, dict[str, Fraction]]:
    """Return the determinations behind a settlement: whose (ours, theirs, umpire), then by metal."""
    example = '{"ours": {"gold": "585.2‰"}, "theirs": {"gold": "584.9‰"}}'
    assays = _by_metal(value, read_fineness_by_metal, example)
    strange = [whose for whose in assays if whose not in ("ours", "theirs", "umpire")]
    if strange:
        raise refuse(f"{shown(strange[0])} is not a party to an assay: ours, theirs or umpire", f"write {example}")
    return assays


def read_standard(value: object) -> Reading | str | dict[str, Fraction]:
    """Return what a standard is certified to be: a check weight's mass, or a reference material's fineness."""
    if type(value) is not str:
        return read_fineness(value)
    try:
        fineness_of(value)
    except QuantityRefused:
        return read_mass(value)
    return value


# ---- names and times ---------------------------------------------------------------------------------------


def is_name(text: str) -> bool:
    """Return whether a text is 1–64 printable characters without a blank at either end."""
    return 0 < len(text) <= 64 and text.isprintable() and text[0] != " " != text[-1]


def read_at(value: object) -> str:
    """Return an ISO 8601 date and time of the years 1900–2199, as written; what it means is the calendar's to say."""
    mend = 'write plant time as "2026-10-05T14:30"'
    text = _text(value, mend)
    if _INSTANT.fullmatch(text) is None:
        raise refuse(f"{shown(text)} is not a date and time of the years 1900–2199", mend)
    try:
        datetime.fromisoformat(text)
    except ValueError:
        raise refuse(f"{shown(text)} is on no calendar or clock", mend) from None
    return text


def read_free_text(value: object) -> str:
    """Return a remark of 1–2000 characters; line ends and tabs are its only control characters."""
    text = _text(value, "write it between quotes")
    if not 0 < len(text) <= 2000 or not text.strip():
        raise refuse("must be 1–2000 characters of text", "write a sentence, or leave the field out")
    if not text.translate(_LINE_ENDS).isprintable():
        raise refuse("holds characters that cannot be printed", "leave control characters out")
    return text


_LINE_ENDS: Final = {ord(sign): " " for sign in "\t\r\n\u00a0\u202f"}
