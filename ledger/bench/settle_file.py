"""An out-turn, or a lot of sweeps, from a TOML or JSON file; faults come back with file and line."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any, TypeVar

from ledger.plant.given_file import no_number, once_each, refuse_boundless, text_of
from ledger.plant.reading import plain
from ledger.plant.toml_file import line_of, parse_change
from ledger.refusals import Fault, FormRefused, Refused

_T = TypeVar("_T")


def read_file(path: Path, read: Callable[[Mapping[str, Any]], _T]) -> _T:
    """Return what ``read`` makes of a file's document in JSON's types; raises FormRefused, each fault with its place.

    A file is TOML unless its name ends in ``.json``. Decimals are kept as their text: no float is ever made.
    """
    text = text_of(path, FormRefused)
    toml = path.suffix.lower() != ".json"
    try:
        document = parse_change(text, str(path)) if toml else _json(text)
        return read(document)
    except Refused as refused:
        raise FormRefused([_placed(fault, path, text if toml else "") for fault in refused.faults]) from None


def _placed(fault: Fault, path: Path, text: str) -> Fault:
    line = fault.line or (line_of(fault.field, text) if text and fault.field else 0)
    return replace(fault, code=FormRefused.code, file=str(path), line=line)


def _json(text: str) -> dict[str, Any]:
    try:
        document = _decode(text)
    except RecursionError:
        raise FormRefused("the file is nested too deep", "write it flat") from None
    except ArithmeticError:
        raise FormRefused("a number is beyond all bounds", "write what was meant") from None
    except ValueError as error:
        raise FormRefused([_unread(error)]) from None
    if not isinstance(document, dict):
        raise FormRefused("the document is not an object", "write { party, … } as an object")
    refuse_boundless(document, FormRefused)
    found: dict[str, Any] = plain(document)
    return found


def _unread(error: ValueError) -> Fault:
    said = str(getattr(error, "msg", error))
    what = "a whole number is too large" if said.startswith("Exceeds the limit") else said
    mend = "text goes in quotes, a comma stands between two entries, and no key comes twice"
    return Fault(FormRefused.code, f"not JSON: {what}", mend, line=getattr(error, "lineno", 0))


_decode = json.JSONDecoder(object_pairs_hook=once_each, parse_float=Decimal, parse_constant=no_number).decode
