"""The reference of tickets, written from the models, so that it cannot drift from them."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from types import UnionType
from typing import Any, Final, Literal, Union, get_args, get_origin

from pydantic import PlainValidator, StringConstraints
from pydantic.fields import FieldInfo

from ledger.book.tickets import KINDS, PartyBalance, readings
from ledger.book.tickets.common import TicketBase
from ledger.book.tickets.examples import EXAMPLES
from ledger.book.tickets.lines import LINE_FIELDS, Role

_READ_AS: Final[dict[Callable[..., Any], str]] = {
    readings.read_mass: "mass",
    readings.read_mass_or_nothing: "mass, or nothing",
    readings.read_signed_mass: "mass, signed",
    readings.read_share: "share",
    readings.read_fineness: "fineness",
    readings.read_content: "content by metal",
    readings.read_dust: "content by metal",
    readings.read_results: "results by metal",
    readings.read_assays: "finenesses by metal",
    readings.read_standard: "mass or fineness",
    readings.read_at: "date and time",
    readings.read_free_text: "text",
}
_HEAD: Final = """# Tickets

*Generated from the models; do not edit. The plant, parties and people of the examples are invented.*

A ticket is one JSON object, one a line; or rows of a table, CSV or XLSX (`lemel enter --template KIND` makes one).
Unknown fields are refused, and so are fields that are null: leave out what is not known.

%s

In a table a map has a column for each key (`fineness.gold`, `conditions.temperature`, `assays.ours.gold`); results
separate samples by `/` and determinations by a blank (`499.8 500.1 / 499.6`); several names in one cell are separated
by `|`; `side` says in or out for work, lots or parties for open.
"""

_WRITTEN: Final = (
    (
        "mass",
        "text: a decimal number, with its point, and a unit: ng, µg, mg, g, kg, t, grain, dwt, ozt, ozav, lb",
        '`"1250.42 g"`',
    ),
    ("mass, signed", "the same, with a leading minus where it is a gain, or owed by us", '`"-0.35 g"`'),
    ("share", "text with its sign", '`"8.0%"`, `"0.3‰"`'),
    (
        "fineness",
        "karat, per mille (bare from 333 to 1000, and 0), per cent, a clad mark; or a map of these by metal",
        '`"12K"`, `{"gold": "585‰", "silver": "0"}`',
    ),
    ("content by metal", 'a map of masses; `"0.0 g"` says there is none', '`{"gold": "12.3 g"}`'),
    (
        "results by metal",
        "a map; for each metal a list of samples, each a list of determinations",
        '`{"gold": [["499.8", "500.1"], ["499.6"]]}`',
    ),
    ("name", "1–64 printable characters, no blank at either end", '`"VAULT"`'),
    (
        "ticket number",
        "a name: a prefix that ends in no digit, then a counter; then, where the plant prints one, its check character",
        '`"M-000123"`, `"M-000123-K"`',
    ),
    ("date and time", "ISO 8601, plant time, seconds optional, years 1900–2199", '`"2026-10-05T14:30"`'),
    ("text", "1–2000 characters", '`"form torn in the printer"`'),
    ("true or false", "without quotes", "`true`"),
)


def reference() -> str:
    """Return the whole page, Markdown."""
    written = _rows(("written as", "is", "for example"), _WRITTEN)
    parts = [_HEAD % written, "## Every ticket\n", _table(_own(TicketBase))]
    parts += [_kind(kind, model) for kind, model in KINDS.items()]
    parts += ["\n## Every field of a line\n", _table(LINE_FIELDS.items()), "\n" + _LINE_RULES]
    return "\n".join(parts)


_LINE_RULES: Final = """A line names a lot or a bin, not both. It is weighed by `mass`, or by `gross` with `tare` or
`container`. Where it may carry `all`, it need not be weighed: `all` alone, or an intact `seal`, moves what is recorded.
Its composition is stated once: `alloy`, `clad`, `fineness` or `content`. `moisture` excludes `metallic`.
"""


def _kind(kind: str, model: type[TicketBase]) -> str:
    own = [(name, field) for name, field in _own(model) if name == "kind" or name not in dict(_own(TicketBase))]
    parts = [f"\n## {kind}\n", model.purpose + "\n", _table((n, f) for n, f in own if n != "kind")]
    parts += [_line_fields(name, role) for name, role in model.roles.items()]
    if kind == "open":
        parts.append("\nA line of `parties`:\n\n" + _table(PartyBalance.model_fields.items()))
    example = next(example for example in EXAMPLES if example["kind"] == kind)
    parts.append("\n```json\n" + json.dumps(example, ensure_ascii=False) + "\n```")
    return "\n".join(parts)


def _own(model: type[TicketBase]) -> list[tuple[str, FieldInfo]]:
    return [(field.alias or name, field) for name, field in model.model_fields.items()]


def _line_fields(name: str, role: Role) -> str:
    may = ", ".join(f"`{field}`" for field in LINE_FIELDS if field in role.fields)
    must = ", ".join(f"`{field}`" for field in role.required)
    return f"\nA line of `{name}` may carry {may}" + (f"; it must carry {must}." if must else ".")


def _table(fields: Iterable[tuple[str, FieldInfo]]) -> str:
    rows = ((f"`{name}`", _takes(field), _needed(field), str(field.description)) for name, field in fields)
    return _rows(("field", "takes", "", "meaning"), rows)


def _rows(head: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> str:
    return "\n".join("| " + " | ".join(row) + " |" for row in (head, ("---",) * len(head), *rows))


def _needed(field: FieldInfo) -> str:
    if field.is_required():
        return "required"
    if isinstance(field.default, bool | str):
        return f"else {json.dumps(field.default)}"
    return ""


def _takes(field: FieldInfo) -> str:
    return _by_metadata(field.metadata) or _by_type(field.annotation)


def _by_metadata(metadata: Iterable[Any]) -> str:
    for one in metadata:
        if isinstance(one, PlainValidator):
            return _READ_AS[one.func]
        pattern = getattr(one, "pattern", None)
        if isinstance(one, StringConstraints) or isinstance(pattern, str):
            return "ticket number" if "[0-9]{1,18}" in str(pattern) else "name"
    return ""


def _by_type(annotation: Any) -> str:
    origin, arguments = get_origin(annotation), get_args(annotation)
    if origin in (Union, UnionType):
        return _by_type(next(one for one in arguments if one is not type(None)))
    if origin is Literal:
        return ", ".join(arguments)
    if origin is list:
        inner = _by_type(arguments[0])
        return "lines" if inner == "object" else f"list of {inner}s"
    if origin is dict:
        return "map of names"
    if hasattr(annotation, "__metadata__"):
        return _by_metadata(annotation.__metadata__) or _by_type(arguments[0])
    return {bool: "true or false", int: "whole number"}.get(annotation, "object")
