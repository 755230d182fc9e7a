"""A set-up document as TOML text: what `lemel setup show` prints and `lemel new --plant` reads."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from typing import Any

from ledger.plant.reading import TABLES

#: Keys that say what an entry is; they stand first, in the order of the document.
_LEADING = frozenset(("code", "name", "operation", "metal"))

_BARE = re.compile(r"[A-Za-z0-9_-]+")


def toml_lines(document: Mapping[str, Any]) -> Iterator[str]:
    """Yield a set-up document as lines of TOML: [plant], then one table for each entry, in order."""
    for table in sorted(document, key=_place):
        value = document[table]
        heads = [(f"[[{table}]]", entry) for entry in value] if isinstance(value, list) else [(f"[{table}]", value)]
        for head, entry in heads:
            yield head
            yield from (f"{_key(key)} = {_value(one)}" for key, one in sorted(entry.items(), key=_first))
            yield ""


def _place(table: str) -> int:
    order = ("plant", *TABLES)
    return order.index(table) if table in order else len(order)


def _first(item: tuple[str, Any]) -> tuple[bool, str]:
    return item[0] not in _LEADING, "" if item[0] in _LEADING else item[0]


def _key(key: str) -> str:
    return key if _BARE.fullmatch(key) else _string(key)


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _string(value)
    if isinstance(value, list):
        return f"[{', '.join(map(_value, value))}]"
    if isinstance(value, dict):
        return f"{{ {', '.join(f'{_key(k)} = {_value(v)}' for k, v in value.items())} }}"
    return str(value)


def _string(text: str) -> str:
    """Return a basic string: JSON's escapes are all TOML's, but for DEL, which TOML wants escaped."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
