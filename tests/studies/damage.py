"""Damage done to sound input, from a seed: to a ticket's fields, to the text of a line, to the bytes of a file."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from copy import deepcopy
from io import StringIO
from random import Random
from typing import Any

from ledger.book.tickets import KINDS
from ledger.book.tickets.lines import LINE_FIELDS

Document = dict[str, Any]

#: Stands in a document for JSON that no value can express, and is replaced once the document is text.
_RAW = "raw-json-{}-here"
RAW = (
    "NaN", "Infinity", "-Infinity", "1e999", "-0", "0.1", "1E400", "9" * 5000, "9007199254740992", "'x'", "nul", "",
    "[", "[" * 100_000 + "]" * 100_000, '{"a":' * 3000 + "1" + "}" * 3000, '{"a":1,"a":2}', "\\u0000", "\x00", "01",
)  # fmt: skip

TEXTS = (
    "", " ", "\ud800", "\udfff\ud800", "a\ud83dz", "\x00", "\u202e12.0 g", "\ufeff", "e\u0301", "\U0010ffff", "\uffff",
    "１２.５ g", "١٢.٥ g", "1.0\u2009g", "1.0\u00a0g", "1e5 g", "-1.0 g", "+1.0 g", "0.0 g", "0.0000000001 g",
    "0.0000000005 g", "999999999999999999999999.0 g", "1000.0 t", "1000.1 t", "1.0 oz", "1.0", "1,5 g", ".5 g", "5. g",
    "NaN g", "Infinity g", "0x10.0 g", "1_0.0 g", "1/20 12K", "1/0 12K", "1/20 1/20 12K", "25K", "0K", "1000‰", "1001‰",
    "100%", "-1%", "1/999999 24K", "2026-02-30T10:00", "2026-10-05T24:00", "2026-10-05T10:00:60", "1899-12-31T10:00",
    "2200-01-01T10:00", "2026-11-01T01:30", "2027-03-14T02:30", "2026-10-05T14:30Z", "9999-12-31T23:59:59.999999",
    "x" * 64, "x" * 65, "x" * 100_000, "9" * 100_000, "9" * 100_000 + ".0 g", "0." + "0" * 100_000 + "1 g",
    "'; DROP TABLE ticket; --", "=1+1", "{}", "{what}", "%s", "<b>", "../../x", "-", "A\tB", "A\nB", "A\r\nB", "ﬀ",
    "M-" + "9" * 18, "M-" + "9" * 19, "M-١", "1", "null", "true",
)  # fmt: skip

VALUES: tuple[Any, ...] = (
    None, True, False, 0, -1, 1, 2**53, 2**63, -(2**63) - 1, 10**400, 0.1, 1e300, float("nan"), float("inf"), [], {},
    [[]], [None], {"": ""}, {"gold": None}, {"gold": "12K"}, {"gold": "1000‰", "silver": "1000‰"}, [{}], [["1"]],
    {"gold": [["500"]]}, {"gold": [["500"] * 250]}, {"gold": [[]]}, {"lot": "X"}, ["x"] * 5000,
)  # fmt: skip

FIELDS = sorted({*LINE_FIELDS, *(f.alias or n for model in KINDS.values() for n, f in model.model_fields.items())})


# ---- fields -------------------------------------------------------------------------------------------------


def _places(value: Any) -> list[tuple[Any, Any]]:
    steps: list[Any] = []
    if isinstance(value, dict | list):
        steps = list(value) if isinstance(value, dict) else list(range(len(value)))
    return [(value, step) for step in steps] + [place for step in steps for place in _places(value[step])]


def _hostile(random: Random) -> Any:
    choice = random.random()
    if choice < 0.15:
        return _RAW.format(random.randrange(len(RAW)))
    return deepcopy(random.choice(TEXTS if choice < 0.7 else VALUES))


def _replace(random: Random, documents: list[Document]) -> None:
    inside, step = random.choice(_places(random.choice(documents)))
    inside[step] = _hostile(random)


def _drop(random: Random, documents: list[Document]) -> None:
    inside, step = random.choice(_places(random.choice(documents)))
    del inside[step]


def _add(random: Random, documents: list[Document]) -> None:
    document = random.choice(documents)
    maps = [document, *(inside[step] for inside, step in _places(document) if isinstance(inside[step], dict))]
    field = random.choice(FIELDS) if random.random() < 0.8 else random.choice(TEXTS)
    random.choice(maps)[field] = _hostile(random)


def _swap(random: Random, documents: list[Document]) -> None:
    """Exchange the values of two fields, of one ticket or of two."""
    (first, at), (second, to) = (random.choice(_places(random.choice(documents))) for _ in range(2))
    first[at], second[to] = json.loads(json.dumps([second[to], first[at]]))


def _alter(random: Random, documents: list[Document]) -> None:
    """Change one character of one text: what a slip of the finger does."""
    texts = [(inside, step) for inside, step in _places(random.choice(documents)) if isinstance(inside[step], str)]
    if texts:
        inside, step = random.choice(texts)
        text = inside[step]
        at = random.randrange(len(text) + 1)
        sign = random.choice(("", "0", "9", ".", ",", " ", "-", "K", "\u00e9", "\u2030", "\ud800", "\x7f"))
        inside[step] = text[:at] + sign + text[at + random.randint(0, 1) :]


def _transplant(random: Random, documents: list[Document]) -> None:
    """Give a field what the same field says elsewhere: sound by itself, and wrong, or not, where it stands now."""
    inside, step = random.choice(_places(random.choice(documents)))
    others = [place for document in documents for place in _places(document) if place[1] == step]
    other, _ = random.choice(others)
    inside[step] = json.loads(json.dumps(other[step]))


def _again(random: Random, documents: list[Document]) -> None:
    """Write a ticket twice, or a line twice, or out of its order."""
    if random.random() < 0.5:
        documents.insert(random.randrange(len(documents) + 1), json.loads(json.dumps(random.choice(documents))))
    else:
        random.shuffle(documents)


_FIELD_DAMAGE: tuple[Callable[[Random, list[Document]], None], ...] = (
    *(_replace,) * 4, *(_alter,) * 3, *(_transplant,) * 4, _drop, _drop, _add, _add, _swap, _again, _again,
)  # fmt: skip


def damaged_documents(random: Random, documents: list[Document]) -> list[Document]:
    """Return copies of the tickets with one to three fields damaged."""
    copies: list[Document] = json.loads(json.dumps(documents))
    for _ in range(random.choice((1, 1, 1, 2, 3))):
        random.choice(_FIELD_DAMAGE)(random, copies)
        copies = [copy for copy in copies if copy] or json.loads(json.dumps(documents))
    return copies


# ---- text and bytes -----------------------------------------------------------------------------------------


def as_jsonl(random: Random, documents: list[Document]) -> bytes:
    """Write tickets as JSON Lines: whatever a document cannot hold is put into its text."""
    lines = [json.dumps(document, ensure_ascii=random.random() < 0.5) for document in documents]
    for place, raw in enumerate(RAW):
        lines = [line.replace(f'"{_RAW.format(place)}"', raw) for line in lines]
    if random.random() < 0.05:
        line = random.randrange(len(lines))
        lines[line] = lines[line].replace("{", '{"ticket": "M-1", ', 1)
    return (random.choice(("\n", "\n", "\r\n", "\n\n")).join(lines) + "\n").encode("utf-8", "surrogatepass")


def as_csv(random: Random, documents: list[Document]) -> bytes:
    """Write tickets as a table: one row a line, the ticket's own fields on its first row."""
    rows = [row for document in documents for row in _rows(document)]
    header = list(dict.fromkeys(column for row in rows for column in row))
    if random.random() < 0.1:
        another = random.choice((*FIELDS, *TEXTS[:12], "ticket", "fineness.gold"))
        header.insert(random.randrange(len(header) + 1), another)
    text = StringIO()
    writer = csv.writer(text, delimiter=random.choice(",,;"), lineterminator=random.choice(("\n", "\r\n")))
    writer.writerow(header)
    writer.writerows([row.get(column, "") for column in header] for row in rows)
    mark = b"\xef\xbb\xbf" if random.random() < 0.2 else b""
    return mark + text.getvalue().encode("utf-8", "surrogatepass")


