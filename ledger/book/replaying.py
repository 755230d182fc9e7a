"""Replaying: records of a book, in their order, make the same book again in an empty one.

Whatever stands in the tables of a book follows from its records alone, so that `verify` can derive it a second time
and a copy of the records is a copy of the book.
"""

from __future__ import annotations

import sqlite3
from typing import Any

from ledger.book.closing import record_close
from ledger.book.entering import Entry, Stamp
from ledger.book.looking_up import NAMES, is_looking_up, record_looking_up
from ledger.book.merkle import Frontier
from ledger.book.opening import record_change, record_first_setup
from ledger.refusals import FormRefused, NumberTaken, Refused


class Replay:
    """Takes records into an empty book, inside the caller's transaction. `flush` writes what is gathered."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self.connection = connection
        self._entry: Entry | None = None
        self._log = Frontier()

    def take(self, kind: str, document: Any, stamp: Stamp) -> None:
        """Record one document again as it was recorded at first; raises LemelError when it cannot have been."""
        if not isinstance(document, dict):
            raise FormRefused("the body of a record is an object", "take the copy anew from the book")
        if kind == "setup":
            self._take_setup(document, stamp)
        elif kind == "ticket":
            self._take_ticket(document, stamp)
        elif kind == "close":
            self._take_close(document, stamp)
        else:
            raise Refused(f"a record of kind {kind!r} is not known to this version", "install a later version")

    def _take_setup(self, document: dict[str, Any], stamp: Stamp) -> None:
        if self._entry is not None and is_looking_up(document):
            record_looking_up(self._entry, document[NAMES], stamp)
            return
        if self._entry is None:
            record_first_setup(self.connection, document, stamp)
        else:
            self._entry.writer.flush()
            record_change(self.connection, document, stamp)
        self._entry = Entry(self.connection)

    def _take_ticket(self, document: dict[str, Any], stamp: Stamp) -> None:
        if self._opened().record(document, stamp) is None:
            raise NumberTaken("the same ticket is recorded before", "one of the two does not belong here")

    def _take_close(self, document: dict[str, Any], stamp: Stamp) -> None:
        content = {field: value for field, value in document.items() if field != "seal"}
        sealed = document.get("seal")
        if not isinstance(sealed, dict):
            raise FormRefused("the close bears no seal", "take the close anew from the book")
        record_close(self._opened(), content, stamp, tree=self._log, sealed=sealed)

    def _opened(self) -> Entry:
        if self._entry is None:
            raise Refused("the first record is not a set-up", "begin with the record the book was opened with")
        return self._entry

    @property
    def chain(self) -> bytes:
        """The running hash after the last record taken; empty before the first."""
        return self._entry.writer.chain if self._entry else b""

    def flush(self) -> None:
        """Write everything gathered."""
        if self._entry:
            self._entry.writer.flush()
