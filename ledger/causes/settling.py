"""Settling a cause: the reversal and the corrected ticket, ready to enter, or the write-off to be signed for."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping
from copy import deepcopy
from typing import Any

from ledger.book.tickets.common import split_number
from ledger.refusals import WrongUsage


def settling(
    connection: sqlite3.Connection, row: Mapping[str, Any], mend: Mapping[str, Any] | None, by: str, at: str
) -> list[dict[str, Any]]:
    """Return the tickets that settle a cause: a reversal, and the corrected ticket where there is one.

    The reversal's reason begins with the family: confirmed causes are counted by it. Raises WrongUsage where the
    figures cannot say what the right ticket would be.
    """
    if mend is None:
        raise WrongUsage(
            f"nobody but a person can say what the right ticket would be: {row['cause']}",
            f"settle it first ({row['check']}); then enter the reversal and the right ticket, or write it off with "
            f"`lemel write-off`, cause {row['family']}, and the evidence",
        )
    document = _document(connection, mend["ticket"])
    numbers = _next_numbers(connection, mend["ticket"])
    reversal = {
        "ticket": next(numbers),
        "kind": "reverse",
        "at": at,
        "by": by,
        "of": mend["ticket"],
        "reason": f"{row['family']}: {row['cause']}",
    }
    if "set" not in mend:
        return [reversal]
    return [reversal, {**_corrected(document, mend), "ticket": next(numbers), "corrects": mend["ticket"]}]


def _document(connection: sqlite3.Connection, number: str) -> dict[str, Any]:
    row = connection.execute(
        "SELECT record.body FROM ticket AS t JOIN record ON record.seq = t.seq WHERE t.number = ?", (number,)
    ).fetchone()
    if row is None:
        raise WrongUsage(f"there is no ticket {number}", "run: lemel verify")
    found: dict[str, Any] = json.loads(row[0])
    return found


def _corrected(document: Mapping[str, Any], mend: Mapping[str, Any]) -> dict[str, Any]:
    found = deepcopy(dict(document))
    place: dict[str, Any] = found
    if mend.get("line"):
        lines = [*(found.get("in") or ()), *(found.get("out") or ())] if found["kind"] == "work" else found["lots"]
        place = lines[mend["line"] - 1]
    for name in mend.get("drop", ()):
        place.pop(name, None)
    place.update(mend["set"])
    return found


def _next_numbers(connection: sqlite3.Connection, like: str) -> Any:
    """Yield the next free numbers of a ticket's prefix."""
    prefix, _ = split_number(like)
    rows = connection.execute(
        "SELECT number FROM ticket WHERE number GLOB ?1 || '*' UNION ALL "
        "SELECT number FROM void_number WHERE number GLOB ?1 || '*'",
        (prefix,),
    )
    used = [(split_number(number), number) for (number,) in rows]
    counter = max(count for (own, count), _ in used if own == prefix)
    width = len(like) - len(prefix)
    while True:
        counter += 1
        yield f"{prefix}{counter:0{width}d}"
