"""A set-up, or a change of one, from a TOML file; faults come back with file and line."""

from __future__ import annotations

import re
import tomllib
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

from ledger.plant.reading import plain
from ledger.plant.setup import Setup
from ledger.refusals import Fault, SetupRefused

_FIELD = re.compile(r"(\w+)(?:\[(\d+)\])?(?:\.(.+))?")
_HEADER = re.compile(r"\s*\[\[?\s*([^\[\]]+?)\s*\]\]?\s*(?:#.*)?")
_WHERE = re.compile(r"(.*) \(at (?:line (\d+), column \d+|end of document)\)", re.DOTALL)


def read_setup(path: Path | str) -> Setup:
    """Return the set-up of a file; raises SetupRefused with every fault, each with file, line, key and mend."""
    return parse_setup(_text_of(Path(path)), str(path))


def parse_setup(text: str, file: str = "plant.toml") -> Setup:
    """Return the set-up of a TOML text; raises SetupRefused with every fault, each with file, line, key and mend."""
    document = _toml(text, file)
    try:
        return Setup.from_document(document)
    except SetupRefused as refusal:
        raise SetupRefused([located(fault, text, file) for fault in refusal.faults]) from None


def read_change(path: Path | str) -> dict[str, Any]:
    """Return the document of a file that changes a set-up, for ``apply_change``; raises SetupRefused."""
    return parse_change(_text_of(Path(path)), str(path))


def parse_change(text: str, file: str = "change.toml") -> dict[str, Any]:
    """Return the document of a TOML text that changes a set-up, in JSON's types; raises SetupRefused."""
    document: dict[str, Any] = plain(_toml(text, file))
    return document


def _text_of(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        fault = Fault(SetupRefused.code, "the file is not in UTF-8", "save it as UTF-8 text", file=str(path))
    except OSError as error:
        what = f"the file cannot be read: {error.strerror or error}"
        fault = Fault(SetupRefused.code, what, "check the path and the permissions", file=str(path))
    raise SetupRefused([fault])


def _toml(text: str, file: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text, parse_float=Decimal)
    except RecursionError:
        fault = Fault(SetupRefused.code, "the file is nested too deep", "write it flat", file=file)
        raise SetupRefused([fault]) from None
    except ValueError as error:
        match = _WHERE.fullmatch(str(error))
        what, line = (match.group(1), match.group(2)) if match else (str(error), None)
        mend = "text goes in quotes, a date and time needs its seconds, and no key comes twice"
        fault = Fault(SetupRefused.code, f"not TOML: {what}", mend, file=file, line=int(line or 0))
        raise SetupRefused([fault]) from None


def located(fault: Fault, text: str, file: str) -> Fault:
    """Return the fault with the file, and the line on which its key stands where that can be told."""
    return replace(fault, file=file, line=line_of(fault.field, text))


def line_of(field: str, text: str) -> int:
    """Return the line, from 1, of a key such as ``area[2].tolerance``; of its table where it is not there; or 0."""
    match = _FIELD.fullmatch(field)
    if match is None:
        return 0
    table, number, key = match.group(1), int(match.group(2) or 1), match.group(3)
    lines = text.split("\n")
    headers = [(line, name) for line, content in enumerate(lines, 1) if (name := _header(content))]
    starts = [line for line, name in headers if name == table]
    if len(starts) < number:
        return _setting(lines, 0, len(lines), table)
    start = starts[number - 1]
    end = next((line for line, name in headers if line > start and not name.startswith(f"{table}.")), len(lines) + 1)
    return (_setting(lines, start, end - 1, key.split(".")[0]) if key else 0) or start


def _header(content: str) -> str:
    match = _HEADER.fullmatch(content)
    return match.group(1).replace('"', "") if match else ""


def _setting(lines: list[str], after: int, last: int, key: str) -> int:
    """Return the first line in (after, last] that sets ``key``, as a value or as a table of its own; 0 for none."""
    sets = re.compile(rf"\s*\"?{re.escape(key)}\"?\s*[=.].*|\s*\[[^\]]*\.{re.escape(key)}\].*", re.DOTALL)
    return next((line for line in range(after + 1, last + 1) if sets.fullmatch(lines[line - 1])), 0)
