"""Telling rows of the book in words of the trade: which ticket, line and account, and masses in grams."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Mapping
from datetime import UTC, datetime, timedelta
from typing import Any, Final

from ledger.book.closes import named
from ledger.book.schema import SUM_TABLES
from ledger.quantities.mass import grams_text, shown

Row = Mapping[str, Any]

#: What a column is called where its own name says too little; a mass that is the row's own matter needs no name.
_LABELS: Final[Mapping[str, str]] = {
    "ng": "", "amounts": "", "weighed_ng": "weighed mass", "content": "content", "recorded": "recorded content",
    "given": "given content", "class": "class", "made_by": "maker", "sd": "standard deviation", "since": "start",
    "settles": "emptied or counted", "on_hand": "on hand", "last_instant": "last time", "last_ticket": "last ticket",
    "instant": "time", "take_on": "take-on", "id": "row", "seq": "record",
}  # fmt: skip
_MASSES: Final = frozenset({"ng", "weighed_ng", "mass_in"})
_AMOUNTS: Final = frozenset({"amounts", "content", "recorded", "given"})
_INSTANTS: Final = frozenset({"instant", "last_instant", "since", "opened", "ends"})
_TICKETS: Final = frozenset({"made_by", "reverses", "corrects", "ticket"})
_LOTS: Final = frozenset({"lot", "parent"})


class Telling:
    """Words for rows of one book; numbers of tickets and lots are those derived, else those of the book."""

    def __init__(self, connection: sqlite3.Connection, derived: str) -> None:
        self.connection = connection
        self.sources = (derived, "main")
        self.metals = [m for (m,) in connection.execute(f"SELECT metal FROM {derived}.metal ORDER BY position")]

    def differs(self, table: str, row: Row, right: Row) -> tuple[str, str]:
        """Return where, and what is kept beside what follows from the records, column by column."""
        giver = "the tickets give" if table in SUM_TABLES else "the ticket gives"
        subject = _SUBJECT[table](self, right)
        parts = [
            " ".join(filter(None, [subject, label, "is", is_])) + f", {giver} {gives}"
            for column, value in row.items() if not _same(value, right[column])
            for label, is_, gives in self._apart(column, value, right[column])
        ]  # fmt: skip
        return self.where(table, right), "; ".join(parts)

    def extra(self, table: str, row: Row) -> tuple[str, str]:
        """Return where a row stands, and that it follows from no record."""
        giver = "no records give it" if table in SUM_TABLES else "no record gives it"
        return self.where(table, row), f"{self._whole(table, row)} is in the book, and {giver}"

    def missing(self, table: str, right: Row) -> tuple[str, str]:
        """Return where a row should stand, and what it would say."""
        giver = "the tickets give" if table in SUM_TABLES else "the ticket gives"
        return self.where(table, right), f"{self._whole(table, right)} is not in the book, and {giver} it"

    def where(self, table: str, row: Row) -> str:
        """Return the place of a row: its ticket and line, or the account of a sum."""
        if table in SUM_TABLES:
            return "sums"
        if table in ("metal", "setup_version"):
            return "set-up"
        owner = row.get("made_by") if table == "lot" else row.get("seq" if table in ("ticket", "close") else "ticket")
        if table == "derivation":
            owner = self._find("SELECT ticket FROM {}.determination WHERE id = ?", row["determination"])
        line = row.get("number") if table == "line" else row.get("line")
        return self.ticket(owner) + (f", line {plain(line)}" if line else "")

    def _whole(self, table: str, row: Row) -> str:
        said = (
            f"{_LABELS.get(column, column)} {self._text(column, value)}".strip()
            for column, value in row.items()
            if value is not None and column in (*_MASSES, *_AMOUNTS, "flag", "basis", "composition", "weight", "kind")
        )
        return ", ".join(filter(None, [_SUBJECT[table](self, row), *said]))

    def _apart(self, column: str, value: Any, right: Any) -> list[tuple[str, str, str]]:
        """Return label and both values in words; amounts metal by metal where both can be read."""
        label = _LABELS.get(column, column.replace("_", " "))
        if column in _AMOUNTS:
            a, b = self._amounts(value), self._amounts(right)
            by_metal = [
                (f"{label} {metal}".strip(), _mass(x), _mass(y))
                for metal, x, y in zip(self.metals, a, b, strict=False) if x != y
            ] if a and b else []  # fmt: skip
            if by_metal:
                return by_metal
        if isinstance(value, str) and isinstance(right, str) and column not in _AMOUNTS:
            value, right = _from_difference(value, right)
        return [(label, self._text(column, value), self._text(column, right))]

    def _amounts(self, text: Any) -> list[int] | None:
        try:
            amounts = json.loads(text)
        except (ValueError, TypeError, RecursionError):
            return None
        whole = isinstance(amounts, list) and all(type(x) is int for x in amounts)
        return amounts if whole and len(amounts) == len(self.metals) else None

    def _text(self, column: str, value: Any) -> str:
        if value is None:
            return "nothing"
        if type(value) is int:
            if column in _MASSES:
                return _mass(value)
            if column in _INSTANTS:
                return _time(value)
            if column in _TICKETS:
                return self.ticket(value)
            return self.lot(value) if column in _LOTS else str(value)
        amounts = self._amounts(value) if column in _AMOUNTS else None
        if amounts:
            return ", ".join(f"{metal} {_mass(ng)}" for metal, ng in zip(self.metals, amounts, strict=True))
        return plain(value)

    def ticket(self, seq: Any) -> str:
        """Return a ticket by its number, or its record where it has none."""
        number = self._find("SELECT number FROM {}.ticket WHERE seq = ?", seq)
        return named(plain(number)) if number is not None else f"record {plain(seq)}"

    def lot(self, id_: Any) -> str:
        """Return a lot by its number, or its row where it has none."""
        number = self._find("SELECT number FROM {}.lot WHERE id = ?", id_)
        return f"lot {plain(number)}" if number is not None else f"lot in row {plain(id_)}"

    def _find(self, sql: str, key: Any) -> Any:
        for source in self.sources:
            try:
                found = self.connection.execute(sql.format(source), (key,)).fetchone()
            except (sqlite3.Error, UnicodeEncodeError):
                continue
            if found:
                return found[0]
        return None

    def account(self, row: Row) -> str:
        """Return an account: its class, and by what it is keyed."""
        keys = [plain(row[key]) for key in ("class", "area", "party", "terms", "cause") if row.get(key)]
        return " ".join([*keys, *([self.lot(row["lot"])] if row.get("lot") is not None else []), plain(row["metal"])])


def _same(a: Any, b: Any) -> bool:
    return type(a) is type(b) and a == b


def _mass(ng: int) -> str:
    return grams_text(ng).rstrip("0").rstrip(".") + " g"


def _time(instant: int) -> str:
    try:
        return (datetime(1970, 1, 1, tzinfo=UTC) + timedelta(microseconds=instant)).isoformat()
    except OverflowError:
        return str(instant)


def plain(value: Any) -> str:
    """Return a value as it is where it can be printed as it is, else as a refusal quotes it."""
    text = value if isinstance(value, str) else repr(value)
    return text if text and text.isprintable() and len(text) <= 64 else shown(text)


def _from_difference(a: str, b: str) -> tuple[str, str]:
    """Return two texts from shortly before where they part, when they are long."""
    if max(len(a), len(b)) <= 40:
        return a, b
    at = next((i for i, (x, y) in enumerate(zip(a, b, strict=False)) if x != y), min(len(a), len(b)))
    start = max(at - 10, 0)
    return (f"…{a[start:start + 30]}", f"…{b[start:start + 30]}") if start else (a[:30] + "…", b[:30] + "…")


#: What a row is about, by table.
_SUBJECT: Final[Mapping[str, Callable[[Telling, Row], str]]] = {
    "metal": lambda t, row: f"metal {plain(row['position'])}",
    "setup_version": lambda t, row: f"the set-up of record {plain(row['seq'])}",
    "ticket": lambda t, row: "entry",
    "void_number": lambda t, row: f"spoiled number {plain(row['number'])}",
    "lot": lambda t, row: f"lot {plain(row['number'])}",
    "determination": lambda t, row: f"determination {plain(row['id'])}",
    "derivation": lambda t, row: f"derivation of determination {plain(row['determination'])}",
    "valuation": lambda t, row: f"valuation of {t.lot(row['lot'])}",
    "parent": lambda t, row: f"parent of {t.lot(row['lot'])}",
    "line": lambda t, row: f"{plain(row['side'])} {plain(row['area'])} {t.lot(row['lot'])}",
    "count_sheet": lambda t, row: "count sheet",
    "opened": lambda t, row: "take-on",
    "posting": lambda t, row: f"posting {t.account(row)}",
    "flag": lambda t, row: "flag",
    "close": lambda t, row: f"close {plain(row['period'])}",
    "standing": lambda t, row: f"stock {plain(row['area'])} {t.lot(row['lot'])}",
    "missed": lambda t, row: f"not found {plain(row['area'])} {t.lot(row['lot'])}",
    "job_state": lambda t, row: f"job {t.lot(row['lot'])}",
    "checked": lambda t, row: "check",
    "on_the_way": lambda t, row: f"on the way {plain(row['move'])} {t.lot(row['lot'])}",
    "open_job": lambda t, row: f"open job {t.lot(row['lot'])}",
    "period_sum": lambda t, row: f"sum {plain(row['period'])} {t.account(row)} {plain(row['origin'] or '–')}",
    "area_clock": lambda t, row: f"latest ticket of {plain(row['area'])}",
}
