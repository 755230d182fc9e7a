"""How a value is written in the set-up, and what exact value it stands for.

A form reads JSON's types: text, whole numbers, true and false. The decimals and dates of a TOML file come as their
text, just as the book keeps them. A float is never a value.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, time
from fractions import Fraction
from typing import Annotated, Final, TypeVar

from pydantic import BaseModel, ConfigDict, PlainValidator
from pydantic_core import PydanticCustomError

from ledger.quantities.fineness import parse_fineness, parse_fraction_mark, parse_share
from ledger.quantities.mass import parse_mass
from ledger.refusals import QuantityRefused

FIRST_YEAR: Final = 1900
LAST_YEAR: Final = 2199

_T = TypeVar("_T")
_LONGEST_NAME: Final = 64
_LONGEST_TEXT: Final = 500
_DECIMAL = re.compile(r"\d{1,15}(?:\.\d{1,15})?", re.ASCII)
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_CLOCK = re.compile(r"([01]\d|2[0-3]):([0-5]\d)(?::00)?", re.ASCII)
_DAYS = re.compile(r"([1-9]\d{0,4}) ?d", re.ASCII)


class Entry(BaseModel):
    """One table of the set-up: never changed once read, and without keys that nobody knows."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)


@dataclass(frozen=True, slots=True)
class Form:
    """How a value is written, in words, for the reference; ``unit`` is the unit of what is kept, if it has one."""

    written: str
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Tolerance:
    """A set tolerance: a mass in nanograms, or a share of what the area newly received. Exactly one is stated."""

    mass_ng: int | None = None
    share: Fraction | None = None

    def limit_ng(self, newly_received_ng: int) -> Fraction:
        """Return the tolerance, exact, in nanograms, for an area that newly received so much."""
        return Fraction(self.mass_ng) if self.mass_ng is not None else (self.share or 0) * Fraction(newly_received_ng)


def refused(what: str, mend: str) -> PydanticCustomError:
    """Return the error by which a form or a table says what is wrong, and the mend."""
    return PydanticCustomError("form", "{what}", {"what": what, "mend": mend})


def shown(value: object) -> str:
    """Return a value of the set-up as a person would write it, cut when long."""
    if isinstance(value, bool):
        return str(value).lower()
    text = repr(value) if isinstance(value, str) else str(value)
    return text if len(text) <= 60 else text[:60] + "…"


def _quoted(value: object, mend: str) -> str:
    if not isinstance(value, str):
        raise refused(f"{shown(value)} is not a text in quotes", mend)
    return value


def _quantity(read: Callable[[str], _T], mend: str) -> Callable[[object], _T]:
    """Return ``read`` as a form: refuses what is not a text, and passes the refusal of a quantity on."""

    def form(value: object) -> _T:
        try:
            return read(_quoted(value, mend))
        except QuantityRefused as refusal:
            fault = refusal.faults[0]
            raise refused(fault.what, fault.mend) from None

    return form


def _printable(longest: int) -> Callable[[object], str]:
    mend = f"write 1 to {longest} printable characters in quotes, without a space at either end"

    def form(value: object) -> str:
        text = _quoted(value, mend)
        if not 0 < len(text) <= longest or not text.isprintable() or text != text.strip():
            raise refused(f"{shown(text)} has no or too many characters, or some that cannot be printed", mend)
        return text

    return form


def read_number(value: object) -> Fraction:
    """Return the exact value of a positive plain number: a whole one, or the text of a decimal."""
    text = str(value) if isinstance(value, int) and not isinstance(value, bool) else value
    if not isinstance(text, str) or _DECIMAL.fullmatch(text) is None or not Fraction(text):
        raise refused(f"{shown(value)} is not a number above zero", "write a plain number such as 3 or 13.33")
    return Fraction(text)


def read_day(value: object) -> date:
    """Return the day written ``2026-10-31``; years 1900–2199."""
    day = _day_of_text(value) if isinstance(value, str) else None
    if day is None or not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise refused(f"{shown(value)} is not a day", f"write 2026-10-31; years {FIRST_YEAR} to {LAST_YEAR}")
    return day


def _day_of_text(text: str) -> date | None:
    try:
        return date.fromisoformat(text) if _DAY.fullmatch(text) else None
    except ValueError:
        return None


def _read_clock(value: object) -> time:
    match = _CLOCK.fullmatch(value) if isinstance(value, str) else None
    if match is None:
        raise refused(f"{shown(value)} is not a time of day", 'write hours and minutes: "06:00"')
    return time(int(match.group(1)), int(match.group(2)))


def _read_days(value: object) -> int:
    match = _DAYS.fullmatch(value) if isinstance(value, str) else None
    if match is None:
        raise refused(f"{shown(value)} is not a number of days", 'write days: "365 d"')
    return int(match.group(1))


def _read_tolerance(text: str) -> Tolerance:
    if text.endswith(("%", "‰")):
        return Tolerance(share=parse_share(text))
    return Tolerance(mass_ng=parse_mass(text, zero=True))


def _read_fineness(text: str) -> Fraction:
    if text.startswith("1/"):
        raise QuantityRefused(f"{shown(text)} is a clad mark, not the fineness of an alloy", "enter it under [[clad]]")
    return parse_fineness(text)


def _read_mark(text: str) -> str:
    parse_fraction_mark(text)
    return text


Name = Annotated[str, PlainValidator(_printable(_LONGEST_NAME)), Form("text, 1–64 printable characters")]
Text = Annotated[str, PlainValidator(_printable(_LONGEST_TEXT)), Form("text, 1–500 printable characters")]
Number = Annotated[Fraction, PlainValidator(read_number), Form("number above zero, `3` or `13.33`")]
Share = Annotated[
    Fraction, PlainValidator(_quantity(parse_share, 'write "0.10%" or "1‰"')), Form('share, `"0.10%"` or `"1‰"`')
]
Fineness = Annotated[
    Fraction,
    PlainValidator(_quantity(_read_fineness, 'write "14K", "585‰" or "58.5%"')),
    Form('fineness, `"14K"`, `"585‰"` or `"58.5%"`'),
]
Mass = Annotated[
    int, PlainValidator(_quantity(parse_mass, 'write "0.01 g"')), Form('mass above zero, `"0.01 g"`', "ng")
]
MassOrNone = Annotated[
    int,
    PlainValidator(_quantity(lambda text: parse_mass(text, zero=True), 'write "0.02 g"')),
    Form('mass, `"0.02 g"`; zero allowed', "ng"),
]
ToleranceForm = Annotated[
    Tolerance,
    PlainValidator(_quantity(_read_tolerance, 'write a mass, "3 g", or a share, "0.2%"')),
    Form('mass `"3 g"`, or share `"0.2%"` of what the area newly received'),
]
Mark = Annotated[str, PlainValidator(_quantity(_read_mark, 'write "1/20 12K"')), Form('clad mark, `"1/20 12K"`')]
Day = Annotated[date, PlainValidator(read_day), Form("date, `2026-10-31`")]
Clock = Annotated[time, PlainValidator(_read_clock), Form('time of day, `"06:00"`')]
Days = Annotated[int, PlainValidator(_read_days), Form('whole days, `"365 d"`', "d")]
