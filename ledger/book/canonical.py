"""One form of a document, so that it has one hash: canonical JSON after RFC 8785, and SHA-256 over it (FIPS 180-4).

Objects, arrays, strings, booleans, null, and integers within ±(2⁵³ − 1) only: a float has no place in a book, and
RFC 8785 (section 3.2.2.3) writes an integer beyond that as a float. Raises FormRefused for anything else.
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection
from json import JSONEncoder
from typing import Any, Final

from ledger.refusals import FormRefused

LARGEST_INTEGER: Final = 2**53 - 1

_encode = JSONEncoder(ensure_ascii=False, check_circular=False, sort_keys=True, separators=(",", ":")).encode


def canonical_json(value: Any) -> bytes:
    """Return the canonical form of a JSON value, in UTF-8."""
    try:
        _check(value)
        text = _encode(value)
        if not text.isascii() and max(text) >= "\ue000":
            text = _encode_unsorted(_sorted(value))
        return text.encode()
    except RecursionError:
        raise FormRefused("is nested too deeply", "a ticket nests five levels at most") from None
    except UnicodeEncodeError:
        raise FormRefused("holds half a character (a lone surrogate)", "write the whole character") from None


def digest(data: bytes) -> bytes:
    """Return the SHA-256 of some bytes, 32 of them."""
    return hashlib.sha256(data).digest()


def ticket_hash(document: dict[str, Any]) -> bytes:
    """Return the hash of a ticket: SHA-256 over its canonical JSON alone."""
    return hashlib.sha256(canonical_json(document)).digest()


_KEYS: Final = frozenset((str,))
_PLAIN: Final = frozenset((str, bool, type(None)))


def _check(value: Any) -> None:
    kind = type(value)
    if kind is dict:
        if not _KEYS.issuperset(map(type, value)):
            raise FormRefused("the name of a field must be text", "write it between quotes")
        _check_all(value.values())
    elif kind is list:
        _check_all(value)
    elif kind is int:
        if not -LARGEST_INTEGER <= value <= LARGEST_INTEGER:
            raise FormRefused("a whole number is too large to be kept exactly", "write it as text")
    elif kind not in _PLAIN:
        raise FormRefused(f"a {kind.__name__} has no place in a ticket", "write decimal numbers as text")


def _check_all(values: Collection[Any]) -> None:
    if not _PLAIN.issuperset(map(type, values)):
        for value in values:
            if type(value) not in _PLAIN:
                _check(value)


# ---- the slow path: code points order as UTF-16 does, but for those that follow the surrogates -------------------

_encode_unsorted = JSONEncoder(ensure_ascii=False, check_circular=False, separators=(",", ":")).encode


def _sorted(value: Any) -> Any:
    """Return the value with its keys in order of their UTF-16 code units (RFC 8785, section 3.2.3)."""
    if type(value) is dict:
        return {key: _sorted(value[key]) for key in sorted(value, key=_code_units)}
    return [_sorted(one) for one in value] if type(value) is list else value


def _code_units(key: str) -> bytes:
    return key.encode("utf-16-be")
