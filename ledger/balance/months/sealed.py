"""What a close said, beside the statement that it sealed: who closed, when, on which evidence, with which answers."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ledger.book.closes import Close
from ledger.quantities.mass import grams_text

#: No normal loss: nothing to show evidence for.
_NOTHING = grams_text(0)


@dataclass(frozen=True)
class Sealed:
    """A close as it was recorded; ``content`` is what it says."""

    close: Close
    recorded_at: str
    content: Mapping[str, Any]

    @staticmethod
    def read(connection: sqlite3.Connection, close: Close) -> Sealed:
        """Return what a close says."""
        row = connection.execute("SELECT recorded_at, body FROM record WHERE seq = ?", (close.seq,)).fetchone()
        return Sealed(close, row[0], json.loads(row[1]))

    def put_on(self, document: dict[str, Any]) -> dict[str, Any]:
        """Return a statement with what its close says: closed, by whom, and of each area evidence and answer."""
        closing = {"by": self.content["by"], "with": self.content["with"], "recorded_at": self.recorded_at,
                   "program": self.content["program"], "seal": self.close.line}  # fmt: skip
        areas = [self._area(area) for area in document["areas"]]
        return {**document, "closed": True, "close": closing, "areas": areas}

    def _area(self, area: dict[str, Any]) -> dict[str, Any]:
        code = area["area"]
        evidence, note = self.content["evidence"].get(code), self.content["notes"].get(code)
        reasons = list(area["reasons"])
        if area["allowed"] != _NOTHING:
            reasons.append(f"normal loss on evidence: {evidence}" if evidence else "normal loss without evidence")
        if note:
            reasons.append(f"answered at the close: {note}")
        return {**area, "reasons": reasons, "evidence": evidence, "note": note}