def _rows(document: Document) -> list[dict[str, str]]:
    own: dict[str, str] = {}
    lines: list[dict[str, str]] = []
    for field, value in document.items():
        if field in ("lots", "in", "out", "parties") and isinstance(value, list):
            side = {"side": field} if field in ("in", "out", "parties") or document.get("kind") == "open" else {}
            lines += [side | _cells(line) for line in value if isinstance(line, dict)]
        else:
            own |= _cells({field: value})
    first, *rest = lines or [{}]
    return [own | first, *({"ticket": own.get("ticket", "")} | line for line in rest)]


def _cells(fields: Document) -> dict[str, str]:
    cells: dict[str, str] = {}
    for field, value in fields.items():
        if isinstance(value, dict):
            cells |= {f"{field}.{key}": text for key, text in _cells(value).items()}
        else:
            cells[field] = _cell(value)
    return cells


def _cell(value: Any) -> str:
    if isinstance(value, list):
        if value and all(isinstance(one, list) for one in value):
            return " / ".join(" ".join(map(str, sample)) for sample in value)
        return "|".join(map(str, value))
    return str(value).lower() if isinstance(value, bool) else str(value)


def _flip(random: Random, content: bytearray) -> None:
    for _ in range(random.randint(1, 4)):
        content[random.randrange(len(content))] ^= 1 << random.randrange(8)


def _cut(random: Random, content: bytearray) -> None:
    """End in the middle: a copy that was broken off."""
    del content[random.randrange(len(content)) :]


def _take_out(random: Random, content: bytearray) -> None:
    at = random.randrange(len(content))
    del content[at : at + random.randint(1, 40)]


def _put_in(random: Random, content: bytearray) -> None:
    pieces = (b"\x00", b"\xff\xfe", b"\xef\xbb\xbf", b"\xed\xa0\x80", b"\xc0\xaf", b"\n", b"\r", b'"', b"\\", b"{",
              b"}", b",", b";", b"\xe2\x80\xa8", b"\xf4\x90\x80\x80", b"\x1a", b" " * 100_000, b'"' * 1001)  # fmt: skip
    content[(at := random.randrange(len(content) + 1)) : at] = random.choice(pieces)


def _utf16(random: Random, content: bytearray) -> None:
    content[:] = content.decode("utf-8", "replace").encode("utf-16")


_BYTE_DAMAGE = (*(_flip,) * 4, *(_put_in,) * 3, _cut, _cut, _take_out, _utf16)


def damaged_bytes(random: Random, content: bytes) -> bytes:
    """Return a file's bytes with one or two wounds."""
    wounded = bytearray(content)
    for _ in range(random.choice((1, 1, 2))):
        if wounded:
            random.choice(_BYTE_DAMAGE)(random, wounded)
    return bytes(wounded)
