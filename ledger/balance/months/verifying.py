"""Verifying all of a book: what follows from its records, the statements its closes were sealed with, what it keeps.

A close posts what it says. Here it is asked whether it says what follows from the tickets recorded before it.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterator, Mapping
from typing import Any, Final

from ledger import __version__
from ledger.balance.measurement.effective import FIRST
from ledger.balance.months.chain import Chain
from ledger.balance.months.checking import check_kept
from ledger.balance.months.closing import figures, statements
from ledger.balance.months.kept import Ending
from ledger.book import verifying
from ledger.book.before import book_before, looking_back
from ledger.book.closes import Close, close_number, closes, named
from ledger.book.findings import Finding, Findings
from ledger.book.telling import plain
from ledger.refusals import LemelError

#: What statistics say. Another version of the program may say them otherwise; masses it may not.
_STATISTICS: Final = frozenset(("sigma", "verdict", "coarse"))
#: By how much of itself σ may come out otherwise on another machine.
_ROUNDING: Final = 1e-6


def verify(
    connection: sqlite3.Connection, quick: bool = False, progress: Callable[[int], None] = lambda _: None
) -> list[Finding]:
    """Return what is wrong in a book, first wrong place first; see `ledger.book.verifying.verify`.

    Unless ``quick``, what the book keeps of past periods and the statements of every close are derived again as well,
    once all else is found sound.
    """

    def further(connection: sqlite3.Connection, findings: Findings) -> None:
        _check_months(connection, findings, progress)

    return verifying.verify(connection, quick, progress, further=None if quick else further)


def _check_months(connection: sqlite3.Connection, findings: Findings, progress: Callable[[int], None]) -> None:
    """Go through the book's periods once more, and compare what each left, and what its close said."""
    sealed = {close.period: close for close in closes(connection)}
    until = max((close.ends for close in sealed.values()), default=FIRST)
    with looking_back(connection):
        for before, period in check_kept(connection, findings, progress, until):
            if period in sealed:
                _check_close(connection, findings, sealed.pop(period), before)
        for close in sealed.values():
            _check_close(connection, findings, close, None)


def _check_close(connection: sqlite3.Connection, findings: Findings, close: Close, before: Ending | None) -> None:
    """Derive the statements of a close again, from what was recorded before it."""
    (body,) = connection.execute("SELECT body FROM record WHERE seq = ?", (close.seq,)).fetchone()
    if before is not None and before.record >= close.seq:
        before = None  # what is known now of the periods before was not all known then
    with book_before(connection, close.seq):
        chain = Chain(connection, kept=False, latest=before)
        for what in _differing(connection, close.period, json.loads(body), chain):
            findings.add("sealed statements", close.seq, named(close_number(close.period)), what)


def _differing(
    connection: sqlite3.Connection, period: str, content: Mapping[str, Any], chain: Chain
) -> Iterator[str]:  # fmt: skip
    try:
        derived = statements(connection, period, chain)
    except LemelError as error:
        yield f"its statements cannot be derived again: {error.faults[0].what}"
        return
    without = _STATISTICS if content["program"] != __version__ else frozenset()
    for metal, areas in derived.items():
        said = content["statements"][metal]
        if [a["area"] for a in said] != [s.area.code for s in areas]:
            yield f"its statement of {metal} is not of the areas of the set-up"
            continue
        for says, statement in zip(said, areas, strict=True):
            yield from _area(metal, says, figures(statement), without)


def _area(metal: str, says: Mapping[str, Any], right: Mapping[str, Any], without: frozenset[str]) -> Iterator[str]:
    for name, value in right.items():
        said = says.get(name)
        if name not in without and not (_near(said, value) if name == "sigma" else said == value):
            yield f"{metal} of {right['area']}: {name} is {plain(said)}, the tickets give {plain(value)}"
    if set(says) != set(right):
        yield f"{metal} of {right['area']}: it says other things than a statement does"


def _near(said: object, value: str) -> bool:
    try:
        return abs(float(str(said)) - float(value)) <= _ROUNDING * float(value) + 1e-9
    except ValueError:
        return False
