"""Faults of the set-up, in words: from what pydantic found in one table to what a person has to mend."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import islice
from typing import Any, Final

from pydantic import BaseModel, ValidationError

from ledger.plant.forms import shown
from ledger.refusals import Fault, SetupRefused

#: Faults of one file that are told, at most; more are told once these are mended.
MOST_FAULTS: Final = 100


def take_faults(found: Iterable[Fault], faults: list[Fault]) -> bool:
    """Add what is found to ``faults``, as far as it is told; return whether there is room for more."""
    faults.extend(islice(found, max(0, MOST_FAULTS - len(faults))))
    return len(faults) < MOST_FAULTS


def fault(field: str, what: str, mend: str) -> Fault:
    """Return one fault of the set-up at a key such as ``area[2].tolerance``, entries counted from 1."""
    return Fault(SetupRefused.code, what, mend, field)


def faults_of(error: ValidationError, model: type[BaseModel], place: str, entry: str) -> Iterator[Fault]:
    """Yield each thing pydantic found wrong in the table at ``place``; ``entry`` names it, as ``area "BUFF"``."""
    for found in error.errors(include_url=False):
        loc = [part for part in found["loc"] if isinstance(part, str)]
        what, mend = _in_words(found["type"], found.get("ctx", {}), found["input"], model, loc)
        yield fault(".".join([place, *loc]), f"{entry}: {what}", mend)


def _in_words(
    kind: str, context: Mapping[str, Any], value: object, model: type[BaseModel], loc: list[str]
) -> tuple[str, str]:
    key = loc[-1] if loc else ""
    match kind:
        case "form":
            return context["what"], context["mend"]
        case "missing":
            return f"{key} is not given", f"add {key}"
        case "extra_forbidden":
            return f"nobody knows the key {shown(key)}", nearest(key, keys_of(model))
        case "literal_error":
            return f"{shown(value)} is not one of the values of {key}", f"one of {context['expected']}"
        case "bool_type":
            return f"{shown(value)} is neither true nor false", f"write {key} = true or {key} = false, without quotes"
        case "dict_type":
            return f"{shown(value)} is not by metal", f'write {key} = {{gold = "…"}}'
        case _:
            return f"{shown(value)} cannot be read", "see the reference of the set-up"


def keys_of(model: type[BaseModel]) -> list[str]:
    """Return the keys of a table as they are written."""
    return [info.alias or name for name, info in model.model_fields.items()]


def nearest(key: str, known: list[str]) -> str:
    """Return the mend for an unknown key: the one that was probably meant, or all that are known."""
    from difflib import get_close_matches  # only when something is wrong

    close = get_close_matches(key[:64], known, 1)
    return f"did you mean {close[0]}?" if close else "known are " + ", ".join(known)
