"""What the models refuse, in the words of the plant: field path, what is wrong, how to mend it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from pydantic import ValidationError

from ledger.book.tickets.common import Contradiction
from ledger.book.tickets.readings import shown

_NAME_MEND = "write 1–64 printable characters, without a blank at either end"
_BY_TYPE = {
    "string_type": ("must be text, not {shown}", "write it between quotes"),
    "bool_type": ("must be true or false, not {shown}", "write true or false, without quotes"),
    "int_type": ("must be a whole number, not {shown}", "write it without quotes and without a point"),
    "list_type": ("must be a list, not {shown}", "write it between [ and ]"),
    "dict_type": ("must be an object, not {shown}", "write it between { and }"),
    "model_type": ("must be an object, not {shown}", "write it between { and }"),
    "model_attributes_type": ("must be an object, not {shown}", "write it between { and }"),
    "string_too_long": ("{shown} is too long", _NAME_MEND),
    "string_pattern_mismatch": ("{shown} is not a name or number", _NAME_MEND),
    "string_unicode": ("holds characters that cannot be printed", _NAME_MEND),
    "too_short": ("must not be empty", "give at least one"),
    "greater_than_equal": ("must be at least 1, not {shown}", "count the pieces, or leave the field out"),
    "less_than_equal": ("{shown} is too many", "count the pieces again"),
}


#: Steps of a location that say which model was tried, not where in the document.
_NO_PLACE = frozenset(("‹own›", "‹party›", "[key]"))


def faults_of(error: ValidationError, fields: Iterable[str]) -> list[Contradiction]:
    """Return every fault of a validation error, worded; ``fields`` are the names known, to propose one for a slip."""
    known = tuple(fields)
    return [_worded(one, known) for one in error.errors(include_url=False)]


def _worded(error: Any, known: tuple[str, ...]) -> Contradiction:
    kind, value = error["type"], error["input"]
    path = path_of(error["loc"])
    if kind in ("form", "quantity"):
        return Contradiction(path, error["ctx"]["what"], error["ctx"]["mend"])
    if kind == "missing":
        return Contradiction(path, "is missing", f"give {path.rpartition('.')[2]}")
    if kind == "extra_forbidden":
        return Contradiction(path, "is not a known field", _like(str(error["loc"][-1]), known))
    if kind == "literal_error":
        return Contradiction(path, f"{shown(value)} is not one of its values", f"write {error['ctx']['expected']}")
    if kind == "string_pattern_mismatch" and "[0-9]{1,18}" in error["ctx"]["pattern"]:
        return Contradiction(path, f"{shown(value)} is not a ticket number", 'write a prefix and a counter: "M-000123"')
    what, mend = _BY_TYPE.get(kind, ("{shown} cannot stand here", "see the reference of tickets"))
    return Contradiction(path, what.replace("{shown}", shown(value)), mend)


def path_of(location: Iterable[Any]) -> str:
    """Return a place in a document as people write it: ``lots[2].mass``."""
    path = ""
    for step in location:
        if isinstance(step, int):
            path += f"[{step}]"
        elif step not in _NO_PLACE:
            name = step if isinstance(step, str) and step.isprintable() and len(step) <= 64 else shown(step)
            path += f".{name}" if path else name
    return path


def _like(name: str, known: tuple[str, ...]) -> str:
    from difflib import get_close_matches  # only when something is wrong: it would slow every start

    if name == "keyed_by":
        return "leave it out: who keyed the ticket and when is recorded by the program"
    near = get_close_matches(name[:64], known, 1)
    return f"did you mean {near[0]}?" if near else "leave it out"
