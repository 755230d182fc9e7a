"""JSON Lines: every bad line is a fault of its own, and reading goes on."""

from __future__ import annotations

import io
import json
import tracemalloc
from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.book.intake.jsonl import LONGEST_LINE, read
from ledger.book.tickets.examples import EXAMPLES
from ledger.refusals import Fault

GOOD = b'{"ticket":"M-1"}\n'


def rows(data: bytes) -> list[tuple[int, str]]:
    """Each row's line with its document, or with what is wrong."""
    return [(row.line, row.faults[0].what if row.faults else "sound") for row in read(io.BytesIO(data), "f.jsonl")]


def test_documents_come_as_they_are() -> None:
    text = "".join(json.dumps(document) + "\n" for document in EXAMPLES)
    assert [row.document for row in read(io.BytesIO(text.encode()), "f.jsonl")] == list(EXAMPLES)


def test_blank_lines_a_mark_and_other_line_ends_do_no_harm() -> None:
    data = b"\xef\xbb\xbf" + b'{"a":"1"}\r\n' + b"\n  \t\r\n" + b'{"a":"2"}'
    assert [(row.line, row.document) for row in read(io.BytesIO(data), "f")] == [(1, {"a": "1"}), (4, {"a": "2"})]
    assert rows(b"") == rows(b"\n\n") == []


@pytest.mark.parametrize(
    ("line", "what"),
    [
        (b'{"a": "1", "b": {"c": 1, "c": 2}}', "'c' stands twice"),
        (b'{"mass": 1250.42}', "1250.42 is a bare number"),
        (b'{"mass": 1e5}', "1e5 is a bare number"),
        (b'{"mass": NaN}', "NaN is not a number"),
        (b'{"mass": -Infinity}', "-Infinity is not a number"),
        (b'{"pieces": 9007199254740992}', "is too large"),
        (b'{"pieces": ' + b"9" * 5000 + b"}", "is too large"),
        (b"[" * 100_000, "nested too deeply"),
        (b'{"a":' * 100_000, "nested too deeply"),
        (b'{"a": "' + b"x" * LONGEST_LINE + b'"}', "longer than"),
        (b'{"a": "\xff"}', "byte 8 is not UTF-8"),
        (b'\xff\xfe{\x00"\x00a\x00', "is UTF-16"),
        (b'{"a": 1', "is not JSON: column 8"),
        (b'{"a": 1} {"b": 2}', "is not JSON: column 10"),
        (b"[]", "is an object"),
        (b'"text"', "is an object"),
        (b"null", "is an object"),
        (b"12", "is an object"),
    ],
)
def test_a_bad_line_is_a_fault_and_reading_goes_on(line: bytes, what: str) -> None:
    first, bad, last = rows(GOOD + line + b"\n" + GOOD)
    assert first == (1, "sound")
    assert bad[0] == 2
    assert what in bad[1]
    assert last == (3, "sound")


def test_the_largest_whole_number_is_kept() -> None:
    """±(2⁵³ − 1): RFC 7493, section 2.2."""
    (row,) = read(io.BytesIO(b'{"a": 9007199254740991, "b": -9007199254740991}'), "f")
    assert row.document == {"a": 2**53 - 1, "b": -(2**53) + 1}


def test_a_fault_names_its_file_and_keeps_the_line() -> None:
    (row,) = read(io.BytesIO(b"{broken\r\n"), "month.jsonl")
    assert str(row.faults[0]).startswith("month.jsonl:1: ")
    assert row.faults[0].mend
    assert row.raw == "{broken"


@given(st.binary(max_size=300))
def test_any_bytes_give_rows(data: bytes) -> None:
    for row in read(io.BytesIO(data), "f"):
        assert (row.document is None) == bool(row.faults)
        str(row.faults).encode()


class _Endless(io.RawIOBase):
    """A file of many lines, or of one line without an end, that is nowhere in memory."""

    def __init__(self, block: bytes, blocks: int) -> None:
        self.parts: Iterator[bytes] = iter([block] * blocks)

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: bytearray) -> int:  # type: ignore[override]
        part = next(self.parts, b"")
        buffer[: len(part)] = part
        return len(part)


@pytest.mark.parametrize("block", [GOOD * 100, b"x" * 4000])
def test_memory_does_not_grow_with_the_file(block: bytes) -> None:
    stream = io.BufferedReader(_Endless(block, 5000), 8192)
    tracemalloc.start()
    for _ in read(stream, "f"):
        pass
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 6_000_000 < len(block) * 5000


def test_a_fault_of_the_document_is_placed_on_its_line() -> None:
    (row,) = read(io.BytesIO(b"\n" + GOOD), "f.jsonl")
    fault = row.place(Fault("form", "is missing", field="lots[0].mass"))
    assert (fault.file, fault.line, fault.field) == ("f.jsonl", 2, "lots[0].mass")
