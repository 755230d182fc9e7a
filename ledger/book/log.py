"""The log of a book: every record in order, as the entries of one Merkle tree that only grows.

The entry of a record is its place, kind, hash, time of recording and user, in canonical JSON: `writing.log_entry`.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator

from ledger.book.merkle import Frontier, leaf_hash
from ledger.book.writing import log_entry


def entries(connection: sqlite3.Connection, after: int, until: int) -> Iterator[bytes]:
    """Yield the entries of the records after one and up to and with another, in order."""
    rows = connection.execute(
        "SELECT seq, kind, hash, recorded_at, recorded_by FROM record WHERE seq > ? AND seq <= ? ORDER BY seq",
        (after, until),
    )
    return (log_entry(*row) for row in rows)


def grow(tree: Frontier, connection: sqlite3.Connection, until: int) -> None:
    """Let a tree of the log's first records take those that follow, up to and with one."""
    for entry in entries(connection, tree.size, until):
        tree.append(leaf_hash(entry))


def leaves(connection: sqlite3.Connection, size: int) -> list[bytes]:
    """Return the leaf hashes of the log's first ``size`` records."""
    return [leaf_hash(entry) for entry in entries(connection, 0, size)]
