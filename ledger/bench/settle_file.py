"""An out-turn, or a lot of sweeps, from a TOML or JSON file; faults come back with file and line."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any, TypeVar

from ledger.plant.reading import plain
from ledger.plant.toml_file import line_of, parse_change
from ledger.refusals import Fault, FormRefused, Refused

_T = TypeVar("_T")


def read_file(path: Path, read: Callable[[Mapping[str, Any]], _T]) -> _T:
    """Return what ``read`` makes of a file's document in JSON's types; raises FormRefused, each fault with its place.

    A file is TOML unless its name ends in ``.json``. Decimals are kept as their text: no float is ever made.
    """
    text = _text_of(path)
    toml = path.suffix.lower() != ".json"
    try:
        document = parse_change(text, str(path)) if toml else _json(text, path)
        return read(document)
    except Refused as refused:
        raise FormRefused([_placed(fault, path, text if toml else "") for fault in refused.faults]) from None


def _placed(fault: Fault, path: Path, text: str) -> Fault:
    line = fault.line or (line_of(fault.field, text) if text and fault.field else 0)
    return replace(fault, code=FormRefused.code, file=str(path), line=line)


def _text_of(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        fault = Fault(FormRefused.code, "the file is not in UTF-8", "save it as UTF-8 text", file=str(path))
    except OSError as error:
        what = f"the file cannot be read: {error.strerror or error}"
        fault = Fault(FormRefused.code, what, "check the path and the permissions", file=str(path))
    raise FormRefused([fault])


def _json(text: str, path: Path) -> dict[str, Any]:
    try:
        document = json.loads(text, parse_float=Decimal)
    except (ValueError, RecursionError) as error:
        line = getattr(error, "lineno", 0)
        raise FormRefused([Fault(FormRefused.code, f"not JSON: {getattr(error, 'msg', error)}",
                                 "text goes in quotes, and a comma stands between two entries", line=line)]) from None
    if not isinstance(document, dict):
        raise FormRefused("the document is not an object", "write { party, … } as an object")
    found: dict[str, Any] = plain(document)
    return found
