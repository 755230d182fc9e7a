"""Columns and rows of schedules, in few words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from ledger.faces.pack.schedule import Cell, Column, Row


def words(key: str, head: str | None = None) -> Column:
    """Return a column of words."""
    return Column(key, head or key)


def when(key: str, head: str) -> Column:
    """Return a column of days or instants."""
    return Column(key, head, "when")


def mass(key: str, head: str, formula: str | None = None, *, summed: bool = False) -> Column:
    """Return a column of masses, or of σ in grams."""
    return Column(key, head, "mass", summed, formula)


def money(key: str, head: str, *, summed: bool = False) -> Column:
    """Return a column of amounts of money."""
    return Column(key, head, "money", summed)


def number(key: str, head: str, formula: str | None = None) -> Column:
    """Return a column of statistics."""
    return Column(key, head, "number", formula=formula)


def share(key: str, head: str, formula: str | None = None) -> Column:
    """Return a column of shares of a whole, 1 the whole."""
    return Column(key, head, "share", formula=formula)


def count(key: str, head: str, *, summed: bool = False) -> Column:
    """Return a column of whole numbers."""
    return Column(key, head, "count", summed)


def rows_of(columns: Sequence[Column], documents: Iterable[Mapping[str, Any]]) -> list[Row]:
    """Return the documents' values under the columns' keys: a list as words, what is not there as an empty cell."""
    return [{column.key: cell(document.get(column.key)) for column in columns} for document in documents]


def cell(value: Any) -> Cell:
    """Return a value of a document as a cell: yes or nothing, words of a list, else what it is."""
    if isinstance(value, bool):
        return "yes" if value else None
    if isinstance(value, (list, tuple)):
        return ", ".join(map(str, value)) or None
    if value is None or isinstance(value, (str, int, float)):
        return value
    return str(value)
