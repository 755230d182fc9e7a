"""Canonical JSON and the ticket's hash, against RFC 8785, a reference library, and FIPS 180-4."""

from __future__ import annotations

import hashlib
import json
import sys

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from ledger.book.canonical import LARGEST_INTEGER, canonical_json, digest, ticket_hash
from ledger.refusals import FormRefused

texts = st.text(st.characters(exclude_categories=["Cs"]))
values = st.recursive(
    st.none() | st.booleans() | st.integers(-LARGEST_INTEGER, LARGEST_INTEGER) | texts,
    lambda inner: st.lists(inner) | st.dictionaries(texts, inner),
    max_leaves=30,
)


@given(values)
def test_the_same_bytes_as_the_reference_library(value: object) -> None:
    """Reference library: rfc8785 (from the registry)."""
    assert canonical_json(value) == rfc8785.dumps(value)  # type: ignore[arg-type]


def test_keys_sort_by_utf16_code_unit() -> None:
    """The sorting example of RFC 8785, section 3.2.3 (its keys and values from memory; agrees with rfc8785)."""
    document = {"\u20ac": "Euro Sign", "\r": "Carriage Return", "\ufb33": "Hebrew", "1": "One", "\U0001f600": "Emoji",
                "\u0080": "Control", "\u00f6": "Latin Small Letter O With Diaeresis"}  # fmt: skip
    order = list(json.loads(canonical_json(document)))
    assert order == ["\r", "1", "\u0080", "\u00f6", "\u20ac", "\U0001f600", "\ufb33"]
    assert order != sorted(document)  # by code point the last two change places


def test_strings_are_escaped_as_the_standard_says() -> None:
    """RFC 8785, section 3.2.2.2: two-character escapes where there are any, else lower-case \\u00xx; nothing more."""
    assert canonical_json('\b\t\n\f\r"\\/\x1f\x7f€') == '"\\b\\t\\n\\f\\r\\"\\\\/\\u001f\x7f€"'.encode()


@pytest.mark.parametrize(
    "value",
    [
        1.0,
        float("nan"),
        {"a": [0.5]},
        2**53,
        -(2**53),
        {1: "a"},
        {"a": {None: 1}},
        "\ud800",
        {"\udfff": 1},
        {"a": (1, 2)},
        b"a",
        {"a"},
        [10**5000],
    ],
)
def test_what_a_ticket_cannot_hold_is_refused(value: object) -> None:
    with pytest.raises(FormRefused):
        canonical_json(value)


def test_nesting_without_end_is_refused() -> None:
    value: list[object] = []
    for _ in range(sys.getrecursionlimit() * 2):
        value = [value]
    with pytest.raises(FormRefused, match="nested"):
        canonical_json(value)


def test_the_digest_is_sha_256() -> None:
    """SHA-256("abc"): FIPS 180-4."""
    assert digest(b"abc").hex() == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_the_hash_covers_the_canonical_form_alone() -> None:
    left, right = json.loads('{"b": 1,"a":"x"}'), json.loads('{ "a" : "x", "b" : 1 }')
    assert ticket_hash(left) == ticket_hash(right) == hashlib.sha256(b'{"a":"x","b":1}').digest()
    assert ticket_hash({"a": "x", "b": 2}) != ticket_hash(left)
    assert ticket_hash({"a": "1.0 g"}) != ticket_hash({"a": "1.00 g"})  # the text of a mass is kept as read
