"""The closes of a book: which periods are closed, and until when nothing may be dated any more."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from typing import Final

from ledger.book.seals import seal_line

#: Before every instant that a ticket can bear: where nothing is closed.
NEVER: Final = -(2**63)

_NUMBER_ENDS: Final = " close"


@dataclass(frozen=True, slots=True)
class Close:
    """A closed period: its record, the first instant after it, the root of the log before it, and its seal."""

    seq: int
    period: str
    ends: int
    root: bytes
    seal: bytes

    @property
    def line(self) -> str:
        """The seal as it is printed."""
        return seal_line(self.period, self.seal)


def closes(connection: sqlite3.Connection) -> list[Close]:
    """Return the closes of a book, in order."""
    rows = connection.execute("SELECT seq, period, ends, root, seal FROM close ORDER BY seq")
    return [Close(*row) for row in rows]


def close_of(connection: sqlite3.Connection, period: str) -> Close | None:
    """Return the close of a period; None while it is open."""
    row = connection.execute("SELECT seq, period, ends, root, seal FROM close WHERE period = ?", (period,)).fetchone()
    return Close(*row) if row else None


def last_close(connection: sqlite3.Connection) -> Close | None:
    """Return the last close; None before any."""
    row = connection.execute("SELECT seq, period, ends, root, seal FROM close ORDER BY seq DESC LIMIT 1").fetchone()
    return Close(*row) if row else None


def close_number(period: str) -> str:
    """Return what a close is called where tickets have their numbers; no ticket can bear such a one."""
    return period + _NUMBER_ENDS


def named(number: str) -> str:
    """Return what a person calls what bears a number: ``ticket M-000123``, ``the close of 2026-10``."""
    return f"the close of {number.removesuffix(_NUMBER_ENDS)}" if number.endswith(_NUMBER_ENDS) else f"ticket {number}"
