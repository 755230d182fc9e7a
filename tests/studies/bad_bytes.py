"""Structured damage to each sort of input of the study of bad input, beside that to tickets in ``damage``."""

from __future__ import annotations

import re
from io import BytesIO
from random import Random
from zipfile import ZIP_STORED, ZipFile

from tests.studies.damage import TEXTS, damaged_bytes

#: Values that no one means, as TOML and JSON write them.
RAW_VALUES = (
    '""', '" "', '"\\u202e12 g"', '"\\u001b[2J"', '"x"', "[]", "{}", "[[]]", "[{}]", "true", "0", "-1", "1.5", "nan",
    "-inf", "1e999999999", "1e99999999999999999999", "9" * 30, "9" * 5000, "0x" + "f" * 40, "2026-02-30", "0001-01-01",
    "9999-12-31", "2026-10-31T10:00:00", "23:59:60", "00:00", '"00:00"', '"1/0 12K"', '"1/20 12K"', '"25K"', '"100%"',
    '"0%"', '"1e3%"', '"-1%"', '"1000.1 t"', '"0.0000000001 g"', '"0 g"', '"1 oz"', '"1 g"', '"‰"', '["gold"]', '[1]',
    '["gold", "gold"]', '{gold = "1%"}', '{gold = 1, lead = "x"}', "[" * 400 + "]" * 400, "{a=" * 300 + "1" + "}" * 300,
    "'''", '"' + "x" * 100_000 + '"', "null", "NaN", '[["52.10 g", "0 g"]]', '[["500"], ["499.9", "x"]]',
    '"America/New_York"', '"../../etc/localtime"', '"UTC\\u0000"', '"Europe/Nowhere"',
)  # fmt: skip
_VALUE = re.compile(r"=\s*(.+)$|:\s*([^,\n]+)", re.MULTILINE)


def damaged_text(random: Random, text: str) -> bytes:
    """Return a set-up, an out-turn or the like, with one to three wounds: values, lines, and now and then bytes."""
    for _ in range(random.choice((1, 1, 2, 3))):
        text = random.choice((_value, _value, _value, _lines, _key))(random, text)
    content = text.encode("utf-8", "surrogatepass")
    return damaged_bytes(random, content) if random.random() < 0.15 else content


def _value(random: Random, text: str) -> str:
    found = list(_VALUE.finditer(text))
    if not found:
        return text
    match = random.choice(found)
    group = 1 if match.group(1) is not None else 2
    if random.random() < 0.25:
        other = random.choice(found)
        new = other.group(1) or other.group(2)
    else:
        new = random.choice(RAW_VALUES)
    return text[: match.start(group)] + new + text[match.end(group) :]


def _lines(random: Random, text: str) -> str:
    lines = text.split("\n")
    at, to = random.randrange(len(lines)), random.randrange(len(lines))
    choice = random.random()
    if choice < 0.35:
        del lines[at]
    elif choice < 0.7:
        lines.insert(to, lines[at])
    elif choice < 0.9:
        lines[at], lines[to] = lines[to], lines[at]
    else:
        lines[at : at + 1] = lines[at : at + random.randint(1, 6)] * random.choice((2, 3, 50))
    return "\n".join(lines)


def _key(random: Random, text: str) -> str:
    words = list(re.finditer(r"[A-Za-z_]+", text))
    if not words:
        return text
    word, other = random.choice(words), random.choice(words)
    new = random.choice((other.group(), word.group() + "x", '"\u202e"', "a.b.c", "", ".".join("a" * 400)))
    return text[: word.start()] + new + text[word.end() :]


def damaged_line(random: Random, text: str) -> bytes:
    """Return one short text (a mass, a time, a seal), changed in a few characters, or another altogether."""
    if random.random() < 0.2:
        text = random.choice(TEXTS)
    for _ in range(random.randint(0, 3)):
        at = random.randrange(len(text) + 1)
        sign = random.choice("0123456789..,- /%‰KgTe+\u00a0\u202e\x00１") * random.choice((1, 1, 1, 3, 40))
        text = text[:at] + random.choice((sign, "")) + text[at + random.randint(0, 2) :]
    return text.encode("utf-8", "surrogatepass")


def damaged_workbook(random: Random, content: bytes) -> bytes:
    """Return a workbook with a part wounded, swapped or left out; or the archive itself wounded."""
    if random.random() < 0.2:
        return damaged_bytes(random, content)
    with ZipFile(BytesIO(content)) as old:
        parts = {name: old.read(name) for name in old.namelist()}
    name = random.choice(list(parts))
    choice = random.random()
    if choice < 0.15:
        del parts[name]
    elif choice < 0.25:
        parts[name] = parts[random.choice(list(parts))]
    elif choice < 0.5:
        parts[name] = damaged_bytes(random, parts[name])
    else:
        parts[name] = _marked_up(random, parts[name])
    file = BytesIO()
    with ZipFile(file, "w", ZIP_STORED) as new:
        for part, inner in parts.items():
            new.writestr(part, inner)
    return file.getvalue()


def _marked_up(random: Random, content: bytes) -> bytes:
    """Change one attribute, text or tag."""
    pieces = list(re.finditer(rb'"[^"<]*"|>[^<]+<|</?\w+', content))
    if not pieces:
        return content
    piece, other = random.choice(pieces), random.choice(pieces)
    whole = piece.group()
    new = random.choice((
        other.group(), whole[:1] + b"99999999999999999999" + whole[-1:], whole[:1] + b"-1" + whole[-1:],
        whole[:1] + b"&x;" + whole[-1:], whole[:1] + b"XFE1" + whole[-1:], b"", whole + b"<f>1+1</f>",
    ))  # fmt: skip
    return content[: piece.start()] + new + content[piece.end() :]


def damaged_book(random: Random, content: bytes) -> bytes:
    """Return a book's file cut off, with bits turned, pages swapped, emptied or filled, or its header changed."""
    wounded, page = bytearray(content), 4096
    pages = max(1, len(wounded) // page)
    for _ in range(random.choice((1, 1, 1, 2, 5))):
        choice, at = random.random(), random.randrange(pages) * page
        if choice < 0.45:
            for _ in range(random.choice((1, 1, 3, 30))):
                wounded[random.randrange(len(wounded))] ^= 1 << random.randrange(8)
        elif choice < 0.6:
            wounded[random.randrange(100)] = random.randrange(256)
        elif choice < 0.7:
            to = random.randrange(pages) * page
            wounded[at : at + page] = content[to : to + page]
        elif choice < 0.8:
            wounded[at : at + page] = random.choice((bytes(page), random.randbytes(page)))
        elif choice < 0.9:
            start = at + random.randrange(page)
            wounded[start : start + 8] = random.choice((b"\xff" * 8, b"\x00" * 8, random.randbytes(8)))
        else:
            del wounded[random.randrange(len(wounded)) :]
            return bytes(wounded)
    return bytes(wounded)
