"""Copying a book out, and taking a copy back: the records alone, from which everything else follows.

A copy is JSON Lines, one record a line, each in canonical form (RFC 8785). Taken back into an empty book every ticket
is posted again, and each hash and running hash must come out as the copy says. A copy that was cut off at its end is
a sound, shorter book: compare its last running hash with one kept elsewhere.
"""

from __future__ import annotations

import csv
import io
import json
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from ledger.book.canonical import canonical_json, digest
from ledger.book.entering import Stamp
from ledger.book.intake.jsonl import decode
from ledger.book.opening import making
from ledger.book.replaying import Replay
from ledger.book.setups import Setups
from ledger.book.store import told
from ledger.quantities.mass import grams_text
from ledger.refusals import BookUnusable, Fault, FormRefused, LemelError, Refused

RECORD_FIELDS: Final = ("record", "kind", "recorded_at", "recorded_by", "hash", "chain", "body")
POSTING_FIELDS: Final = (
    "ticket", "line", "at", "period", "class", "area", "lot", "party", "terms", "cause", "origin", "prior", "metal",
    "grams", "recorded_at",
)  # fmt: skip

_TEXTS: Final = RECORD_FIELDS[1:6]
_FORMULA: Final = ("=", "+", "-", "@", "＝", "＋", "－", "＠", "\t", "\r", "\n")
_LINE_END: Final = "\r\n"  # with another, the writer leaves these characters in a text without quotes
_MEND: Final = "take the copy anew from the book; nothing was made"


def record_rows(connection: sqlite3.Connection) -> Iterator[dict[str, Any]]:
    """Yield every record in order, keyed by RECORD_FIELDS; hashes are lower-case hexadecimal, the body an object.

    Raises BookUnusable where a body cannot be read.
    """
    rows = connection.execute(
        "SELECT seq, kind, recorded_at, recorded_by, hash, chain, body FROM record ORDER BY seq"
    )  # fmt: skip
    for seq, kind, at, by, hash_, chain, body in rows:
        try:
            document = decode(body.encode())
        except (ValueError, RecursionError):
            raise BookUnusable(f"record {seq} is damaged: its body cannot be read", "run: lemel verify") from None
        yield dict(zip(RECORD_FIELDS, (seq, kind, at, by, hash_.hex(), chain.hex(), document), strict=True))


def copy_out(connection: sqlite3.Connection) -> Iterator[str]:
    """Yield every record as one canonical JSON object, without line end."""
    return (canonical_json(row).decode() for row in record_rows(connection))


def postings_rows(connection: sqlite3.Connection) -> Iterator[dict[str, Any]]:
    """Yield every posting in order, keyed by POSTING_FIELDS.

    ``at`` is plant time of the event that the posting counts at, ``recorded_at`` UTC; ``line`` is 0 for the ticket
    as a whole; ``grams`` is a plain decimal with all nine digits, + where metal is, is missing, is gone, or is owed to
    us.
    """
    calendar = Setups.read(connection).calendar
    rows = connection.execute(
        "SELECT t.number, p.line, p.instant, p.period, p.class, p.area, l.number, p.party, p.terms, p.cause, p.origin, "
        "p.prior, p.metal, p.ng, r.recorded_at FROM posting AS p JOIN ticket AS t ON t.seq = p.ticket "
        "JOIN record AS r ON r.seq = p.ticket LEFT JOIN lot AS l ON l.id = p.lot ORDER BY p.id"
    )
    for row in rows:
        posting = dict(zip(POSTING_FIELDS, row, strict=True))
        yield posting | {
            "at": calendar.text(posting["at"]), "prior": bool(posting["prior"]), "grams": grams_text(posting["grams"]),
        }  # fmt: skip


# ---- CSV --------------------------------------------------------------------------------------------------------


def csv_lines(fields: Iterable[str], rows: Iterable[Mapping[str, Any]]) -> Iterator[str]:
    """Yield a header and rows as CSV (RFC 4180, without line ends); nothing is an empty cell, true and false are words.

    A text that a spreadsheet would run as a formula (one that begins with = + - @, also in their full width, a tab or a
    line end) gets an apostrophe before it; a mass in ``grams`` stays a number.
    """
    fields = list(fields)
    yield _csv(fields)
    for row in rows:
        yield _csv([_cell(field, row[field]) for field in fields])


def _csv(cells: list[str]) -> str:
    buffer = io.StringIO()
    csv.writer(buffer, lineterminator=_LINE_END).writerow(cells)
    return buffer.getvalue().removesuffix(_LINE_END)


def _cell(field: str, value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return canonical_json(value).decode()
    text = str(value)
    return f"'{text}" if text.startswith(_FORMULA) and field != "grams" else text


# ---- taking a copy back -----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class TakenBack:
    """How many records a copy held, and the running hash after the last, in hexadecimal."""

    records: int
    chain: str


def take_back(
    path: Path, lines: Iterable[str | bytes], *, file: str = "", progress: Callable[[int], None] | None = None
) -> TakenBack:  # fmt: skip
    """Make the book ``path`` from the lines of a copy (a file opened in binary will do), whole or not at all.

    Raises WrongUsage when the file is there already; Refused, naming file, line and record, where a record is not the
    next one, cannot be posted, or comes out with another hash or running hash.
    """
    taken, line = 0, 0
    with told(path), making(path) as connection:
        replay = Replay(connection)
        for line, text in enumerate(lines, 1):
            if not text.strip():
                continue
            taken += 1
            _take(replay, text, taken, file, line)
            if progress is not None:
                progress(taken)
        if not taken:
            raise FormRefused([Fault("form", "the copy holds no record", _MEND, file=file, line=line)])
        replay.flush()
    return TakenBack(taken, replay.chain.hex())


def _take(replay: Replay, text: str | bytes, expected: int, file: str, line: int) -> None:
    try:
        record = _record(text, expected)
        replay.take(record["kind"], record["body"], Stamp(record["recorded_at"], record["recorded_by"]))
        if replay.chain.hex() != record["chain"]:
            raise Refused("the running hash does not follow from the record before, its time and its user", _MEND)
    except LemelError as error:
        faults = [fault.at(field=f"record {expected}", file=file, line=line) for fault in error.faults]
        raise type(error)(faults) from None


def _record(text: str | bytes, expected: int) -> dict[str, Any]:
    record = _decoded(text)
    if set(record) != set(RECORD_FIELDS):
        raise FormRefused(f"a record has the fields {', '.join(RECORD_FIELDS)}, and no other", _MEND)
    if not all(isinstance(record[field], str) for field in _TEXTS):
        raise FormRefused(f"{', '.join(_TEXTS)} are texts", _MEND)
    canonical_json([record[field] for field in _TEXTS])
    if type(record["record"]) is not int or record["record"] != expected:
        raise Refused(f"this is record {json.dumps(record['record'])}, where record {expected} was to come", _MEND)
    if digest(canonical_json(record["body"])).hex() != record["hash"]:
        raise Refused("the hash is not that of the body: one of them was changed", _MEND)
    return record


def _decoded(text: str | bytes) -> dict[str, Any]:
    try:
        return decode(text.encode() if isinstance(text, str) else text)
    except RecursionError:
        raise FormRefused("is nested too deeply", _MEND) from None
    except UnicodeError:
        raise FormRefused("is not UTF-8", _MEND) from None
    except ValueError as error:
        raise FormRefused(f"cannot be read: {error.args[0] if error.args else error}", _MEND) from None
