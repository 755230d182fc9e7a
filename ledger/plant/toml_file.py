"""A set-up, or a change of one, from a TOML file; faults come back with file and line."""

from __future__ import annotations

import re
import tomllib
from dataclasses import replace
from decimal import Decimal
from functools import lru_cache
from pathlib import Path
from typing import Any

from ledger.plant.given_file import DEEPEST, refuse_boundless, text_of
from ledger.plant.reading import plain
from ledger.plant.setup import Setup
from ledger.refusals import Fault, SetupRefused

_FIELD = re.compile(r"(\w+)(?:\[(\d+)\])?(?:\.(.+))?")
_HEADER = re.compile(r"\[\[?([^\[\]]+)\]\]?\s*(?:#.*)?")
_QUOTED = re.compile(r"""\"(?:[^"\\\n]|\\.)*+\"|'[^'\n]*+'""")
#: A key of too many parts, ``a.b.c. …``: the parser takes as long as the square of their number.
_DEEP_KEY = re.compile(r'(?<![\w"-])(?:(?:[\w-]++|"")[ \t]*+\.[ \t]*+)' + f"{{{DEEPEST}}}")
#: Characters of a key that is looked for, at most: no key that is known comes near.
_LONGEST_FIELD = 200
_TOO_DEEP = ("the file is nested too deep", "write it flat")
_WHERE = re.compile(r"(.*) \(at (?:line (\d+), column \d+|end of document)\)", re.DOTALL)


def read_setup(path: Path | str) -> Setup:
    """Return the set-up of a file; raises SetupRefused with every fault, each with file, line, key and mend."""
    return parse_setup(text_of(Path(path), SetupRefused), str(path))


def parse_setup(text: str, file: str = "plant.toml") -> Setup:
    """Return the set-up of a TOML text; raises SetupRefused with every fault, each with file, line, key and mend."""
    document = _toml(text, file)
    try:
        return Setup.from_document(document)
    except SetupRefused as refusal:
        raise SetupRefused([located(fault, text, file) for fault in refusal.faults]) from None


def read_change(path: Path | str) -> dict[str, Any]:
    """Return the document of a file that changes a set-up, for ``apply_change``; raises SetupRefused."""
    return parse_change(text_of(Path(path), SetupRefused), str(path))


def parse_change(text: str, file: str = "change.toml") -> dict[str, Any]:
    """Return the document of a TOML text that changes a set-up, in JSON's types; raises SetupRefused."""
    document: dict[str, Any] = plain(_toml(text, file))
    return document


def _toml(text: str, file: str) -> dict[str, Any]:
    def refused(what: str, mend: str) -> SetupRefused:
        return SetupRefused([Fault(SetupRefused.code, what, mend, file=file)])

    if _DEEP_KEY.search(_QUOTED.sub('""', text)):
        raise refused(*_TOO_DEEP)
    try:
        document = tomllib.loads(text, parse_float=Decimal)
    except RecursionError:
        raise refused(*_TOO_DEEP) from None
    except ArithmeticError:
        raise refused("a number is beyond all bounds", "write what was meant") from None
    except ValueError as error:
        raise SetupRefused([_unread(str(error), file)]) from None
    refuse_boundless(document, refused)
    return document


def _unread(said: str, file: str) -> Fault:
    """Return what the parser could not read as a fault, with the line where it says one."""
    if said.startswith("Exceeds the limit"):
        said = "a whole number is too large"
    match = _WHERE.fullmatch(said)
    what, line = (match.group(1), match.group(2)) if match else (said, None)
    mend = "text goes in quotes, a date and time needs its seconds, and no key comes twice"
    return Fault(SetupRefused.code, f"not TOML: {what}", mend, file=file, line=int(line or 0))


def located(fault: Fault, text: str, file: str) -> Fault:
    """Return the fault with the file, and the line on which its key stands where that can be told."""
    return replace(fault, file=file, line=line_of(fault.field, text))


def line_of(field: str, text: str) -> int:
    """Return the line, from 1, of a key such as ``area[2].tolerance``; of its table where it is not there; or 0."""
    match = _FIELD.fullmatch(field) if len(field) <= _LONGEST_FIELD else None
    if match is None:
        return 0
    table, number, key = match.group(1), int(match.group(2) or 1), match.group(3)
    lines, headers = _read(text)
    starts = [line for line, name in headers if name == table]
    if len(starts) < number:
        return _setting(lines, 0, len(lines), table)
    start = starts[number - 1]
    end = next((line for line, name in headers if line > start and not name.startswith(f"{table}.")), len(lines) + 1)
    return (_setting(lines, start, end - 1, key.split(".")[0]) if key else 0) or start


@lru_cache(maxsize=1)
def _read(text: str) -> tuple[list[str], list[tuple[int, str]]]:
    """Return the lines of a text, and its headers by line: once for all its faults."""
    lines = text.split("\n")
    return lines, [(line, name) for line, content in enumerate(lines, 1) if (name := _header(content))]


def _header(content: str) -> str:
    match = _HEADER.fullmatch(content.strip()) if "[" in content else None
    return match.group(1).strip().replace('"', "") if match else ""


def _setting(lines: list[str], after: int, last: int, key: str) -> int:
    """Return the first line in (after, last] that sets ``key``, as a value or as a table of its own; 0 for none."""
    sets = re.compile(rf"\s*\"?{re.escape(key)}\"?\s*[=.].*|\s*\[[^\]]*\.{re.escape(key)}\].*", re.DOTALL)
    return next((n for n in range(after + 1, last + 1) if key in lines[n - 1] and sets.fullmatch(lines[n - 1])), 0)
