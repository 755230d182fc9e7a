"""Seals checked against a book as it stands: the log's root at each close, the head, and the chain of seals.

Read in one pass beside the records. What a forger changed in a record that is sealed leads to another root, whatever
hashes he made anew: then the seal no longer is the one on paper, and a seal left as it was no longer fits.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Mapping
from typing import Any, Final

from ledger.book.canonical import canonical_json, digest
from ledger.book.merkle import Frontier, leaf_hash
from ledger.book.seals import Head
from ledger.book.writing import log_entry
from ledger.refusals import LemelError

Wrong = Callable[[str], None]

_HEAD: Final = {
    "period": "its period", "first": "the first record since the last seal", "size": "the number of records before it",
    "root": "the root over the records before it", "previous": "the last seal", "close": "what the close says",
    "statements": "its statements", "setup": "the set-up in force",
}  # fmt: skip


class SealCheck:
    """Follows the records of a book, and compares each close with the head that follows from what came before."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self.connection = connection
        self.tree = Frontier()
        self.last: tuple[int, bytes] | None = None

    def take(self, seq: int, kind: str, hash_: bytes, at: str, by: str, document: Mapping[str, Any] | None,
             wrong: Wrong) -> None:  # fmt: skip
        """Take the next record, and tell what is wrong with its seal where it is a close."""
        if kind == "close" and document is not None:
            self._check(seq, document, wrong)
        self.tree.append(leaf_hash(log_entry(seq, kind, hash_, at, by)))

    def _check(self, seq: int, document: Mapping[str, Any], wrong: Wrong) -> None:
        content = {field: value for field, value in document.items() if field != "seal"}
        said = document.get("seal")
        row = self._row(seq)
        try:
            head = self._head(content, row[1] if row else None)
        except (LemelError, KeyError, TypeError, AttributeError, ValueError) as error:
            wrong(f"the close cannot be read: {error}")
            return
        right = head.document()
        for field, what in _HEAD.items():
            if not isinstance(said, dict) or said.get(field) != right[field]:
                wrong(f"the seal does not fit: {what} differs")
        if row is None or row[0] != head.period or row[2:] != (head.root, head.seal):
            wrong("period, root or seal in the table of closes is not that of its record")
        self.last = seq, head.seal

    def _row(self, seq: int) -> tuple[Any, ...] | None:
        found: tuple[Any, ...] | None = self.connection.execute(
            "SELECT period, ends, root, seal FROM main.close WHERE seq = ?", (seq,)
        ).fetchone()
        return found

    def _head(self, content: Mapping[str, Any], ends: int | None) -> Head:
        return Head(
            period=content["close"], first=self.last[0] if self.last else 1, size=self.tree.size,
            root=self.tree.root(), previous=self.last[1] if self.last else None,
            close=digest(canonical_json(dict(content))), statements=digest(canonical_json(content["statements"])),
            setup=self._setup(ends),
        )  # fmt: skip

    def _setup(self, ends: int | None) -> bytes:
        row = self.connection.execute(
            "SELECT document FROM main.setup_version WHERE since <= ? AND seq <= ? "
            "ORDER BY since DESC, seq DESC LIMIT 1",
            (ends if ends is None else ends - 1, self.tree.size),
        ).fetchone()
        return digest(row[0].encode("utf-8", "surrogateescape")) if row else b""
