"""Pages for auditors: tables printed from the documents of the audit room, and the lines that end them."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from ledger.faces.caution import say_caution
from ledger.faces.printing import Table, counted, mass, ng_of, say, say_as_of, say_json, say_table, say_text

if TYPE_CHECKING:
    from ledger.audit.inquiry import Inquiry
    from ledger.book.holdings import AsOf

Row = Mapping[str, Any]

#: Rows that people are shown of a long list, unless they ask for all of it.
ROWS: Final = 25


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its head, the key in the row, how a value is written, and whether it is set to the left."""

    head: str
    key: str
    write: Callable[[Any], str] = str
    left: bool = True


def text(head: str, key: str) -> Column:
    """Return a column of words."""
    return Column(head, key)


def at(head: str, key: str) -> Column:
    """Return a column of times."""
    return Column(head, key, lambda value: value.replace("T", " ")[:16])


def day(head: str, key: str) -> Column:
    """Return a column of days, of times."""
    return Column(head, key, lambda value: value[:10])


def number(head: str, key: str) -> Column:
    """Return a column of whole numbers."""
    return Column(head, key, lambda value: f"{value:,}", left=False)


def count_of(head: str, key: str) -> Column:
    """Return a column of counts, nothing where there is none."""
    return Column(head, key, lambda value: f"{value:,}" if value else "", left=False)


def fine(head: str, key: str, unit: str) -> Column:
    """Return a column of masses."""
    return Column(head, key, lambda value: mass(ng_of(value), unit), left=False)


def per_cent(head: str, key: str, places: int = 1) -> Column:
    """Return a column of shares, in per cent."""
    return Column(head, key, lambda value: f"{round(100 * value, places) + 0.0:.{places}f} %", left=False)


def figure(head: str, key: str, places: int = 1) -> Column:
    """Return a column of plain numbers."""
    return Column(head, key, lambda value: f"{round(value, places) + 0.0:.{places}f}", left=False)


def sigma(head: str, key: str, unit: str) -> Column:
    """Return a column of standard deviations: numbers in grams."""
    return Column(head, key, lambda value: mass(round(value * 10**9), unit), left=False)


def money(head: str, key: str) -> Column:
    """Return a column of money, to whole units of the currency."""
    return Column(head, key, lambda value: f"{round(float(value)):,}", left=False)


def yes(head: str, key: str) -> Column:
    """Return a column that says yes, or nothing."""
    return Column(head, key, lambda value: "yes" if value else "")


def say_rows(title: str, rows: Sequence[Row], columns: Sequence[Column], *, none: str = "none", shown: int = ROWS,
             total: Row | None = None) -> None:  # fmt: skip
    """Print a list under its title: the first rows of it, and how many more there are."""
    say_text(title)
    if not rows:
        say(f"  {none}")
        say()
        return
    table = Table([c.head for c in columns], frozenset(i for i, c in enumerate(columns) if c.left))
    for row in rows[:shown]:
        table.add(*(_cell(row, column) for column in columns))
    if total is not None:
        table.total = ["together", *(_cell(total, column) for column in columns[1:])]
    say_table(table.without_empty_columns())
    if len(rows) > shown:
        say(f"… and {counted(len(rows) - shown, 'row')} more: --json, or --rows, shows all")
    say()


def _cell(row: Row, column: Column) -> str:
    value = row.get(column.key)
    return "" if value is None else column.write(value)


@dataclass(frozen=True)
class Asked:
    """An answer's book, metal and unit, and the state of the book it is of."""

    inquiry: Inquiry
    unit: str
    as_of: AsOf

    @property
    def connection(self) -> sqlite3.Connection:
        """The open book."""
        return self.inquiry.connection

    @property
    def head(self) -> str:
        """The plant, and what figures are of."""
        return f"{self.inquiry.facts.name}: {self.inquiry.metal}, in {self.unit}"


def say_document(asked: Asked, document: dict[str, Any]) -> None:
    """Print an answer as one JSON document, with the state of the book it is of."""
    say_json({**document, **asked.as_of.document()})


def say_end(asked: Asked, *, of_people: bool = False) -> None:
    """Print the last lines of a page; ``of_people``: suspicion could fall on somebody."""
    if of_people:
        say_text("People are given by code. A name on a ticket is a claim, not a signature.")
        say_caution()
    say_as_of(asked.as_of)
