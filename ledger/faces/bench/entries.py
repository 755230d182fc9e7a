"""What one answer says: a lot and its mass on one line, whether all of it goes, and further ``name=value``."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Final

from ledger.book.intake.columns import is_column, known_columns
from ledger.quantities.mass import NG_PER_UNIT

_NAMED = re.compile(r"(?:^|(?<= ))([a-z_]+(?:\.[A-Za-z_]+)*)=")
_UNITS: Final = "|".join(sorted((*NG_PER_UNIT, "μg", "oz", "gr", "gm"), key=len, reverse=True))
_WEIGHED = re.compile(rf"(?:(.*) )?([0-9][0-9.,]* ?(?:{_UNITS})|[0-9]+\.[0-9]+)")
_GLUED = re.compile(rf"([0-9][0-9.,]*) ?({_UNITS})")
_WHETHER: Final = {"all": "true", "rest": ""}


@dataclass(slots=True)
class Entry:
    """One answer: its plain text, and the fields named in it."""

    text: str
    named: dict[str, str] = field(default_factory=dict)


def entry(answer: str) -> Entry:
    """Return an answer with its ``name=value`` taken out of it; what is no column's name stays text."""
    known = known_columns()
    marks = [mark for mark in _NAMED.finditer(answer) if mark[1] == "area" or is_column(mark[1], known)]
    if not marks:
        return Entry(answer)
    ends = [*(mark.start() for mark in marks[1:]), len(answer)]
    named = {mark[1]: _unquoted(answer[mark.end() : end].strip()) for mark, end in zip(marks, ends, strict=True)}
    return Entry(answer[: marks[0].start()].strip(), named)


def _unquoted(value: str) -> str:
    """Return a value without the quotes that stand around all of it, as a shell's habit has it."""
    quoted = len(value) > 1 and value[0] == value[-1] and value[0] in "'\""
    return value[1:-1] if quoted else value


@dataclass(frozen=True, slots=True)
class LineEntry:
    """A line in few words: ``AN-1012 3411.20 g all``. Parts that were not said are None."""

    lot: str | None
    mass: str | None
    all: str | None


def line_entry(text: str) -> LineEntry:
    """Return the lot, the mass and whether all of it goes, as far as a text says so."""
    said: str | None = None
    head, _, last = text.rpartition(" ")
    if last.lower() in _WHETHER:
        text, said = head, _WHETHER[last.lower()]
    match = _WEIGHED.fullmatch(text)
    if match is None:
        return LineEntry(text or None, None, said)
    return LineEntry(match[1], mass_entry(match[2]), said)


def mass_entry(text: str) -> str:
    """Return a mass with one blank before its unit; any other text as it is."""
    match = _GLUED.fullmatch(text)
    return f"{match[1]} {match[2]}" if match else text
