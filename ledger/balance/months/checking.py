"""Checking what a book keeps of past periods: every kept row must follow from the tickets."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from math import isclose
from typing import Any, Final

from ledger.balance.measurement.effective import FIRST
from ledger.balance.months.chain import Chain
from ledger.balance.months.kept import WRITER, Ending, rows_of
from ledger.book.findings import THE_SUMS, Findings
from ledger.book.schema import KEPT_TABLES

#: Relative difference of two statistics that another machine's rounding may make.
_ROUNDING: Final = 1e-9

_KEYS: Final = {"carried": 1, "carried_rows": 2, "carried_balance": 3}


def check_kept(
    connection: sqlite3.Connection, findings: Findings, progress: Callable[[int], None], until: int
) -> Iterator[tuple[Ending | None, str]]:
    """Find the kept rows that do not follow from the tickets of a book that is sound otherwise.

    Yields each period with what the ones before it left, derived from the first ticket, up to the last end that is
    kept and up to ``until``. Rows of another version of the program are not looked at: nobody reads them.
    ``progress`` is told of each period.
    """
    kept = {table: dict(_kept(connection, table)) for table in KEPT_TABLES}
    ends = {key[0] for rows in kept.values() for key in rows}
    last = max(*ends, until) if ends else until
    chain = Chain(connection, kept=False, progress=progress)
    for before, ending in chain.every() if last > FIRST else ():
        derived = rows_of(ending)
        if derived.ends in ends:
            for table in KEPT_TABLES:
                _compare(findings, table, derived.period, _of(kept[table], derived.ends), getattr(derived, table))
            ends.discard(derived.ends)
        yield before, ending.period
        if ending.ends >= last:
            break
    for end in sorted(ends):
        findings.add("kept months", THE_SUMS, f"what is kept at {end}", "is the end of no period of this book")


def _kept(connection: sqlite3.Connection, table: str) -> Iterator[tuple[tuple[Any, ...], tuple[Any, ...]]]:
    """Yield a table's rows by their keys, those of ends that nobody reads left out."""
    rows = connection.execute(
        f"SELECT * FROM {table} WHERE ends NOT IN (SELECT ends FROM carried WHERE program <> ?)", (WRITER,)
    )
    for row in rows:
        yield row[: _KEYS[table]], row


def _of(rows: Mapping[tuple[Any, ...], tuple[Any, ...]], ends: int) -> dict[tuple[Any, ...], tuple[Any, ...]]:
    return {key: row for key, row in rows.items() if key[0] == ends}


def _compare(
    findings: Findings, table: str, period: str, kept: dict[tuple[Any, ...], tuple[Any, ...]],
    derived: Sequence[tuple[Any, ...]],
) -> None:  # fmt: skip
    right = {row[: _KEYS[table]]: row for row in derived}
    for key in sorted({*kept, *right}, key=str):
        where = " ".join((f"kept month {period}", table, *map(str, key[1:]))).rstrip()
        if key not in kept:
            findings.add("kept months", THE_SUMS, where, "is missing")
        elif key not in right:
            findings.add("kept months", THE_SUMS, where, "follows from no ticket")
        elif not _row_same(kept[key], right[key]):
            findings.add("kept months", THE_SUMS, where, "is not what the tickets give: it was changed")


def _row_same(one: Sequence[Any], other: Sequence[Any]) -> bool:
    return len(one) == len(other) and all(_column_same(a, b) for a, b in zip(one, other, strict=True))


def _column_same(one: Any, other: Any) -> bool:
    if type(one) is not type(other) or not isinstance(one, str) or one == other:
        return type(one) is type(other) and bool(one == other)
    try:
        return _same(json.loads(one), json.loads(other))
    except ValueError:
        return False


def _same(one: Any, other: Any) -> bool:
    """Return whether two documents say the same: statistics within rounding, all else exactly."""
    if isinstance(one, float) and isinstance(other, float):
        return isclose(one, other, rel_tol=_ROUNDING, abs_tol=1e-300)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(_same, one, other))
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(_same(one[key], other[key]) for key in one)
    return type(one) is type(other) and bool(one == other)
