"""Proofs that anybody with SHA-256 can check against a printed seal, without the book: docs/reference/proof.md.

An inclusion proof shows that one record is in the log that a seal covers, and shows no other record. A consistency
proof shows that the log of one seal is the beginning of the log of a later one. Texts are as they are hashed.
"""

from __future__ import annotations

import sqlite3
from typing import Any, Final

from ledger.book.canonical import canonical_json
from ledger.book.closes import Close, close_of, closes
from ledger.book.intake.jsonl import decode
from ledger.book.log import leaves
from ledger.book.merkle import consistency_proof, consistent, inclusion_proof, root_from_inclusion, sides
from ledger.book.writing import log_entry
from ledger.refusals import BookUnusable, WrongUsage

_VERIFY: Final = "run: lemel verify"


def prove_ticket(connection: sqlite3.Connection, number: str, period: str | None = None) -> dict[str, Any]:
    """Return the proof that a ticket is under a seal: that of ``period``, or the first that covers it.

    Raises WrongUsage where there is no such ticket, or the seal does not cover it; BookUnusable where the book's own
    records do not lead to its seal.
    """
    row = connection.execute(
        "SELECT r.seq, r.kind, r.hash, r.recorded_at, r.recorded_by, r.body FROM ticket AS t "
        "JOIN record AS r ON r.seq = t.seq WHERE t.number = ?", (number,)
    ).fetchone()  # fmt: skip
    if row is None:
        raise WrongUsage(f"there is no ticket {number[:64]!r}", "check the number", field="TICKET")
    *record, body = row
    close = _covering(connection, record[0], number, period)
    of_log, index = leaves(connection, close.seq - 1), record[0] - 1
    path = inclusion_proof(of_log, index)
    if root_from_inclusion(of_log[index], index, len(of_log), path) != close.root:
        raise BookUnusable(f"the records do not lead to the seal of {close.period}", _VERIFY)
    steps = zip(sides(index, len(of_log)), path, strict=True)
    return {
        "proves": "inclusion", "ticket": number, "document": body, "record": log_entry(*record).decode(),
        "leaf_index": index, "tree_size": len(of_log),
        "path": [{"side": side, "hash": hash_.hex()} for side, hash_ in steps],
        "root": close.root.hex(), "head": _head(connection, close), "seal": close.line,
    }  # fmt: skip


def _covering(connection: sqlite3.Connection, record: int, number: str, period: str | None) -> Close:
    if period is not None:
        close = _close(connection, period)
        if close.seq <= record:
            raise WrongUsage(f"{number} was recorded after {period} was closed", "leave the period out", field="--seal")
        return close
    close_after = next((close for close in closes(connection) if close.seq > record), None)
    if close_after is None:
        raise WrongUsage(f"no seal covers {number} yet: it was recorded after the last close",
                         "prove it once the period is closed", field="TICKET")  # fmt: skip
    return close_after


def _close(connection: sqlite3.Connection, period: str) -> Close:
    close = close_of(connection, period)
    if close is None:
        raise WrongUsage(f"there is no seal of {period[:64]!r}: it is not closed", "give a closed period")
    return close


def prove_growth(connection: sqlite3.Connection, first: str, second: str) -> dict[str, Any]:
    """Return the proof that what the seal of one period covers was still the same when another was closed.

    Raises WrongUsage for a period that is not closed or not the earlier one; BookUnusable where the book's own records
    do not lead to its seals.
    """
    before, after = _close(connection, first), _close(connection, second)
    if after.seq < before.seq:
        raise WrongUsage(f"{first} was closed after {second}", "give the earlier period first")
    of_log, size = leaves(connection, after.seq - 1), before.seq - 1
    path = consistency_proof(of_log, size)
    if not consistent(size, len(of_log), before.root, after.root, path):
        raise BookUnusable(f"the seals of {first} and {second} are not of one log", _VERIFY)
    return {
        "proves": "consistency", "path": [hash_.hex() for hash_ in path],
        "first": {"size": size, "root": before.root.hex(), "head": _head(connection, before), "seal": before.line},
        "second": {"size": len(of_log), "root": after.root.hex(), "head": _head(connection, after),
                   "seal": after.line},
    }  # fmt: skip


def _head(connection: sqlite3.Connection, close: Close) -> str:
    (body,) = connection.execute("SELECT body FROM record WHERE seq = ?", (close.seq,)).fetchone()
    return canonical_json(decode(body.encode())["seal"]).decode()
